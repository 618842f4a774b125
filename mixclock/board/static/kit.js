// Answers whether the next kit may be opened: on the large panel, at a touch, and again before part B goes in.

import { el, target } from "./dom.js";
import { tellByEar } from "./ear.js";
import { askLaptop } from "./link.js";
import { openSheet } from "./sheets.js";
import { store } from "./store.js";

export const kit = () => store.view?.kit ?? null;

/** What stands for an answer from before the last statement: nobody opens a kit by that one. */
export const AGAIN = "Next kit: being worked out again";

/** The next batch as the panel shows it: with a button only where the kit may be opened. */
export function withAnswer(item) {
  const told = kit();
  if (!told) return item;
  if (told.answer === "yes") return { ...item, where: told.outdated ? AGAIN : told.said, ask: true };
  if (told.outdated) return { ...item, do: AGAIN, where: `Until now: ${told.said}`, at: null, done: null, ask: true };
  return { ...item, do: told.said, where: [item.where, told.because].filter(Boolean).join(" · "), at: told.from, done: null, ask: true };
}

/** A line over the choice of a batch: the present answer, where it is not yes. */
export function kitWarning() {
  const told = kit();
  if (!told || told.answer === "yes") return null;
  if (told.outdated) return el("p", { cls: "kitno", role: "alert", text: `${AGAIN}. Until now: ${told.said}` });
  return el("p", { cls: "kitno", role: "alert", text: [told.said, told.because, ...told.ways.slice(0, 1)].filter(Boolean).join(". ") });
}

/** Ask at a touch. Shows the answer, why, and what makes it a yes. From then on it is asked again by itself. */
export async function kitSheet() {
  const told = await askLaptop("/next", {});
  if (!told.said) {
    openSheet("Can I open the next one?", [el("p", { cls: "kitanswer no", role: "alert", text: "Not known: keep it shut" }), el("p", { text: told.refused ?? "" })]);
    return;
  }
  tellByEar(told.spoken);
  const lines = [told.because, ...(told.answer === "yes" ? [] : told.ways), ...told.beside].filter(Boolean);
  openSheet("Can I open the next one?", [
    el("p", { cls: `kitanswer ${told.answer}`, role: "alert", text: told.said }),
    ...lines.map((text) => el("p", { text })),
    el("p", { cls: "quiet", text: "It is asked again by itself until part B goes in." }),
    target("Ask again", "", kitSheet, "wide"),
  ]);
}
