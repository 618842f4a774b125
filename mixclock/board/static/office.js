// The foreman's page looks again by itself, and says so when it can't. It asks and shows; it sends nothing.

const EVERY_MS = 4000;
const SILENT_AFTER_MS = 15000;
const silence = document.getElementById("silence");
let heardAt = performance.now();
let busy = false;

/** Show what the laptop has now. The page stays scrolled as it was; only what differs is changed. */
async function look() {
  if (busy) return;
  busy = true;
  try {
    const control = new AbortController();
    setTimeout(() => control.abort(), 10000);
    const answer = await fetch("/office", { signal: control.signal });
    if (answer.status === 401) return shout("This phone was dropped from the list. Scan the laptop's code to use it again.");
    if (!answer.ok) return undefined;
    const found = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main");
    const shown = document.querySelector("main");
    if (found && found.innerHTML !== shown.innerHTML) shown.replaceWith(document.adoptNode(found));
    heardAt = performance.now();
    silence.hidden = true;
  } catch {
    // no answer: the page itself tells how long the silence lasts
  } finally {
    busy = false;
  }
  return undefined;
}

function shout(words) {
  if (silence.textContent !== words) silence.textContent = words;
  silence.hidden = false;
  heardAt = -Infinity;
}

function watch() {
  const silent = performance.now() - heardAt;
  if (silent > SILENT_AFTER_MS && Number.isFinite(silent)) {
    const span = silent < 90000 ? `${Math.round(silent / 1000)} s` : `${Math.round(silent / 60000)} min`;
    const words = `The laptop has been silent for ${span}: what stands here is as old.`;
    if (silence.textContent !== words) silence.textContent = words;
    silence.hidden = false;
  }
}

setInterval(look, EVERY_MS);
setInterval(watch, 1000);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && look());
