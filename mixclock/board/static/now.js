// Draws what to do now and who does it, in letters for the far end of the room, and the full screen of a critical call.

import { standing, isHeard } from "./alarm.js";
import { byId, el, keyed, say, show, target } from "./dom.js";
import { fitAll } from "./fit.js";
import { kitSheet, withAnswer } from "./kit.js";
import { contactState } from "./link.js";
import { isWaiting } from "./queue.js";
import { sheetIsUsed } from "./sheets.js";
import { hear, stateAndTell } from "./stating.js";
import { store, wanted, isMine } from "./store.js";
import { byWhen, clock, left, until } from "./when.js";

const SIGNS = { critical: "▲", timely: "■", notice: "○", plan: "→" };
const ROWS = 4;
const folded = new Set();

/** Everything that could stand in the large panel, the most urgent first. */
export function agenda() {
  const alerts = wanted(standing());
  const live = alerts.filter((alert) => alert.stage !== "opened" || !isHeard(alert));
  const steps = wanted(store.view?.batches ?? []).filter((card) => card.closes && !covers(live, card)).map(fromCard);
  const planned = wanted(store.view?.planned ?? []).slice(0, 1).map(fromPlan).map(withAnswer);
  return [...live.map(fromAlert), ...steps, ...planned];
}

const covers = (alerts, card) => alerts.some((alert) => alert.batch === card.id) || (card.next && isWaiting(card.next.statement));

function fromAlert(alert) {
  return {
    key: alert.id, kind: alert.rank, stage: alert.stage, do: alert.do, batch: alert.batch, where: where(alert),
    by: alert.stage === "opened" ? null : alert.by, unsure: alert.unsure, who: alert.who, claimed: alert.claimed_by, heard: alert.heard_by,
    text: alert.text, done: alert.done, ends: alert.ends, onIt: alert.claimed_by ? null : alert.on_it, alert,
  };
}

function where(alert) {
  if (alert.batch) return [`Batch ${alert.batch}`, alert.area ?? cardOf(alert.batch)?.where].filter(Boolean).join(", ");
  return alert.area ?? "";
}

const cardOf = (id) => store.view?.batches.find((card) => card.id === id);

function fromCard(card) {
  return {
    key: `card-${card.id}`, kind: "plan", stage: "next", do: card.closes.do, batch: card.id, by: card.closes.at, unsure: card.closes.unsure,
    where: [`Batch ${card.id}`, card.where].filter(Boolean).join(", "), who: card.who, claimed: card.began?.by ?? null, done: card.next,
  };
}

function fromPlan(plan) {
  return {
    key: "plan-next", kind: "plan", stage: "next", do: store.view.table.mix.do, where: [plan.amount, plan.where].filter(Boolean).join(", "),
    at: plan.start, who: plan.who, text: plan.product, done: { label: store.view.table.mix.label, statement: plan.statement },
  };
}

const BREAKS = ["what", "where"];

// the largest size of each line, in hundredths of the window's height: first on the full screen, then in the panel
const SIZES = { stage: [5, 3.6], what: [19, 12.5], where: [9, 7], time: [19, 14.5], left: [11, 8.5], person: [7, 5] };

/** Lines of one item: what, where, one time, how long, who. */
function lines(item) {
  return [
    ["stage", `${SIGNS[item.kind] ?? ""} ${stageLine(item)}`],
    ["what", item.do],
    ["where", item.where],
    ["time", item.by ? byWhen({ at: item.by, unsure: item.unsure }) : item.at ? `at ${clock(item.at)}` : ""],
    ["left", item.by ? left(item.by) : item.at ? until(item.at) : ""],
    ["person", [item.who ?? (store.view?.crew.length > 1 ? "whoever is free" : ""), item.claimed ? `${item.claimed} is on it` : ""].filter(Boolean).join(" · ")],
  ].filter(([, words]) => words);
}

function stageLine(item) {
  if (item.stage === "next") return "next";
  const heard = item.heard ? ` · heard by ${item.heard}` : "";
  return `${store.view.table.marks[item.stage] ?? item.stage}${heard}`;
}

function fill(box, item) {
  box.alert = item.alert && !isHeard(item.alert) ? item.alert : null;
  box.dataset.kind = item.kind;
  box.dataset.stage = item.stage;
  const loud = box.dataset.heading === "shout-do" ? 0 : 1;
  keyed(box.querySelector(".lines"), lines(item), ([cls]) => cls, ([cls]) => el("p", { cls: `fit ${cls}`, "data-most": SIZES[cls][loud], "data-breaks": BREAKS.includes(cls) ? "" : null }), (line, [cls, words]) => {
    say(line, words);
    if (cls === "what") line.id = box.dataset.heading ?? "";
  });
  fillButtons(box.querySelector(".does"), item);
}

