// Sheets that slide over the board, never over the bar: starting a batch, whose bucket is out, one batch's details.

import { byId, el, heading, say, settleMoved, show, target } from "./dom.js";
import { kitWarning } from "./kit.js";
import { patternMs, play, speak } from "./sound.js";
import { spotSheet } from "./spot.js";
import { stateAndTell } from "./stating.js";
import { changed, store, isMine } from "./store.js";
import { clock, clockSeconds, serverNow, unsureSpan } from "./when.js";

const REMIND_MS = 15000;
let counting = null;
let usedMs = -1e9;
let openedFrom = null;
let onClosed = () => undefined;

/** Open a sheet with a title and children. */
export function openSheet(title, children, onClose = () => undefined) {
  closeSheet(false);
  openedFrom = document.activeElement;
  onClosed = onClose;
  say(byId("sheet-title"), title);
  byId("sheet-body").replaceChildren(...children.filter(Boolean));
  show(byId("sheet"), true);
  byId("sheet").scrollTop = 0;
  usedMs = performance.now();
  settleMoved(byId("sheet"));
  changed();
  byId("sheet-title").focus({ preventScroll: true });
}

/** Note that a finger or a key is at work in the sheet. */
export function useSheet() {
  usedMs = performance.now();
}

/** Whether somebody has opened or used a sheet since then and has not left it alone. */
export const sheetIsUsed = (sinceMs) => !byId("sheet").hidden && usedMs > sinceMs && performance.now() - usedMs < store.view.table.repeat_ms;

export function closeSheet(giveBack = true) {
  clearInterval(counting);
  counting = null;
  const wasOpen = !byId("sheet").hidden;
  show(byId("sheet"), false);
  onClosed();
  onClosed = () => undefined;
  if (wasOpen && giveBack && openedFrom?.isConnected) openedFrom.focus({ preventScroll: true });
}

/**
 * The first touch says that B went into A now, the second for which batch. Without the second nothing is stated: the
 * page asks again, aloud.
 */
export function mixingSheet() {
  const at = serverNow();
  const planned = [...(store.view?.planned ?? [])].sort((one, other) => Number(isMine(other)) - Number(isMine(one)));
  const choose = (statement, label) => {
    closeSheet();
    stateAndTell(statement, store.view.table.mix.label, label, { atMs: at });
  };
  const words = (plan) => [plan.amount, plan.product, plan.where].filter(Boolean).join(", ");
  const buttons = planned.map((plan, place) => target(plan.where || plan.product, `${plan.amount} ${plan.product}${plan.who ? `, ${plan.who}` : ""}`,
    () => choose(plan.statement, words(plan)), place === 0 ? "main wide" : "wide"));
  const count = el("p", { cls: "count", role: "status" });
  const mistake = target("No, a mistake", "nothing is stated", () => closeSheet(), "wide");
  const other = target("Another batch", "choose coat, area, amount", () => otherBatch(at), "wide");
  openSheet(`B is in at ${clockSeconds(at)}. Which batch?`, [kitWarning(), count, ...buttons, other, smallMix(at), mistake]);
  if (!planned.length) return otherBatch(at);
  say(count, "Nothing is stated until you choose. The time is that of your first touch.");
  counting = setInterval(() => remind(count), REMIND_MS);
  return undefined;
}

function remind(line) {
  const words = "Is B in? Touch which batch, or: a mistake.";
  say(line, words);
  play("timely", "bucket");
  speak(words, patternMs("timely", "bucket"), false);
}

const smallMix = (at) => target("A small mix", "patch, cove, second pass", () => spotSheet(at), "wide");

/** A batch that is not in the plan: coat, area and amount by large targets. */
function otherBatch(at) {
  const coats = store.view?.coats ?? [];
  if (!coats.length) {
    openSheet("No coat is known", [el("p", { text: "No job is in use, or its file names no coat. On the laptop: mixclock job start FILE." })]);
    return;
  }
  const chosen = { coat: coats[0], areas: new Set(), amount: coats[0].gauge.start };
  const amount = el("output", { cls: "amount" });
  const state = target("State it", "", () => sayOther(chosen, at), "main wide");
  const areas = choices(store.view.areas, (name) => chosen.areas.has(name), (name) => toggle(chosen.areas, name, draw));
  const coatRow = choices(coats.map((coat) => `${coat.name}: ${coat.product}`), (name) => name.startsWith(`${chosen.coat.name}: `), (name) => {
    chosen.coat = coats.find((coat) => name === `${coat.name}: ${coat.product}`);
    chosen.amount = chosen.coat.gauge.start;
    draw();
  });
  const step = (ways) => { chosen.amount = Math.max(chosen.coat.gauge.least, chosen.amount + ways * chosen.coat.gauge.step); draw(); };
  const stepper = el("div", { cls: "stepper" }, target("−", "less", () => step(-1)), amount, target("+", "more", () => step(1)));
  function draw() {
    say(amount, `${chosen.amount} ${chosen.coat.gauge.unit}`);
    state.disabled = chosen.areas.size === 0;
    say(state.querySelector("small"), chosen.areas.size ? [...chosen.areas].join(", ") : "touch an area first");
  }
  openSheet(`B is in at ${clockSeconds(at)}`, [kitWarning(), heading("Coat"), coatRow, heading("Area"), store.view.areas.length ? areas : el("p", { text: "The job names no areas." }),
    heading("Amount"), stepper, state, smallMix(at), target("No, a mistake", "nothing is stated", () => closeSheet(), "wide")]);
  draw();
}

