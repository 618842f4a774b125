// Works without a mouse: a pedal or keypad that types one key states the next step, and letters press the bar.

import { confirmed, tellByEar, whatIsNext } from "./ear.js";
import { agenda } from "./now.js";
import { isWaiting } from "./queue.js";
import { flash, stateAndTell, undo } from "./stating.js";
import { keep, kept, store } from "./store.js";

let learning = null;
let lastPerf = -1e9;
const BOUNCE_MS = 1500;
const HOLD_MS = 700;
const HOLD_AGAIN_MS = 12000;
let holding = null;
let heldLong = false;
let holdsInARow = 0;
let heldPerf = -1e9;
let last = null;

/** The key that states the next step: this device's own, else the one that the laptop was started with. */
export const pedalName = () => kept("pedal", null) ?? store.view?.step_key ?? null;

/** The next key that is pressed becomes the pedal; null stops listening. */
export function learnPedal(told) {
  learning = told;
}

/** A key's name for a person: the space bar types nothing that can be seen. */
export const keyNamed = (key) => (key === " " ? "Space" : key);

export const forgetPedal = () => keep("pedal", null);

const NEVER = ["Tab", "Escape", "Shift", "Control", "Alt", "Meta", "ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"];

/** What the pedal would state now. For a call that no statement ends that is its batch's next step. */
export function pedalStep() {
  for (const item of agenda()) {
    if (item.done?.statement) return item;
    const done = store.view?.batches.find((card) => card.id === item.batch)?.next;
    const hot = item.kind === "critical" && item.alert?.kind === "bucket";
    if (done && !isWaiting(done.statement)) return { ...item, done, stage: hot ? "lost" : item.stage };
  }
  return null;
}

/** A short press states. A long one only speaks; it is recognised while the foot is still down. */
function pedalDown() {
  clearTimeout(holding);
  heldLong = false;
  holding = setTimeout(() => { heldLong = true; hold(); }, HOLD_MS);
}

function pedalUp() {
  clearTimeout(holding);
  if (!heldLong) press();
}

/** Whether a key goes into a field: then it is no pedal, and does not reach the bar. */
const isTyping = (event) => Boolean(event.target.closest?.("input, textarea, select"));

/** Handle keys for the whole page. `acts` holds what the bar and the sheets do. */
export function listenForKeys(acts) {
  document.addEventListener("keyup", (event) => {
    if (event.key !== pedalName() || learning || isTyping(event)) return;
    event.preventDefault(); // else the browser also presses the focused button
    pedalUp();
  });
  document.addEventListener("keydown", (event) => {
    if (isTyping(event)) return;
    if (learning && !NEVER.includes(event.key)) {
      event.preventDefault();
      keep("pedal", event.key);
      learning(event.key);
      return;
    }
    if (event.key === pedalName()) {
      event.preventDefault();
      if (!event.repeat) pedalDown();
      return;
    }
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat) return;
    const act = acts[event.key];
    if (act) {
      event.preventDefault();
      act();
    }
  });
}

function press() {
  const now = performance.now();
  if (now - lastPerf < BOUNCE_MS) return;
  lastPerf = now;
  const item = pedalStep();
  if (!item) return sayAndShow("The pedal has nothing to state now.");
  if (!isForPedal(item)) return sayAndShow(`Not by pedal: ${item.done.label}, ${item.where}. Look at the board.`);
  const tap = stateAndTell(item.done.statement, item.done.label, item.where);
  if (tap) {
    last = { tap, words: confirmed(item.done.label, item, tap.serverMs) };
    tellByEar(last.words);
  }
  return undefined;
}

/** Whether the pedal may state it. Mixing, dumping and a late pour need eyes and a finger. */
function isForPedal(item) {
  const { mix, dump } = store.view.table;
  return ![mix.verb, dump.verb].includes(item.done.statement.verb) && item.stage !== "lost";
}

/** Held once it says what is next; held again, what could be taken back. A third hold takes it back. */
function hold() {
  const now = performance.now();
  holdsInARow = now - heldPerf < HOLD_AGAIN_MS ? holdsInARow + 1 : 1;
  heldPerf = now;
  if (holdsInARow === 1) return sayAndShow(whatIsNext());
  if (!last) return sayAndShow("Nothing was stated by this pedal.");
  if (holdsInARow === 2) return sayAndShow(`Hold once more to take back: ${last.words}`);
  holdsInARow = 0;
  const taken = last;
  last = null;
  return undo(taken.tap).then((done) => sayAndShow(done ? `Taken back: ${taken.words}` : "Not taken back."));
}

function sayAndShow(words) {
  tellByEar(words);
  flash(words, 6000);
}
