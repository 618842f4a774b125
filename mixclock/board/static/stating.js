// Does what a tap asks: states, says so at once, and offers for five seconds to take it back or put it earlier.

import { hearHere, standing, isHeard } from "./alarm.js";
import { byId, el, say, settleMoved, show, target } from "./dom.js";
import { state, takeBack, onAnswer } from "./queue.js";
import { contactState } from "./link.js";
import { store } from "./store.js";
import { closeSheet, openSheet } from "./sheets.js";
import { clockSeconds, serverNow } from "./when.js";

const TAKE_BACK_MS = 5000;
const MIND_MS = 15000;
let shown = null;
let timer = null;

/** State something and show what was stated. */
export function stateAndTell(statement, label, where = "", options = {}) {
  const tap = state(statement, { label: `${label}${where ? `: ${where}` : ""}`, ...options });
  if (tap) tell(tap);
  const dump = store.view?.table.dump;
  if (tap && dump && statement.verb === dump.verb && !statement.share) askShare(statement, dump);
  return tap;
}

/** Ask once how much of a bucket was thrown away. No answer states nothing more. */
function askShare(statement, dump) {
  const say_ = (share) => () => {
    closeSheet();
    stateAndTell({ ...statement, share }, `${dump.label}: ${share}`, `batch ${statement.batch}`);
  };
  openSheet(`How much of batch ${statement.batch} was thrown away?`, dump.shares.map((share) => target(share, "", say_(share), "wide")));
}

/** Heard: quiet this phone at once, and state it for everybody. */
export function hear(alerts = standing().filter((alert) => !isHeard(alert))) {
  if (!alerts.length) return;
  hearHere(alerts);
  const ids = alerts.filter((alert) => !alert.own).map((alert) => alert.id);
  if (ids.length) state({ verb: "heard", alerts: ids.slice(0, 64) }, { label: "Heard" });
  flash("Heard. It comes again unless the step is stated.");
}

function tell(tap) {
  shown = tap;
  const toast = byId("toast");
  const words = el("p", { cls: "toastwords" }, el("b", { text: tap.label }), el("span", { text: clockSeconds(tap.serverMs) }), el("span", { cls: "toaststate" }));
  const back = target("Take it back", tap.label, () => undo(tap), "back");
  const earlier = store.view?.table.dated.includes(tap.statement.verb)
    ? [2, 5, 10].map((minutes) => target(`${minutes} min ago`, "", () => redate(tap, minutes), "ago")) : [];
  toast.replaceChildren(words, back, ...earlier);
  show(toast, true);
  settleMoved(toast); // at once: a second thumb on the same place must not take it back
  sendingWords();
  hideAfter(TAKE_BACK_MS);
}

function sendingWords(refused) {
  const place = byId("toast").querySelector(".toaststate");
  if (!place || !shown) return;
  const away = contactState() !== "ok" ? "kept on this phone until the laptop is back" : "sending";
  say(place, refused ?? (shown.entry ? "in the book" : away));
}

/** Show the cautions under a statement, long enough to be read at arm's length. */
function mind(told) {
  const lines = [...(told.look_out ?? []).map((text) => ["lookout", text]), ...(told.moved ?? []).map((text) => ["moved", text]),
    ...(told.cautions ?? []).map((text) => ["caution", text])];
  if (!lines.length) return;
  const list = el("ul", { cls: "toastminds", role: told.look_out?.length ? "alert" : "status" }, ...lines.map(([cls, text]) => el("li", { cls, text })));
  byId("toast").querySelector(".toastwords").after(list);
  hideAfter(MIND_MS);
}

function hideAfter(ms) {
  clearTimeout(timer);
  timer = setTimeout(() => show(byId("toast"), false), ms);
}

/** A short line without buttons. */
export function flash(words, ms = 4000) {
  shown = null;
  byId("toast").replaceChildren(el("p", { cls: "toastwords" }, el("b", { text: words })));
  show(byId("toast"), true);
  hideAfter(ms);
}

export async function undo(tap) {
  const told = await takeBack(tap).catch(() => ({ ok: false, refused: "the laptop did not answer" }));
  flash(told.ok ? `Taken back: ${tap.label}` : `Not taken back: ${told.refused}`);
  return told.ok;
}

async function redate(tap, minutes) {
  if (await undo(tap)) stateAndTell(tap.statement, tap.label, "", { atMs: tap.serverMs, agoMs: 60000 * minutes });
}

onAnswer((tap, told) => {
  if (!told.ok) {
    flash(`Not stated: ${tap.label}. ${told.refused ?? ""}`, 9000);
    return;
  }
  if (tap.path) {
    flash(told.said.join(" "), 9000);
  } else if (shown?.key === tap.key) {
    shown.entry = told.entry;
    sendingWords();
    mind(told);
  } else if (told.look_out?.length || told.cautions?.length) {
    flash(`${tap.label}: ${[...told.look_out, ...told.cautions][0]}`, MIND_MS);
  } else if (serverNow() - tap.serverMs > 6000) {
    flash(`Sent: ${tap.label}, ${clockSeconds(tap.serverMs)}`);
  }
});