function fillButtons(row, item) {
  const buttons = [];
  if (item.done?.statement) buttons.push({ key: `done ${JSON.stringify(item.done.statement)}`, label: item.done.label, cls: "main", act: () => stateAndTell(item.done.statement, item.done.label, item.where) });
  if (item.ends?.statement) buttons.push({ key: `ends ${JSON.stringify(item.ends.statement)}`, label: item.ends.label, cls: item.done?.statement ? "" : "main", act: () => stateAndTell(item.ends.statement, item.ends.label, item.where) });
  if (item.onIt) buttons.push({ key: `on ${JSON.stringify(item.onIt)}`, label: "On it", cls: "", act: () => stateAndTell(item.onIt, "On it", item.where) });
  if (item.ask) buttons.push({ key: "ask", label: "Can I open it?", cls: "", act: kitSheet });
  if (item.alert && !isHeard(item.alert)) buttons.push({ key: `heard ${item.key}`, label: "Heard", cls: "hears", act: () => hear([item.alert]) });
  if (row.closest(".shout")) buttons.push({ key: "fold", label: "Show the rest", cls: "fold", act: foldAll });
  keyed(row, buttons, (each) => each.key, (each) => target(each.label, "", () => each.act(), each.cls), () => undefined);
}

let loud = [];

function foldAll() {
  for (const item of loud) folded.add(`${item.key}@${item.stage}`);
  drawNow();
}

/** An empty panel. A touch anywhere on an alert's lines is "heard". */
const box = (heading) => {
  const made = el("div", { cls: "item" }, el("div", { cls: "lines", onclick: () => made.alert && hear([made.alert]) }), el("p", { cls: "shoutwords" }), el("div", { cls: "does" }));
  made.dataset.heading = heading;
  return made;
};

let drawn = [];

/** The alerts that can be read now and are not yet heard. One that a sheet covers, or that is scrolled away, can't be read. */
export const onScreen = () => drawn.filter(({ alert, place }) => !isHeard(alert) && isSeen(place)).map(({ alert }) => alert);

/** Whether an element's middle is on the glass with no sheet over it. A button that takes no touch yet still counts. */
function isSeen(place) {
  const box = place.getBoundingClientRect();
  const x = box.left + box.width / 2;
  const y = box.top + box.height / 2;
  const inShout = place.closest(".shout");
  const covers = inShout ? [byId("bar")] : [byId("strip"), byId("bar")];
  if (!inShout || document.body.classList.contains("asking")) covers.push(byId("sheet"));
  return box.width > 0 && y > 0 && y < window.innerHeight && !covers.some((each) => !each.hidden && isInside(each.getBoundingClientRect(), x, y));
}

const isInside = (box, x, y) => box.width > 0 && x >= box.left && x <= box.right && y >= box.top && y <= box.bottom;

/** Draw the large panel, the few lines after it, and the full screen. */
export function drawNow() {
  const items = agenda();
  const [first, ...rest] = items;
  const panel = byId("now-first");
  keyed(panel, first ? [first] : [{ key: "nothing", kind: "plan", stage: "next", do: idleWords(), where: "" }], () => "only", () => box("now-what"), fill);
  keyed(byId("now-then"), rest.slice(0, ROWS), (item) => item.key, () => el("li", {}, el("b"), el("span"), el("i")), fillSmall);
  const places = [panel.querySelector(".what"), ...byId("now-then").children];
  drawn = [first, ...rest.slice(0, ROWS)].map((item, row) => ({ alert: item?.alert, place: places[row] })).filter(({ alert }) => alert);
  drawShout(standing().map(fromAlert));
  fitAll(panel, room(panel.querySelector(".item")));
  backToUrgent(first);
}

/** How high the lines of an item may be so that its buttons are seen too. */
function room(item) {
  const bar = byId("bar").getBoundingClientRect();
  const floor = bar.width < window.innerWidth ? window.innerHeight : bar.top;
  const does = item.querySelector(".does");
  const beside = does.offsetTop < item.querySelector(".lines").offsetTop + 20 && does.offsetLeft > 40;
  const top = item.getBoundingClientRect().top + (item.closest(".shout") ? item.closest(".shout").scrollTop : window.scrollY);
  return floor - top - (beside ? 0 : does.offsetHeight + 14) - 34 - (item.querySelector(".moreshout")?.offsetHeight ?? 0) - item.querySelector(".shoutwords").offsetHeight;
}

