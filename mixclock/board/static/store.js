// What the page knows: the newest view, who holds the phone, what is meant for them.

/** Who holds a phone that only looks; nothing is meant for it alone. */
export const OFFICE = "the office";

const listeners = [];

export const store = {
  view: null,
  phone: null,
  holder: null,
  onlyMine: false,
  heardHere: new Map(),
  trouble: null,
};

export function onChange(listener) {
  listeners.push(listener);
}

export function changed() {
  for (const listener of listeners) listener();
}

let isSoon = false;

/** Draw with the next frame: what was touched is on its way before. A page that nobody sees has no frames. */
export function changedSoon() {
  if (isSoon) return;
  isSoon = true;
  const now = () => {
    isSoon = false;
    changed();
  };
  if (document.visibilityState === "visible") requestAnimationFrame(now);
  else setTimeout(now);
}

const firsts = [];

/** Listen for what was just stated: it is drawn before all else. */
export function onFirst(listener) {
  firsts.push(listener);
}

/** Something was stated: draw it, and the rest of the page once that is on the glass. */
export function changedFirst() {
  for (const listener of firsts) listener();
  if (document.visibilityState === "visible") requestAnimationFrame(() => setTimeout(changed));
  else changed();
}

/** Keep a value on this phone. A browser that forbids it still shows the board. */
export function keep(name, value) {
  try {
    if (value === null) localStorage.removeItem(`mixclock.${name}`);
    else localStorage.setItem(`mixclock.${name}`, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

/** The text as it is kept, to see whether it changed. */
export function raw(name) {
  try {
    return localStorage.getItem(`mixclock.${name}`);
  } catch {
    return null;
  }
}

export function kept(name, otherwise) {
  try {
    return JSON.parse(localStorage.getItem(`mixclock.${name}`)) ?? otherwise;
  } catch {
    return otherwise;
  }
}

/** Whether something is for the person who holds this phone: theirs, or everybody's. */
export const isMine = (thing) => !store.holder || store.holder === OFFICE || !thing.who || thing.who === store.holder;

export const wanted = (things) => (store.onlyMine ? things.filter(isMine) : things);