/** The figure chosen on a gauge, as it is stated. The laptop sends the factor of its unit. */
export const own = (gauge, value) => Math.round(1000 * (value - gauge.zero) * gauge.per) / 1000;

function sayOther(chosen, at) {
  const { gauge } = chosen.coat;
  const amount = { [gauge.key]: own(gauge, chosen.amount) };
  closeSheet();
  const { verb, label } = store.view.table.mix;
  stateAndTell({ verb, product: chosen.coat.product, areas: [...chosen.areas], coat: chosen.coat.name, ...amount }, label, [...chosen.areas].join(", "), { atMs: at });
}

function toggle(set, name, then) {
  if (!set.delete(name)) set.add(name);
  then();
}

/** A row of buttons, some of them pressed. */
export function choices(names, isOn, touched) {
  const row = el("div", { cls: "choices", role: "group" });
  const draw = () => [...row.children].forEach((button) => button.setAttribute("aria-pressed", String(isOn(button.textContent))));
  const touch = (name) => () => {
    touched(name);
    draw();
  };
  row.append(...names.map((name) => el("button", { type: "button", cls: "choice", text: name, onclick: touch(name) })));
  draw();
  return row;
}

/** Several buckets are full: which one was poured? The instant is that of the first touch. */
export function outSheet(cards) {
  const at = serverNow();
  const { verb, label } = store.view.table.pour;
  openSheet(`${label} at ${clockSeconds(at)}. Which batch?`, cards.map((card, place) => target(`Batch ${card.id}`, `${card.where}, ${card.amount} ${card.product}`, () => {
    closeSheet();
    stateAndTell({ verb, batch: card.id }, label, `batch ${card.id}`, { atMs: at });
  }, place === 0 ? "main wide" : "wide")));
}

/** One batch: every statement that can be made, now or minutes ago, and why its times are what they are. */
export function batchSheet(card) {
  const at = serverNow();
  let agoMin = 0;
  const when = choices(["now", "2 min ago", "5 min ago", "10 min ago"], (name) => name === (agoMin ? `${agoMin} min ago` : "now"), (name) => {
    agoMin = parseInt(name, 10) || 0;
  });
  const say_ = (each) => () => {
    closeSheet();
    stateAndTell(each.statement, each.label, `batch ${card.id}`, agoMin ? { atMs: at, agoMs: 60000 * agoMin } : {});
  };
  const on = card.next ? [{ label: "On it", statement: { verb: "began", step: card.next.step, batch: card.id } }] : [];
  const buttons = [...(card.next ? [card.next] : []), ...on, ...card.others].map((each, place) => target(each.label, "", say_(each), place === 0 ? "main" : ""));
  openSheet(`Batch ${card.id}, ${card.where || "no area"}`, [
    el("p", { cls: "quiet", text: [card.amount, card.grit, card.product, card.stage_words, card.mixed_at ? `B in at ${clock(card.mixed_at)}` : ""].filter(Boolean).join(" · ") }),
    heading("When"), when, el("div", { cls: "targets" }, ...buttons), heading("Its windows"), el("ul", { cls: "windows" }, ...card.windows.map(windowRow)),
  ]);
}

function windowRow(window) {
  const edge = (words, told) => (told ? `${words} ${clock(told.early)}, likely ${clock(told.likely)}, ${told.late ? `late ${clock(told.late)}` : "no late time may be claimed"}` : "");
  const name = window.area ? `${window.name}, ${window.area}` : window.name;
  const edges = window.unsure ? [unsureSpan(window.opens.likely, window.closes.likely)] : [edge("opens", window.opens), edge("closes", window.closes)];
  const used = window.used_pct === null ? "" : `${window.used_pct} % used`;
  return el("li", {}, el("b", { text: `${name}: ${window.state}` }), ...[window.no_date, ...edges, used, ...window.because, ...window.assumed.map((each) => `assumed: ${each}`)]
    .filter(Boolean).map((text) => el("span", { text })));
}
