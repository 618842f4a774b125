// A small mix beside the plan: a patch, a cove, a second pass of primer. Its bucket has a clock of its own.

import { el, heading, say, target } from "./dom.js";
import { choices, closeSheet, openSheet, own } from "./sheets.js";
import { stateAndTell } from "./stating.js";
import { store } from "./store.js";
import { clockSeconds, serverNow } from "./when.js";

const NOWHERE = "no area";

/** The first touch, or the one given as `at`, says when B went into a small mix. Nothing is stated without a second touch. */
export function spotSheet(at = serverNow()) {
  const told = store.view?.table?.spot;
  const products = store.view?.spots ?? [];
  if (!told || !products.length) return openSheet("No product is known", [el("p", { text: "No job is in use, or its file names no coat. On the laptop: mixclock job start FILE." })]);
  const chosen = { use: told.uses[0], product: products[0], area: NOWHERE, amount: products[0].gauge.start };
  const amount = el("output", { cls: "amount" });
  const rows = [
    row(told.uses, () => chosen.use, (use) => { chosen.use = use; }),
    row(products.map((each) => each.product), () => chosen.product.product, (name) => {
      chosen.product = products.find((each) => each.product === name);
    }),
    row([...(store.view?.areas ?? []), NOWHERE], () => chosen.area, (area) => { chosen.area = area; }),
  ];
  const move = (steps) => {
    const { gauge } = chosen.product;
    chosen.amount = Math.max(gauge.least, chosen.amount + steps * gauge.step);
    draw();
  };
  const stepper = el("div", { cls: "stepper" }, target("−", "less", () => move(-1)), amount, target("+", "more", () => move(1)));
  const draw = () => {
    const { gauge } = chosen.product;
    say(amount, `${Math.round(chosen.amount)} ${gauge.unit}`);
  };
  function row(names, now, choose) {
    return choices(names, (name) => name === now(), (name) => {
      choose(name);
      draw();
    });
  }
  const state = () => {
    const { gauge, product } = chosen.product;
    const areas = chosen.area === NOWHERE ? [] : [chosen.area];
    closeSheet();
    stateAndTell({ verb: told.verb, product, [gauge.key]: own(gauge, chosen.amount), use: chosen.use, areas }, told.label, [chosen.use, ...areas].join(", "), { atMs: at });
  };
  draw();
  return openSheet(`B is in at ${clockSeconds(at)}. A small mix`, [
    el("p", { cls: "quiet", text: "Its bucket is called out like any other; the plan and the coats stay as they are." }),
    heading("What for"), rows[0], heading("Product"), rows[1], heading("Where"), rows[2], heading("Amount"), stepper,
    el("div", { cls: "targets" }, target("−10 steps", "", () => move(-10)), target("+10 steps", "", () => move(10))),
    target("State it", "a small mix", state, "main wide"), target("No, a mistake", "nothing is stated", () => closeSheet(), "wide")]);
}
