// The second alarm clock: it sounds what the daemon raised, and what falls due when the daemon is gone.

import { byId, say } from "./dom.js";
import { contactState, isStreaming, onHello, page, post } from "./link.js";
import { isWaiting } from "./queue.js";
import { play, speak, patternMs, hush } from "./sound.js";
import { store, isMine, kept } from "./store.js";
import { serverNow } from "./when.js";

const LOST_REPEAT_MS = 30000;
const OWN_HEARD_MS = 120000;
const sounded = new Map();
let receipted = null;
let lostAt = -1e12;

const speaksHere = () => kept("speak", !["127.0.0.1", "localhost"].includes(location.hostname));

/** What to put before the person: the daemon's alerts, and the page's own deadlines once the line is down. */
export function standing() {
  const view = store.view;
  if (!view) return [];
  const alerts = view.alerts.filter((alert) => !(alert.done && isWaiting(alert.done.statement)));
  return [...alerts, ...ownDeadlines(view, alerts)].sort(byUrgency);
}

function ownDeadlines(view, alerts) {
  if (contactState() === "ok") return [];
  const now = serverNow();
  const due = view.deadlines.filter((each) => Date.parse(each.at) <= now && !stated(each) && !covered(each, alerts));
  return due.map((each) => ({ ...each, ...reached(each.calls, now), id: each.id, own: true, on_it: null }));
}

/** The latest call of a deadline that is due. Each stage has its own words, as the voice says them. */
const reached = (calls, now) => calls.findLast((call) => Date.parse(call.at) <= now);

const stated = (deadline) => deadline.done?.statement && isWaiting(deadline.done.statement);
const covered = (deadline, alerts) =>
  alerts.some((alert) => alert.batch === deadline.batch && alert.step === deadline.step && ["now", "late", "lost"].includes(alert.stage));

const place = (list, value) => (list.includes(value) ? list.indexOf(value) : list.length);

function byUrgency(one, other) {
  const { ranks, stages } = store.view.table;
  return place(ranks, one.rank) - place(ranks, other.rank) || place(stages, one.stage) - place(stages, other.stage) ||
    String(one.by ?? "").localeCompare(String(other.by ?? ""));
}

const tag = (alert) => `${alert.id}@${alert.stage}`;

/** Whether somebody heard it: the daemon says so, or it was touched here while the line was down. */
export function isHeard(alert) {
  if (alert.heard_by) return true;
  const at = store.heardHere.get(tag(alert));
  return at !== undefined && (contactState() === "ok" || performance.now() - at < OWN_HEARD_MS);
}

/** Sound new calls, repeat critical ones, complain when the daemon is gone. Called often. */
export function tick() {
  const alerts = standing();
  const loud = alerts.filter((alert) => isMine(alert) || alert.stage === "late" || alert.stage === "lost");
  const next = loud.filter((alert) => !isHeard(alert)).find(isDue);
  if (next) sound(next, loud);
  complain();
  receipts(alerts);
  const tags = new Set(alerts.map(tag));
  for (const known of sounded.keys()) if (!tags.has(known)) sounded.delete(known);
}

function isDue(alert) {
  const last = sounded.get(tag(alert));
  if (last === undefined) return true;
  return alert.rank === "critical" && alert.stage !== "heads-up" && performance.now() - last >= store.view.table.repeat_ms;
}

/** Alerts that fall together make one sound: that of the most urgent. */
function sound(alert, all) {
  const now = performance.now();
  for (const each of all) if (!isHeard(each) && isDue(each)) sounded.set(tag(each), now);
  const pattern = alert.rank === "critical" && alert.stage === "heads-up" ? "timely" : alert.rank;
  const late = alert.stage === "late" || alert.stage === "lost";
  play(pattern, alert.kind, late);
  say(byId("spoken"), alert.text);
  const others = all.filter((each) => each !== alert && each.rank !== "notice" && !isHeard(each)).length;
  const words = [alert.speech ?? alert.text, others ? `And ${others} more on the board.` : ""].filter(Boolean).join(" ");
  if (speaksHere() && alert.rank !== "notice") speak(words, patternMs(pattern, alert.kind, late), alert.rank === "critical");
}

function complain() {
  const now = performance.now();
  if (contactState() !== "red") {
    lostAt = -1e12;
    return;
  }
  if (now - lostAt < LOST_REPEAT_MS) return;
  lostAt = now;
  play("lost");
  say(byId("spoken"), "The laptop is silent. This phone keeps the deadlines that it knows.");
}

/** Tell the daemon which alerts stand on this glass, whenever that changes. Otherwise none counts as shown. */
function receipts(alerts) {
  if (contactState() !== "ok" || !isStreaming()) return;
  const shown = document.visibilityState === "visible" ? alerts.filter((alert) => !alert.own).slice(0, 64) : [];
  const job = store.view?.job ?? null;
  const told = `${job}|${shown.map(tag).join("|")}`;
  if (told === receipted) return;
  receipted = told;
  post("/shown", { page, job, alerts: shown.map(({ id, stage }) => ({ id, stage })) }).catch(() => { receipted = null; });
}

onHello(() => { receipted = null; });

/** Heard on this phone: quiet at once, whatever the line does. */
export function hearHere(alerts) {
  for (const alert of alerts) store.heardHere.set(tag(alert), performance.now());
  hush();
}
