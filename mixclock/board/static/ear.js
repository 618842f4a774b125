// Speaks what is next, what comes after, and anything lost, for somebody who cannot look.

import { standing } from "./alarm.js";
import { AGAIN, kit } from "./kit.js";
import { agenda } from "./now.js";
import { speak } from "./sound.js";
import { clockSaid, spanSaid, untilMs } from "./when.js";

const MOST_S = 7.6; // eight seconds at a usual rate, with some room: how long a voice takes is only reckoned here

const ONES = "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split(" ");
const TENS = "- ten twenty thirty forty fifty sixty seventy eighty ninety".split(" ");

function numberSaid(digits) {
  const value = Number(digits);
  if (value < ONES.length) return ONES[value];
  if (value < 100) return TENS[Math.floor(value / 10)] + (value % 10 ? ` ${ONES[value % 10]}` : "");
  return [...digits].map((each) => ONES[Number(each)]).join(" ");
}

/** How long a voice at 175 words a minute takes for a text, fitted to a real voice. The laptop reckons the same. */
function spokenS(text) {
  const words = text.replace(/(\d)[:.,](?=\d)/g, "$1 ").replace(/\d+/g, numberSaid);
  const count = (found) => (words.match(found) ?? []).length;
  return 0.2 + 0.058 * count(/\p{L}/gu) + 0.041 * words.split(/\s+/).length + 0.2 * count(/,/g) + 0.35 * count(/:/g) + 0.3 * count(/[.!?](?=\s)/g);
}

const lower = (words) => words.slice(0, 1).toLowerCase() + words.slice(1);

/** One item in words: what to do, where, and how long. Without a name it always says what to do. */
function lineByEar(item, { place, left, does }) {
  const ms = item.by ? untilMs(item.by) : null;
  const time = ms === null ? "" : ms > 0 ? `${spanSaid(ms)}${left}` : "late";
  const named = item.batch ? `batch ${item.batch}` : place ? item.where : "";
  return [does || !named ? lower(item.do) : "", named, time].filter(Boolean).join(", ");
}

function lostSaid(lost) {
  const places = [...new Set(lost.map((alert) => (alert.batch ? `batch ${alert.batch}` : alert.area ?? "the job")))];
  if (!places.length) return "";
  const numbers = places.map((each) => each.replace("batch ", ""));
  if (places.length > 1 && places.every((each) => each.startsWith("batch "))) return `Lost: batches ${numbers.slice(0, -1).join(", ")} and ${numbers.at(-1)}.`;
  return `Lost: ${places.join(", ")}.`;
}

// from the fullest way to say it to the plainest: with the place, with the word "left", with what to do at how many items
const WAYS = [{ place: true, left: " left", does: 2 }, { place: true, left: "", does: 2 }, { place: false, left: "", does: 2 }, { place: false, left: "", does: 1 }, { place: false, left: "", does: 0 }];

const kitSaid = (answer) => (kit().outdated ? `${AGAIN}.` : `Next kit: ${answer}`);

/** What stands next: the next deadline, the one after, and all that is lost; at most eight seconds of speech. */
export function whatIsNext() {
  const items = agenda().filter((item) => item.by || item.alert);
  const lost = standing().filter((alert) => alert.stage === "lost");
  const running = items.filter((item) => item.stage !== "lost").slice(0, 2);
  const asked = kit();
  if (!running.length && !lost.length) return asked ? kitSaid(asked.spoken) : "Nothing is due.";
  const say = (way, ...after) => [...running.map((item, number) => `${["Next", "Then"][number]} ${lineByEar(item, { ...way, does: number < way.does })}.`), ...after].filter(Boolean).join(" ");
  const gone = lostSaid(lost);
  const ways = [...(asked ? [say(WAYS[0], kitSaid(`${asked.said}.`), gone)] : []), ...WAYS.map((way) => say(way, gone)), say(WAYS.at(-1), `${lost.length} lost.`)];
  return ways.find((words) => spokenS(words) <= MOST_S) ?? ways.at(-1);
}

export const said = [];

/** Say something now, over whatever is being said. The words are kept for checks. */
export function tellByEar(words) {
  said.push(words);
  if (said.length > 50) said.shift();
  speak(words, 0, true);
}

/** What was stated, as it is confirmed: "Batch 3 poured, 10 14." */
export const confirmed = (label, item, ms) => `${item.batch ? `Batch ${item.batch}` : item.where || "The job"} ${lower(label)}, ${clockSaid(ms)}.`;
