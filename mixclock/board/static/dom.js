// Small helpers for the page. Text only ever goes in as text, so a name is never markup.

export const byId = (id) => document.getElementById(id);

/** Keep a time whole at the end of a line: "9:26 am" is never broken. */
const whole = (text) => String(text ?? "").replace(/(\d) (?=[ap]m\b)/g, "$1\u00a0");

/** An element with classes, text and attributes. */
export function el(tag, { cls, text, ...attributes } = {}, ...children) {
  const made = document.createElement(tag);
  if (cls) made.className = cls;
  if (text !== undefined && text !== null) made.textContent = whole(text);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value !== undefined && value !== null) made.setAttribute(name, value);
  }
  made.append(...children.filter(Boolean));
  return made;
}

/** The title over a part of a sheet. */
export const heading = (text) => el("h3", { cls: "title", text });

/** Change text only when it differs, so that nothing flickers and no screen reader repeats itself. */
export function say(element, text) {
  const said = whole(text);
  if (element && element.textContent !== said) element.textContent = said;
}

export function show(element, shown) {
  if (element.hidden === shown) element.hidden = !shown;
}

/**
 * Children by key: they are kept where the key stays, so that a finger on a button never loses it to a redraw.
 * `make` builds a child once, `update` fills it.
 */
export function keyed(parent, items, keyOf, make, update) {
  const old = new Map([...parent.children].map((child) => [child.dataset.key, child]));
  let place = parent.firstElementChild;
  for (const item of items) {
    const key = String(keyOf(item));
    let child = old.get(key);
    if (!child) {
      child = make(item);
      child.dataset.key = key;
    }
    old.delete(key);
    update(child, item);
    if (child === place) place = place.nextElementSibling;
    else parent.insertBefore(child, place);
  }
  for (const gone of old.values()) gone.remove();
}

const SETTLE_MS = 700;
const places = new WeakMap();

/** A button that changed or moved under a finger takes no touch for a moment: a second thumb must not state the next step. */
export function settleMoved(root) {
  const buttons = [...root.querySelectorAll("button.target, button.number")];
  const found = buttons.map(placeOf); // all are measured before one is changed: else the page is laid out for each
  for (const [row, button] of buttons.entries()) {
    const now = found[row];
    if (!now || isSame(places.get(button), now)) continue;
    places.set(button, now);
    button.classList.add("settling");
    clearTimeout(button.settles);
    button.settles = setTimeout(() => button.classList.remove("settling"), SETTLE_MS);
  }
}

/** What a button says and where it stands; null for one that is not on the page. */
function placeOf(button) {
  const box = button.getBoundingClientRect();
  const scrolled = scrollY + (button.closest(".sheet, .shout")?.scrollTop ?? 0); // by the finger itself, which follows it
  return box.width ? { what: `${button.dataset.key}|${button.textContent}`, top: box.top + scrolled, left: box.left } : null;
}

const MOVED_PX = 40;
const isSame = (was, now) => was?.what === now.what && Math.abs(was.top - now.top) < MOVED_PX && Math.abs(was.left - now.left) < MOVED_PX;

/** A button that states something, big enough for a glove. */
export function target(label, small, onclick, cls = "") {
  return el("button", { type: "button", cls: `target ${cls}`, onclick }, el("b", { text: label }), small ? el("small", { text: small }) : null);
}
