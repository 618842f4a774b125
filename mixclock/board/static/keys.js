// Without a mouse: a pedal or keypad that types one key states the next step; letters reach the bar.

import { agenda } from "./now.js";
import { flash, stateAndTell } from "./stating.js";
import { keep, kept, store } from "./store.js";

let learning = null;
let lastPerf = -1e9;
const BOUNCE_MS = 1500;

/** The key that states the next step: this device's own, else the one that the laptop was started with. */
export const pedalName = () => kept("pedal", null) ?? store.view?.step_key ?? null;

/** The next key that is pressed becomes the pedal; null stops listening. */
export function learnPedal(told) {
  learning = told;
}

export const forgetPedal = () => keep("pedal", null);

const NEVER = ["Tab", "Escape", "Shift", "Control", "Alt", "Meta", "ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"];

/** What the pedal would state now. */
export const pedalStep = () => agenda().find((item) => item.done?.statement) ?? null;

/** Handle keys for the whole page; `acts` are the bar's and the sheets' own. */
export function listenForKeys(acts) {
  document.addEventListener("keydown", (event) => {
    if (learning && !NEVER.includes(event.key)) {
      event.preventDefault();
      keep("pedal", event.key);
      learning(event.key);
      return;
    }
    if (event.key === pedalName()) {
      event.preventDefault();
      if (!event.repeat) press();
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
  if (!item) {
    flash("The pedal has nothing to state now.");
    return;
  }
  stateAndTell(item.done.statement, item.done.label, item.where);
}
