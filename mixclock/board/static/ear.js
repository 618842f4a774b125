// By ear: what is next, what comes after, and anything lost, for somebody who cannot look.

import { standing } from "./alarm.js";
import { kit } from "./kit.js";
import { agenda } from "./now.js";
import { speak } from "./sound.js";
import { clockSaid, spanSaid, untilMs } from "./when.js";

const MOST_WORDS = 20; // 8 s at a usual rate

const lower = (words) => words.slice(0, 1).toLowerCase() + words.slice(1);

function line(item) {
  const ms = item.by ? untilMs(item.by) : null;
  const time = ms === null ? "" : ms > 0 ? `${spanSaid(ms)} left` : "late";
  return [lower(item.do), item.batch ? `batch ${item.batch}` : item.where, time].filter(Boolean).join(", ");
}

/** What stands next: one deadline, the one after, and what is lost; at most eight seconds of speech. */
export function whatIsNext() {
  const items = agenda().filter((item) => item.by || item.alert);
  const lost = standing().filter((alert) => alert.stage === "lost");
  const running = items.filter((item) => item.stage !== "lost");
  const asked = kit();
  if (!running.length && !lost.length) return asked ? `Next kit: ${asked.spoken}` : "Nothing is due.";
  const parts = [running[0] && `Next: ${line(running[0])}.`, running[1] && `Then: ${line(running[1])}.`,
    asked && `Next kit: ${asked.said}.`, lost.length ? `Lost: ${lost.map((alert) => `batch ${alert.batch}`).slice(0, 2).join(" and ")}.` : ""].filter(Boolean);
  while (parts.length > 1 && parts.join(" ").split(/\s+/).length > MOST_WORDS) parts.splice(1, 1);
  return parts.join(" ");
}

export const said = [];

/** Say something now, over whatever is being said; kept for whoever wants to check. */
export function tellByEar(words) {
  said.push(words);
  if (said.length > 50) said.shift();
  speak(words, 0, true);
}

/** What was stated, as it is confirmed: "Batch 3, bay 2: Poured, 10:14". */
export const confirmed = (label, where, ms) => `${where ? `${where}: ` : ""}${label}, ${clockSaid(ms)}.`;
