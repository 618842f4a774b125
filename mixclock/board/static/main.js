// The page: joins the line, the drawing, the alarms and the taps.

import { standing, isHeard, tick } from "./alarm.js";
import { awakeBy, couldNot, keepAwake } from "./awake.js";
import { buckets, drawBatches } from "./batches.js";
import { byId, el, keyed, say, settleMoved } from "./dom.js";
import { said } from "./ear.js";
import { listenForKeys, pedalName, pedalStep } from "./keys.js";
import { kitSheet } from "./kit.js";
import { drawLater } from "./later.js";
import { askOnce, connect, contactAgeMs, contactState, pairFromAddress } from "./link.js";
import { cupSheet, moreSheet, questionSheet, soundSheet, useLooks, whoSheet } from "./more.js";
import { drawNow, onScreen } from "./now.js";
import { send, waitingCount } from "./queue.js";
import { closeSheet, mixingSheet, outSheet, useSheet } from "./sheets.js";
import { onSoundChange, patternOf, played, soundIsOn, wakeSound } from "./sound.js";
import { flash, hear, stateAndTell } from "./stating.js";
import { changed, kept, OFFICE, onChange, onFirst, store } from "./store.js";
import { serverNow, skew, span, watchOwnClock } from "./when.js";

function drawStrip() {
  say(byId("job"), store.view?.job ?? "mixclock");
  const state = contactState();
  const contact = byId("contact");
  contact.dataset.state = state;
  const age = `${Math.round(contactAgeMs() / 1000)} s`;
  const words = { none: "looking for the laptop", ok: awakeBy() ? "laptop in touch, screen on" : "laptop in touch", amber: `laptop silent for ${age}`, red: `laptop silent for ${span(contactAgeMs())}: this phone keeps the deadlines` };
  say(byId("contact-words"), words[state]);
  say(byId("who"), store.holder ?? "Who holds this?");
  byId("more").setAttribute("aria-expanded", String(!byId("sheet").hidden));
}

function notices() {
  const found = [];
  const power = store.view?.power;
  if (!soundIsOn()) found.push(["sound", couldNot() ? "Sound is off: touch here. A locked phone is silent." : "Sound is off: touch here.", wakeSound]);
  else if (couldNot()) found.push(["awake", "This browser lets the screen go dark: a locked phone is silent. Set its screen to stay on.", keepAwake]);
  if (waitingCount()) found.push(["taps", `${waitingCount()} on this phone, not yet in the book. Keep this page open.`, send]);
  if (power?.on_battery) found.push(["power", `The laptop runs on its battery${power.charge_pct === null ? "" : `, ${power.charge_pct} % left`}. Plug it in.`]);
  for (const asked of store.view?.questions ?? []) found.push([`question-${asked.entry}`, `? ${asked.text}`, () => questionSheet(asked.entry)]);
  for (const cup of store.view?.cups ?? []) found.push([`cup-${cup.began}`, `? ${cup.text}`, () => cupSheet(cup.began)]);
  if (store.trouble) found.push(["trouble", store.trouble]);
  if (store.view?.job && !store.view.batches.length && !checkedLately()) found.push(["check", `Before the first batch: sound check, to the far corner. ${store.view.table.dump_spot}`, soundSheet]);
  const step = pedalName() && pedalStep();
  if (step) found.push(["pedal", `Pedal: ${step.done.label}, ${step.where}`]);
  return found;
}

const checkedLately = () => Date.now() - kept("checked", 0) < 12 * 3600 * 1000;

function drawNotices() {
  keyed(byId("notices"), notices(), ([name]) => name, ([name, , act]) => (act ? el("button", { type: "button", cls: `notice ${name}`, onclick: act }) : el("p", { cls: `notice ${name}` })), (row, [, words]) => say(row, words));
}

function drawBar() {
  const full = buckets();
  const first = store.view?.planned[0];
  const loud = standing().filter((alert) => !isHeard(alert));
  const shown = onScreen();
  if (store.view) {
    say(byId("bar-in").querySelector("b"), store.view.table.mix.label);
    say(byId("bar-out").querySelector("b"), store.view.table.pour.label);
  }
  say(byId("bar-in-what"), first ? [first.amount, first.where].filter(Boolean).join(", ") : "start a batch");
  say(byId("bar-out-what"), full.length === 1 ? `batch ${full[0].id}` : full.length ? `${full.length} buckets` : "no bucket");
  say(byId("bar-heard-what"), hearWords(shown.length, loud.length));
  byId("bar-heard").dataset.loud = String(loud.length > 0);
}

/** "Heard" covers the calls on the screen. Those that wait behind it are counted. */
function hearWords(shown, loud) {
  if (!loud) return "nothing to hear";
  if (!shown) return `${loud} not in sight`;
  return loud > shown ? `${shown} here, ${loud - shown} more` : `${shown} to hear`;
}

