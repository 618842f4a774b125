// Times as the crew says them, counted from the laptop's clock whatever the phone's own clock says.

let skewMs = 0;
let known = false;
let lows = 0;
let lowestPerf = 0;
let best = [];
let zone;
let wallBefore = Date.now();
let perfBefore = performance.now();

/** The laptop's time, in ms. */
export const serverNow = () => Date.now() + skewMs;
export const skew = () => skewMs;
export const skewKnown = () => known;

/**
 * Learn from a message how far this phone's clock is off. A message can be late, never early. So a higher value is
 * believed at once, a much lower one only after three in a row: then somebody set one of the clocks.
 */
export function learnSkew(serverIso) {
  watchOwnClock();
  const found = Date.parse(serverIso) - Date.now();
  const perf = performance.now();
  if (!known || found > skewMs) return takeSkew(found);
  best = [...best.filter(([then]) => perf - then < 60000), [perf, found]];
  if (found > skewMs - 2000) {
    lows = 0;
    skewMs = Math.max(...best.map(([, value]) => value));
    return undefined;
  }
  if (perf - lowestPerf > 700) {
    lows += 1;
    lowestPerf = perf;
  }
  return lows >= 3 ? takeSkew(found) : undefined;
}

function takeSkew(found) {
  skewMs = found;
  known = true;
  lows = 0;
  best = [[performance.now(), found]];
}

/** Hold the time where a phone's clock is set back while the page is open: that must not push deadlines away. */
export function watchOwnClock() {
  const wall = Date.now();
  const perf = performance.now();
  const jumped = wall - wallBefore - (perf - perfBefore);
  if (jumped < -1000) {
    skewMs -= jumped;
    best = best.map(([then, value]) => [then, value - jumped]);
  }
  wallBefore = wall;
  perfBefore = perf;
}

let twelve = false;
let monthFirst = false;
let steps = [];
let unsure = {};

/** The clock on the crew's wall: its zone, whether they say 2:05 pm, and Apr 14; and how the commands round and say times. */
export function useWall({ zone: name, twelve_hours, month_first, table }) {
  steps = table?.rounded_ms ?? steps;
  unsure = table?.unsure ?? unsure;
  zone = name || undefined;
  twelve = Boolean(twelve_hours);
  monthFirst = Boolean(month_first);
}

const formats = new Map();

/** An instant in the crew's zone. Formats are kept, as they are slow to make; an unknown zone gives the browser's own. */
function parts(iso, options) {
  const key = `${zone} ${Object.values(options)} ${Object.keys(options)}`;
  if (!formats.has(key)) formats.set(key, format(options));
  return formats.get(key).format(new Date(iso));
}

function format(options) {
  try {
    return new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", ...options });
  } catch {
    return new Intl.DateTimeFormat("en-GB", { hourCycle: "h23", ...options });
  }
}

const day = (when) => parts(when, { year: "numeric", month: "2-digit", day: "2-digit" });

/** As the commands write it: "8:05", not "08:05"; "8:05 pm" for a crew that says so. */
function plain(time) {
  const [hour, ...rest] = time.split(":");
  const hours = Number(hour);
  return twelve ? `${hours % 12 || 12}:${rest.join(":")} ${hours < 12 ? "am" : "pm"}` : `${hours}:${rest.join(":")}`;
}

const dayAndMonth = (iso) => {
  const [number, month] = [parts(iso, { day: "numeric" }), parts(iso, { month: "short" })];
  return monthFirst ? `${month} ${number}` : `${number} ${month}`;
};

/** "10:42", or "Tue 10:42" when it is not today, with the date when it is not this week. */
export function clock(iso) {
  if (!iso) return "";
  const time = plain(parts(iso, { hour: "2-digit", minute: "2-digit" }));
  if (day(iso) === day(serverNow())) return time;
  const date = Math.abs(untilMs(iso)) < 6 * DAY ? "" : ` ${dayAndMonth(iso)}`;
  return `${parts(iso, { weekday: "short" })}${date} ${time}`;
}

const MINUTE = 60000;
const DAY = 1440 * MINUTE;

/** How far an instant is past a whole step of the wall's clock, and the step, in ms. */
function over(at) {
  const [, step] = steps.find(([limit]) => at - serverNow() < limit);
  const [hours, minutes] = parts(at, { hour: "2-digit", minute: "2-digit" }).split(":").map(Number);
  return [((hours * 60 + minutes) * MINUTE + (at % MINUTE)) % step, step];
}

/** Until when: the further ahead the coarser, and never later than it is. */
export function closes(iso) {
  if (!iso) return "";
  const at = Date.parse(iso);
  return clock(at - over(at)[0]);
}

/** By when, and "about" where the doubt of the window is wider than itself. */
export const byWhen = (each) => `by ${each.unsure ? "about " : ""}${closes(each.at)}`;

/** From when: the further ahead the coarser, and never earlier than it is. */
export function opens(iso) {
  if (!iso) return "";
  const at = Date.parse(iso);
  const [past, step] = over(at);
  return clock(past > 0 ? at - past + step : at);
}

/** Words for a window that is narrower than its doubt: never reversed, nor as if its hour were sure. */
export const unsureSpan = (from, to) => (Date.parse(from) < Date.parse(to) ? unsure.span : unsure.reversed)
  .replace("{opens}", opens(from)).replace("{closes}", closes(to));

/** From when something may be done: a time, a likely span, or why there is no date. */
export const fromWhen = (each) => each.no_date || (each.unsure ? unsureSpan(each.at, each.until) : `from ${opens(each.at)}`);

export const clockSeconds = (ms) => plain(parts(ms, { hour: "2-digit", minute: "2-digit", second: "2-digit" }));

/** How long until an instant, in ms; negative once it is past. */
export const untilMs = (iso) => new Date(iso).getTime() - serverNow();

/** A span as a person says it. It is never rounded up, so nobody is promised more time than there is. */
export function span(ms) {
  const s = Math.floor(Math.abs(ms) / 1000);
  if (s < 60) return `${s} s`;
  if (s < 120) return `1 min ${String(s % 60).padStart(2, "0")} s`;
  const min = Math.floor(s / 60);
  if (min < 90) return `${min} min`;
  const h = Math.floor(min / 60);
  if (h < 48) return `${h} h ${String(min % 60).padStart(2, "0")} min`;
  return `${Math.floor(h / 24)} days`;
}

/** A span for the ear: whole minutes, never rounded up. */
export function spanSaid(ms) {
  const min = Math.floor(Math.abs(ms) / 60000);
  if (min < 1) return "under a minute";
  if (min < 90) return min === 1 ? "one minute" : `${min} minutes`;
  return `${Math.floor(min / 60)} hours`;
}

/** A time of day for the ear: "10 14". */
export const clockSaid = (ms) => clock(ms).replace(/:00 (?=[ap]m)/, " ").replace(":00", " o'clock").replace(/:0(\d)/, " oh $1").replace(":", " ");

/** "4 minutes left" or "2 minutes late", as somebody says it on a floor; seconds while they count. */
export function left(iso) {
  const ms = untilMs(iso);
  const words = span(ms).replace(/^(\d+) min$/, "$1 minutes");
  return ms >= 0 ? `${words} left` : `${words} late`;
}

export const until = (iso) => (untilMs(iso) >= 0 ? `in ${span(untilMs(iso))}` : `${span(untilMs(iso))} ago`);
