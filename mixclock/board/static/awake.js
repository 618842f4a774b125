// Keeps the screen on while a batch is live: by the browser's own lock where it gives one, else by a silent video.

import { el } from "./dom.js";
import { store } from "./store.js";

let lock = null;
let video = null;
let keptAwakeBy = null;
let failed = false;

/** How the screen is kept on: "lock", "video", null where it is not. */
export const awakeBy = () => keptAwakeBy;

/** Whether the browser lets the screen go dark although it was asked not to. Only then the page warns of a locked phone. */
export const couldNot = () => failed && !keptAwakeBy && isNeeded();

/** Whether anything is live that a dark screen would miss. */
const isNeeded = () => Boolean(store.view && (store.view.batches.length || store.view.alerts.length));

/** Called often, and after every touch: a browser lets a video play only then. */
export async function keepAwake() {
  if (!isNeeded() || document.visibilityState !== "visible") return release();
  if (keptAwakeBy) return undefined;
  if (await byLock()) keptAwakeBy = "lock";
  else if (await byVideo()) keptAwakeBy = "video";
  failed = !keptAwakeBy;
  return undefined;
}

/** Only pages of a safe address get this; over plain http there is none. */
async function byLock() {
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => { keptAwakeBy = null; });
    return true;
  } catch {
    return false;
  }
}

/** A video of two black pixels and a silent sound: most screens stay on while something plays. */
async function byVideo() {
  video ??= makeVideo();
  try {
    await video.play();
    return true;
  } catch {
    return false;
  }
}

function makeVideo() {
  const made = el("video", { cls: "awake", loop: "", playsinline: "", title: "keeps the screen on", "aria-hidden": "true" },
    el("source", { src: "/static/awake.webm", type: "video/webm" }), el("source", { src: "/static/awake.mp4", type: "video/mp4" }));
  made.addEventListener("pause", () => { keptAwakeBy = null; });
  document.body.append(made);
  return made;
}

function release() {
  lock?.release().catch(() => undefined);
  lock = null;
  video?.pause();
  keptAwakeBy = null;
}
