// Taps: kept on this phone until the laptop has them, each with its own time, each stated once.

import { post, onRecovered } from "./link.js";
import { changed, changedSoon, keep, kept, raw, store } from "./store.js";
import { serverNow, skewKnown } from "./when.js";

const NAME = "taps";
const DOUBLED_MS = 2500;
const BLINK_MS = 150;
let sending = false;
const answered = [];

export const onAnswer = (listener) => answered.push(listener);

function put(taps) {
  keepTaps(taps);
  changedSoon();
}

function keepTaps(taps) {
  if (!keep(NAME, taps)) memory = taps;
}

let memory = null;
let parsed = { text: "", taps: [] };

/** The taps on this phone. They are read anew only when they changed, perhaps by another tab of this phone. */
function all() {
  if (memory) return memory;
  const text = raw(NAME);
  if (text !== parsed.text) parsed = { text, taps: kept(NAME, []) };
  return parsed.taps;
}

function newKey() {
  const random = crypto.getRandomValues(new Uint8Array(12));
  return [...random].map((each) => each.toString(16).padStart(2, "0")).join("");
}

const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);
let latest = { statement: null, perf: -1e9 };

/** State something. A second tap on the same within moments does not count. Gives the tap, or null for such a double. */
export function state(statement, { agoMs = 0, atMs = null, label = "" } = {}) {
  const perf = performance.now();
  if (same(statement, latest.statement) && perf - latest.perf < DOUBLED_MS) return null;
  latest = { statement, perf };
  const phoneMs = (atMs === null ? Date.now() : Date.now() - (serverNow() - atMs)) - agoMs;
  const tap = { key: newKey(), statement, label, by: store.holder, job: store.view?.job ?? null, phoneMs, serverMs: (atMs ?? serverNow()) - agoMs, dated: skewKnown() };
  keepTaps([...all(), tap]);
  send();
  drawIfItStays();
  return tap;
}

/** Tell the laptop something that is no statement of the job. It waits here, with the time of the touch, until it is sent. */
export function tellLater(path, said, label) {
  const tap = { key: newKey(), path, said, statement: { verb: path, ...said }, label, phoneMs: Date.now(), serverMs: serverNow(), dated: skewKnown() };
  keepTaps([...all(), tap]);
  send();
  drawIfItStays();
}

/** What the laptop has within a blink never shows as waiting: a line that comes and goes moves the page under a finger. */
function drawIfItStays() {
  setTimeout(() => all().length && changed(), BLINK_MS);
}

export function forgetDouble() {
  latest = { statement: null, perf: -1e9 };
}

/** Whether a statement about this step of this batch waits on this phone. */
export function isWaiting(statement) {
  return all().length > 0 && all().some((tap) => same(tap.statement, statement));
}

export const waitingCount = () => all().length;

/** Take back a tap: out of the queue if it is still here, else withdrawn from the book. */
export async function takeBack(tap) {
  forgetDouble();
  if (!tap.entry && all().some((each) => each.key === tap.key) && !sending) {
    put(all().filter((each) => each.key !== tap.key));
    return { ok: true };
  }
  if (!tap.entry) return { ok: false, refused: "it is on its way; take it back from the list under More" };
  return post("/take-back", { entry: tap.entry, job: tap.job ?? null });
}

/** Send what waits, oldest first, one at a time. Two tabs may both send a tap: its key makes it count once. */
export async function send() {
  if (sending) return;
  sending = true;
  try {
    while (all().length) {
      const [tap] = all();
      const told = await post(tap.path ?? "/state", body(tap));
      if (told.status === 401) break;
      if (told.status >= 500 || told.status === 429) break;
      put(all().filter((each) => each.key !== tap.key));
      for (const listener of answered) listener(tap, told);
    }
  } catch {
    // nobody there: the taps stay here until the line is back
  } finally {
    sending = false;
  }
}

function body(tap) {
  const agoS = Math.max(0, (Date.now() - tap.phoneMs) / 1000);
  const sent = { ...(tap.path ? tap.said : { key: tap.key, statement: tap.statement }), ago_s: Math.min(agoS, 604000) };
  if (tap.by) sent.by = tap.by; // whoever held the phone then
  if (tap.job) sent.job = tap.job; // what the page showed then
  if (tap.dated) sent.at = new Date(tap.serverMs).toISOString();
  return sent;
}

onRecovered(send);
setInterval(() => all().length && send(), 3000);