let led = "";

/** Scroll back to what became urgent, unless a finger or a sheet is on the page. */
function backToUrgent(first) {
  const tag = first && ["now", "late", "lost", "step"].includes(first.stage) && first.kind !== "plan" ? `${first.key}@${first.stage}` : "";
  if (tag && tag !== led && byId("sheet").hidden) window.scrollTo({ top: 0, behavior: "smooth" });
  led = tag;
  const away = byId("now-first").getBoundingClientRect().bottom < byId("strip").offsetHeight + 40;
  show(byId("urgent"), away && Boolean(first));
  if (first) say(byId("urgent"), [`${SIGNS[first.kind] ?? ""} ${first.do}`, first.where, first.by ? left(first.by) : ""].filter(Boolean).join(" · "));
}

function idleWords() {
  if (contactState() === "none" || !store.view) return "Looking for the laptop";
  return store.view.job ? "Nothing to do now" : "No job is in use";
}

function fillSmall(row, item) {
  const [what, time, rest] = row.children;
  row.dataset.kind = item.kind;
  say(what, `${SIGNS[item.kind] ?? ""} ${item.do}`);
  say(time, item.by ? `${byWhen({ at: item.by, unsure: item.unsure })}, ${left(item.by)}` : item.at ? `at ${clock(item.at)}` : "");
  say(rest, [item.where, item.who].filter(Boolean).join(" · "));
}

/** A screen that comes up under a finger must not be touched by it. */
function settleShout(shout) {
  shout.classList.add("settling");
  setTimeout(() => shout.classList.remove("settling"), 700);
}

// half a flash: always under three flashes a second. By a timer, because an animation has the glass drawn sixty times
const TURN_MS = { now: 500, late: 250, lost: 1000 };
let turning = { stage: "", timer: null };

/** Beside a grinder light must do what sound cannot: the whole screen flashes while a call stands on it. */
function turnOver(shout, stage) {
  if (stage === turning.stage) return;
  clearInterval(turning.timer);
  shout.classList.remove("turned");
  turning = { stage, timer: stage ? setInterval(() => shout.classList.toggle("turned"), TURN_MS[stage]) : null };
}

/** What to do, for an item that shows no time: its bucket runs hot, or it is gone. */
const beside = (item) => (item.by && item.stage !== "lost" ? "" : item.text.split(". ").slice(1).join(". "));

let shouted = { tag: "", sinceMs: 0 };

/** Decide what lies on top: a critical call, except over a sheet that was opened to answer it and is still in use. */
function drawOrder(shout, first) {
  const tag = first ? `${first.key}@${first.stage}` : "";
  if (tag !== shouted.tag) shouted = { tag, sinceMs: performance.now() };
  const asked = document.body.classList.contains("asking");
  const asking = Boolean(first) && sheetIsUsed(shouted.sinceMs);
  document.body.classList.toggle("asking", asking);
  if (asked && !asking && first) settleShout(shout);
}

/** Fill the screen with a call that is critical for this person, or late, until it is heard, done or folded away. */
function drawShout(items) {
  const shouting = items.filter((item) => item.kind === "critical" && ["now", "late", "lost"].includes(item.stage) && !isHeard(item.alert) &&
    (isMine(item) || item.stage !== "now") && !folded.has(`${item.key}@${item.stage}`));
  const shout = byId("shout");
  const was = shout.hidden;
  show(shout, shouting.length > 0);
  if (was && shouting.length) settleShout(shout);
  document.body.classList.toggle("shouting", shouting.length > 0);
  turnOver(shout, shouting[0]?.stage ?? "");
  drawOrder(shout, shouting[0]);
  if (!shouting.length) return;
  loud = shouting;
  keyed(shout, [shouting[0]], () => "only", () => box("shout-do"), fill);
  say(shout.querySelector(".shoutwords"), beside(shouting[0]));
  drawn = [{ alert: shouting[0].alert, place: shout.querySelector(".what") }];
  let more = shout.querySelector(".moreshout");
  if (!more) shout.firstElementChild.append((more = el("p", { cls: "moreshout" })));
  say(more, shouting.length > 1 ? `and ${shouting.length - 1} more: ${shouting.slice(1, 4).map((item) => `${item.do}, ${item.where}`).join("; ")}` : "");
  fitAll(shout, room(shout.querySelector(".item")));
  if (was) shout.querySelector("button")?.focus({ preventScroll: true });
}

