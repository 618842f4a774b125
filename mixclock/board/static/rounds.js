// Ready, evening, morning: short questions, each answered with one touch, said aloud as they come. None blocks anything.

import { el, target } from "./dom.js";
import { tellByEar } from "./ear.js";
import { openSheet } from "./sheets.js";
import { flash, stateAndTell } from "./stating.js";

const TITLES = { ready: "Ready before any kit?", evening: "Going home", morning: "Coming back" };

async function asked(name) {
  const answer = await fetch("/rounds").catch(() => null);
  return answer?.ok ? ((await answer.json())[name] ?? []) : null;
}

/** Ask one question after the other. Answered ones stand below, and can be answered anew. */
export async function roundSheet(name, from = 0) {
  const items = await asked(name);
  if (!items) return flash("The laptop did not answer.");
  const open = items.filter((each) => each.answer === null);
  const next = open[from] ?? null;
  const left = next ? `${open.length} left. Leave out what you do not know: it stands as not recorded.` : "All gone through.";
  if (next) tellByEar(next.ask);
  return openSheet(TITLES[name], [
    el("p", { cls: "quiet", text: left }),
    next ? question(name, next, from) : null,
    next ? target("Leave it out", "not recorded", () => roundSheet(name, from + 1), "wide") : null,
    el("ul", { cls: "rows rounds" }, ...items.filter((each) => each.answer !== null).map((each) => row(name, each))),
  ]);
}

function question(name, item, from) {
  const say_ = (statement, label) => () => {
    stateAndTell(statement, `${item.item}: ${label}`);
    setTimeout(() => roundSheet(name, from), 400);
  };
  const answers = item.answers.map((each) => target(each.label, "", say_(each.statement, each.label), each.fine ? "main" : ""));
  const typed = item.takes ? typedAnswer(name, item, from) : null;
  return el("div", { cls: "question" }, el("p", { cls: "ask", text: item.ask }), answers.length ? el("div", { cls: "targets" }, ...answers) : null, typed);
}

function typedAnswer(name, item, from) {
  const box = el("input", { type: "text", cls: "typed", "aria-label": item.ask, autocomplete: "off" });
  const put = () => {
    if (!box.value.trim()) return;
    stateAndTell({ verb: name, item: item.item, answer: box.value.trim() }, `${item.item}: ${box.value.trim()}`);
    setTimeout(() => roundSheet(name, from), 400);
  };
  box.addEventListener("keydown", (event) => { if (event.key === "Enter") put(); });
  return el("div", { cls: "typing" }, box, target("State it", "", put, "main"));
}

function row(name, item) {
  const again = target("Again", "", () => openSheet(TITLES[name], [question(name, item, 0)]));
  return el("li", { cls: item.fine === false ? "bad" : "" }, el("span", { text: `${item.item}: ${item.answer}${item.warning ? `. ${item.warning}` : ""}` }), again);
}