function poured() {
  const full = buckets();
  const { mix, pour } = store.view?.table ?? {};
  if (!full.length) flash(`No batch is in a bucket.${mix ? ` Touch ${mix.label} when part B goes in.` : ""}`);
  else if (full.length === 1) stateAndTell({ verb: pour.verb, batch: full[0].id }, pour.label, `batch ${full[0].id}`);
  else outSheet(full);
}

function heardAll() {
  const shown = onScreen();
  if (shown.length) hear(shown);
  else if (!standing().some((alert) => !isHeard(alert))) flash("Nothing to hear.");
  else if (byId("sheet").hidden) window.scrollTo({ top: 0, behavior: "smooth" });
  else flash("A call stands behind this sheet. Close the sheet, read it, then touch Heard.");
}

let heldSince = null;

/** Move nothing while a finger is down, so that it lands on what it aimed at. */
function watchFingers() {
  document.addEventListener("pointerdown", () => { heldSince = performance.now(); }, { capture: true });
  for (const event of ["pointerup", "pointercancel"]) document.addEventListener(event, () => setTimeout(() => { heldSince = null; draw(); }, 80), { capture: true });
}

const isHeld = () => heldSince !== null && performance.now() - heldSince < 1500;

/** What was just stated stands on its card before the rest of the page is drawn. */
function drawFirst() {
  if (isHeld()) return;
  drawBatches();
  settleMoved(byId("cards"));
}

export function draw() {
  if (isHeld()) return;
  drawStrip();
  drawNow();
  drawBatches();
  drawLater();
  drawBar();
  drawNotices();
  settleMoved(document.body);
}

function onlyMine(wantedMine) {
  if (wantedMine && !store.holder) {
    whoSheet();
    return;
  }
  store.onlyMine = wantedMine;
  changed();
}

function listen() {
  byId("bar-in").addEventListener("click", mixingSheet);
  byId("bar-out").addEventListener("click", poured);
  byId("bar-heard").addEventListener("click", heardAll);
  byId("more").addEventListener("click", moreSheet);
  byId("urgent").addEventListener("click", () => window.scrollTo({ top: 0, behavior: "smooth" }));
  byId("who").addEventListener("click", whoSheet);
  byId("sheet-close").addEventListener("click", () => closeSheet());
  for (const event of ["pointerdown", "keydown"]) byId("sheet").addEventListener(event, () => document.body.classList.contains("asking") && useSheet());
  byId("mine").addEventListener("click", () => onlyMine(true));
  byId("everything").addEventListener("click", () => onlyMine(false));
  for (const event of ["click", "keydown"]) document.addEventListener(event, () => { wakeSound(); keepAwake(); }, { capture: true });
  watchFingers();
  listenForKeys({
    b: mixingSheet, o: poured, h: heardAll, m: moreSheet, w: whoSheet, n: kitSheet, Escape: () => closeSheet(),
    ArrowLeft: () => onlyMine(true), ArrowRight: () => onlyMine(false),
  });
  listenForSwipes();
  holdBack();
}

const LEAVE_WITHIN_MS = 4000;

/** A swipe from the glass's edge is "back": it closes a sheet, and leaves the board and its alarms only the second time. */
function holdBack() {
  const stay = () => history.pushState({ board: true }, "");
  document.addEventListener("pointerdown", stay, { capture: true, once: true }); // going back, a browser skips a page that nobody touched
  addEventListener("popstate", () => {
    if (byId("sheet").hidden) {
      flash("Back once more leaves the board and its alarms.");
      setTimeout(stay, LEAVE_WITHIN_MS);
    } else {
      closeSheet();
      stay();
    }
  });
}

/** A swipe changes from this person's batches to everybody's, and back. */
function listenForSwipes() {
  let from = null;
  document.addEventListener("touchstart", (event) => {
    from = event.touches.length === 1 ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (!from || !byId("sheet").hidden || !byId("shout").hidden) return;
    const dx = event.changedTouches[0].clientX - from.x;
    const dy = event.changedTouches[0].clientY - from.y;
    if (Math.abs(dx) > 70 && Math.abs(dx) > 2 * Math.abs(dy)) onlyMine(dx > 0);
  }, { passive: true });
}

async function start() {
  useLooks();
  listen();
  onChange(draw);
  onFirst(drawFirst);
  onSoundChange(draw);
  await pairFromAddress();
  const asksWho = location.hash === "#who";
  const told = await askOnce();
  if (store.holder === OFFICE && !asksWho) {
    location.replace("/office"); // an office's phone goes back to the office's page
    return;
  }
  if (told !== "gate") connect();
  if (store.holder) store.onlyMine = true;
  draw();
  if (asksWho && told === true) whoSheet();
  send();
  setInterval(() => {
    watchOwnClock();
    tick();
    keepAwake();
    draw();
  }, 500);
  addEventListener("resize", draw);
  document.addEventListener("visibilitychange", () => {
    tick();
    if (document.visibilityState === "visible") askOnce();
  });
}

// for whoever checks the page from outside: nothing in here states anything
window.mixclockBoard = { awakeBy, patternOf, played, said, skew, serverNow, contactState, standing, isHeard };
start();
