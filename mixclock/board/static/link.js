// The line to the laptop: one event stream, or a poll where the browser has too many tabs open.

import { byId, say } from "./dom.js";
import { forgetWords, takeWord, withWords } from "./first.js";
import { store, changed, changedFirst } from "./store.js";
import { learnSkew, useWall } from "./when.js";

let source = null;
let polling = null;
let lastHeardWall = Date.now();
let lastHeardPerf = performance.now();
let daemonAgeMs = 0;
let everHeard = false;
const recovered = [];

/** This page's own name, so that the laptop knows which page shows what. */
export const page = [...crypto.getRandomValues(new Uint8Array(8))].map((each) => each.toString(16).padStart(2, "0")).join("");

export const onRecovered = (listener) => recovered.push(listener);

/** How long ago the daemon was heard of, in ms, by whichever of this phone's clocks says longer. */
export function contactAgeMs() {
  const since = Math.max(Date.now() - lastHeardWall, performance.now() - lastHeardPerf);
  return since + daemonAgeMs;
}

/** "ok", "amber" from 5 s, "red" from 15 s, "none" before the first word. */
export function contactState() {
  if (!everHeard) return "none";
  const age = contactAgeMs();
  if (age >= 14500) return "red";
  return age >= 5000 ? "amber" : "ok";
}

/** Whether this page has a stream of its own. The laptop can't notice when a page that only polls is closed. */
export const isStreaming = () => source !== null;

export async function post(path, body, limitMs = 8000) {
  const answer = await fetch(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
    signal: limit(limitMs),
  });
  const told = await answer.json().catch(() => ({}));
  return { ok: answer.ok, status: answer.status, ...told };
}

/** Ask the laptop something that states nothing. No answer counts as a refusal. */
export const askLaptop = (path, body, limitMs) => post(path, body, limitMs).catch(() => ({ ok: false, refused: "the laptop did not answer" }));

function limit(ms) {
  const control = new AbortController();
  setTimeout(() => control.abort(), ms);
  return control.signal;
}

function heard(beat) {
  const wasAway = contactState() !== "ok";
  lastHeardWall = Date.now();
  lastHeardPerf = performance.now();
  everHeard = true;
  if (beat) {
    learnSkew(beat.at);
    daemonAgeMs = Math.max(0, 1000 * (beat.daemon_age_s ?? 0) - 1000);
    store.trouble = beat.trouble;
  }
  if (wasAway) for (const listener of recovered) listener();
}

function take(view) {
  store.view = withWords(view);
  useWall(view);
  changed();
}

const greeted = [];
export const onHello = (listener) => greeted.push(listener);

function hello(told) {
  for (const listener of greeted) listener();
  store.phone = told.phone;
  store.holder = told.holder;
  changed();
}

/** Open the stream. The browser reconnects by itself; a stream that died for good is opened anew. */
export function connect() {
  stopPolling();
  source?.close();
  forgetWords();
  source = new EventSource(`/events?page=${page}`);
  source.addEventListener("hello", (event) => hello(JSON.parse(event.data)));
  source.addEventListener("view", (event) => take(JSON.parse(event.data)));
  source.addEventListener("stated", (event) => takeWord(JSON.parse(event.data)) && changedFirst());
  source.addEventListener("beat", (event) => heard(JSON.parse(event.data)));
  source.addEventListener("poll", poll);
  source.addEventListener("bye", () => again());
  source.addEventListener("dropped", () => gate("This phone was dropped from the list. Scan the laptop's code to use it again."));
  source.onerror = () => again();
}

let pending = null;

function again() {
  source?.close();
  source = null;
  clearTimeout(pending);
  pending = setTimeout(reconnect, 700);
}

async function reconnect() {
  const told = await askOnce();
  if (told === "gate") return;
  if (told) connect();
  else pending = setTimeout(reconnect, 1000);
}

/** Ask once for the view and the time. Gives false when nobody answers, "gate" when this phone is not let in. */
export async function askOnce() {
  try {
    const headers = store.view ? { "x-seal": String(store.view.seal) } : {};
    const answer = await fetch("/view", { headers, signal: limit(4000) });
    if (answer.status === 401) {
      gate("Scan the square code that the laptop shows. Each code pairs one phone.");
      return "gate";
    }
    if (!answer.ok) return false;
    const told = await answer.json();
    heard(told.beat);
    hello(told);
    if (told.view) take(told.view);
    return true;
  } catch {
    return false;
  }
}

function poll() {
  source?.close();
  source = null;
  stopPolling();
  polling = setInterval(askOnce, 1000);
}

function stopPolling() {
  clearInterval(polling);
  polling = null;
}

export function gate(words) {
  source?.close();
  source = null;
  stopPolling();
  say(byId("gate-words"), words);
  byId("gate").hidden = false;
  document.body.classList.add("gated");
}

/** Exchange the secret in the address for a cookie, then take it out of the address and the history. */
export async function pairFromAddress() {
  const secret = new URLSearchParams(location.hash.slice(1)).get("pair");
  if (!secret) return;
  history.replaceState(null, "", location.pathname);
  try {
    const told = await post("/pair", { secret, device: device() });
    if (!told.ok && told.status !== 403) say(byId("gate-words"), told.refused ?? "");
  } catch {
    say(byId("gate-words"), "The laptop did not answer. Is this phone on its network?");
  }
}

function device() {
  const agent = navigator.userAgent;
  const kind = /iPad|Tablet/.test(agent) ? "tablet" : /Mobi|Android|iPhone/.test(agent) ? "phone" : "computer";
  return `${kind}, ${screen.width}×${screen.height}`;
}
