// What is coming, and the conditions.

import { byId, el, keyed, say, show } from "./dom.js";
import { store, wanted } from "./store.js";
import { clock, fromWhen, until } from "./when.js";

const atOrLast = (each) => (each.at ? Date.parse(each.at) : Number.MAX_VALUE);

export function drawLater() {
  const view = store.view;
  const planned = wanted(view?.planned ?? []).filter((each) => each.start)
    .map((each) => ({ do: `Mix ${each.amount}`.trim(), where: [each.where, each.who].filter(Boolean).join(" · "), at: each.start, word: "at", when: `at ${clock(each.start)}` }));
  const items = [...planned, ...(view?.coming ?? []).map((each) => ({ ...each, word: "from", when: fromWhen(each) }))]
    .sort((one, other) => atOrLast(one) - atOrLast(other)).slice(0, 14);
  keyed(byId("coming"), items, (each) => `${each.do}|${each.where}|${each.word}`,
    () => el("li", {}, el("b"), el("span", { cls: "when" }), el("span", { cls: "quiet" })), (row, each) => {
      const [what, when, place] = row.children;
      say(what, each.do);
      say(when, each.when);
      say(place, [each.where, each.at && until(each.at)].filter(Boolean).join(" · "));
    });
  show(byId("nothing-coming"), items.length === 0);
  drawConditions(view?.conditions ?? {});
}

const degrees = (value) => (store.view?.us_units ? `${Math.round(value * 1.8 + 32)} °F` : `${value.toFixed(1)} °C`);
const ROWS = [
  ["slab_c", "Slab", degrees],
  ["air_c", "Air", degrees],
  ["rh_pct", "Humidity", (value) => `${Math.round(value)} %`],
  ["margin_k", "Dew margin", (_, told) => told.margin_words],
];

function drawConditions(told) {
  const rows = ROWS.filter(([name]) => typeof told[name] === "number" || (name === "margin_k" && told.margin_words)).map(([name, label, words]) => [name, label, words(told[name], told)]);
  if (told.verdict) rows.push(["verdict", "Go or no-go", [told.verdict, ...(told.reasons ?? []).slice(0, 2)].join(": ")]);
  const since = told.at ?? told.read_at;
  if (since) rows.push(["at", "Read", clock(since)]);
  if (!rows.length) rows.push(["none", "Readings", "none yet: say one under More"]);
  keyed(byId("conditions"), rows, ([name]) => name, () => el("div", {}, el("dt"), el("dd")), (row, [name, label, words]) => {
    row.dataset.margin = name === "margin_k" && (told.margin_k ?? 0) < 3 ? "low" : "fine";
    say(row.children[0], label);
    say(row.children[1], words);
  });
}
