// Draws what opens later, and the conditions.

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

function drawConditions(told) {
  const rows = [...(told.rows ?? [])];
  if (told.at) rows.push({ key: "at", label: "Read", words: clock(told.at) });
  if (!rows.length) rows.push({ key: "none", label: "Readings", words: "none yet: say one under More" });
  keyed(byId("conditions"), rows, (each) => each.key, () => el("div", {}, el("dt"), el("dd")), (row, each) => {
    row.dataset.margin = each.low ? "low" : "fine";
    say(row.children[0], each.label);
    say(row.children[1], each.words);
  });
}
