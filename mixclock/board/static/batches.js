// The live batches: where each is, what closes next, how long is left, and the likely next statement.

import { byId, el, keyed, say, show, target } from "./dom.js";
import { isWaiting } from "./queue.js";
import { batchSheet } from "./sheets.js";
import { stateAndTell } from "./stating.js";
import { store, wanted, isMine } from "./store.js";
import { byWhen, clock, fromWhen, left, opens, untilMs } from "./when.js";

function make(card) {
  const tile = el("button", { type: "button", cls: "number", onclick: () => batchSheet(made.card) },
    el("span", { cls: "unseen", text: "Batch " }), el("b"), el("small", { text: "details" }));
  const made = el("li", { cls: "card" }, tile,
    el("div", { cls: "about" }, el("p", { cls: "place" }), el("p", { cls: "closing" }), el("p", { cls: "remain" }), el("p", { cls: "stuff" })),
    el("div", { cls: "does" }), el("div", { cls: "ebb", "aria-hidden": "true" }, el("i")));
  made.card = card;
  return made;
}

function update(item, card) {
  item.card = card;
  item.dataset.urgency = urgency(card);
  say(item.querySelector(".number b"), String(card.id));
  say(item.querySelector(".place"), card.where || "no area");
  item.toggleAttribute("data-first", Boolean(card.told));
  const pending = card.next && isWaiting(card.next.statement);
  say(item.querySelector(".closing"), pending ? `${card.next.label}: waits on this phone` : closing(card));
  say(item.querySelector(".remain"), card.closes && !pending ? left(card.closes.at) : "");
  say(item.querySelector(".stuff"), stuff(card));
  const next = card.next && !pending ? [card.next] : [];
  keyed(item.querySelector(".does"), next, (each) => JSON.stringify(each.statement),
    (each) => target(each.label, `batch ${card.id}`, () => stateAndTell(each.statement, each.label, `batch ${card.id}`), "main"), () => undefined);
  ebb(item, card);
}

const closing = (card) => {
  if (card.told) return [`${card.told.label} ${clock(card.told.at)}`, card.told.by].filter(Boolean).join(", ");
  if (card.closes) return `${card.closes.do} ${byWhen(card.closes)}`;
  return card.waits ? `${card.waits.do}${card.waits.no_date ? ":" : ""} ${fromWhen(card.waits)}` : "nothing closes";
};

function stuff(card) {
  const on = card.began?.by ? `${card.began.by} is on it` : null;
  return [card.stage_words, card.amount, card.grit, card.product, card.who, on].filter(Boolean).join(" · ");
}

function urgency(card) {
  if (!card.closes) return "none";
  const ms = untilMs(card.closes.at);
  if (ms < 0) return "late";
  return ms < 120000 || card.closes.state === "closing" ? "soon" : "time";
}

/** A level that sinks with the time left: it shows once more what the words say. */
function ebb(item, card) {
  const level = item.querySelector(".ebb i");
  const closes = card.windows.find((window) => window.closes && window.closes.early === card.closes?.at);
  const used = closes?.used_pct;
  show(item.querySelector(".ebb"), used !== null && used !== undefined);
  if (used !== null && used !== undefined) level.style.width = `${Math.max(0, Math.min(100, 100 - used))}%`;
}

const ALONE = 4;
const opened = new Set();

/** The most urgent batches have a card each. Of the others, those with the same next step share a line. */
function grouped(cards) {
  if (cards.length <= ALONE + 1) return cards;
  const rest = new Map();
  for (const card of cards.slice(ALONE)) {
    const what = card.closes?.do ?? card.waits?.do ?? card.stage_words;
    rest.set(what, [...(rest.get(what) ?? []), card]);
  }
  const lines = [...rest].flatMap(([what, alike]) => (alike.length === 1 ? alike : [{ id: `group ${what}`, what, alike }, ...(opened.has(what) ? alike : [])]));
  return [...cards.slice(0, ALONE), ...lines];
}

/** "1–4, 7": the numbers of batches as a person would write them. */
function numbers(cards) {
  const ids = cards.map((card) => card.id).sort((one, other) => one - other);
  const runs = [];
  for (const id of ids) {
    const run = runs.at(-1);
    if (run && run[1] === id - 1) run[1] = id;
    else runs.push([id, id]);
  }
  return runs.map(([from, to]) => (from === to ? `${from}` : `${from}–${to}`)).join(", ");
}

function makeGroup({ what }) {
  const touch = () => {
    if (!opened.delete(what)) opened.add(what);
    drawBatches();
  };
  return el("li", { cls: "group" }, el("button", { type: "button", cls: "target", onclick: touch }, el("b"), el("small")));
}

function updateGroup(row, { what, alike }) {
  const first = alike.find((card) => card.closes);
  const last = alike.map((card) => card.waits?.at).filter(Boolean).sort().at(-1);
  const when = first ? byWhen(first.closes) : last ? `from ${opens(last)}` : "";
  say(row.querySelector("b"), [`${what}: batches ${numbers(alike)}`, when].filter(Boolean).join(", "));
  say(row.querySelector("small"), opened.has(what) ? "touch to fold" : "touch for each");
}

/** Draw the cards of the batches that are wanted: mine, or everybody's. */
export function drawBatches() {
  const view = store.view;
  const cards = wanted(view?.batches ?? []);
  keyed(byId("cards"), grouped(cards), (card) => card.id, (card) => (card.alike ? makeGroup(card) : make(card)), (row, card) => (card.alike ? updateGroup(row, card) : update(row, card)));
  show(byId("no-batches"), cards.length === 0);
  const hidden = (view?.batches ?? []).length - cards.length;
  say(byId("no-batches"), hidden > 0 ? `No batch is ${store.holder}'s. ${hidden} under Everything.` : "No batch is live.");
  say(byId("batches-title"), cards.length > 1 ? `${cards.length} batches` : "Batches");
  say(byId("mine"), store.holder ? `${store.holder}` : "Mine");
  byId("mine").setAttribute("aria-pressed", String(store.onlyMine));
  byId("everything").setAttribute("aria-pressed", String(!store.onlyMine));
}

/** The bucket that "it's out" would mean: this person's own first, the most urgent in front. */
export function buckets() {
  const cards = (store.view?.batches ?? []).filter((card) => card.in_bucket && !(card.next && isWaiting(card.next.statement)));
  const own = cards.filter(isMine);
  return own.length ? own : cards;
}
