// The sheets behind "More" and "Who holds this?": readings, notes, the list of statements, phones, sound, looks, pedal.

import { el, heading, say, target } from "./dom.js";
import { awakeBy, couldNot } from "./awake.js";
import { tellByEar, whatIsNext } from "./ear.js";
import { askLaptop, connect, contactState } from "./link.js";
import { kitSheet } from "./kit.js";
import { doorsSheet } from "./doors.js";
import { forgetPedal, keyNamed, learnPedal, pedalName } from "./keys.js";
import { photoSheet } from "./photo.js";
import { roundSheet } from "./rounds.js";
import { tellLater } from "./queue.js";
import { choices, closeSheet, openSheet, own } from "./sheets.js";
import { spotSheet } from "./spot.js";
import { canSpeak, play, soundIsOn, wakeSound } from "./sound.js";
import { flash, stateAndTell } from "./stating.js";
import { changed, keep, kept, OFFICE, store } from "./store.js";
import { clock, until } from "./when.js";

/** Called away, or back: the answer says what comes first. */
function away(verb, label) {
  closeSheet();
  stateAndTell({ verb }, label);
}

/** Everything that is not needed every minute. */
export function moreSheet() {
  openSheet("More", [
    el("div", { cls: "targets" },
      target("A reading", "slab, air, humidity", readingSheet, "main"),
      target("Ready?", "before any kit", () => roundSheet("ready")),
      target("Evening", "going home", () => roundSheet("evening")),
      target("Morning", "coming back", () => roundSheet("morning")),
      target("Next kit?", "may it be opened", kitSheet),
      target("Small mix", "patch, cove, second pass", () => spotSheet()),
      target("Called away", "what to save first", () => away("stopped", "Called away")),
      target("Back", "what went by", () => away("back", "Back")),
      target("A picture", "of an area or a batch", photoSheet),
      target("Tick a fact", "heater, doors, primer", tickSheet),
      target("Say it again", "next, and after that", () => tellByEar(whatIsNext())),
      target("Sound check", "to the far corner", soundSheet),
      target("What was stated", "take something back", recentSheet),
      target("Phones", "pair or drop one", phonesSheet),
      target("Calendar and sensors", "addresses to copy", doorsSheet),
      target("Foot pedal", pedalName() ? `key ${keyNamed(pedalName())}` : "none set", pedalSheet)),
    heading("Looks"), looks(), heading("This page speaks"), speakingChoice(),
    el("p", { cls: "quiet", text: awakeWords() }),
    el("p", { cls: "quiet", text: "Don't reload this page while the laptop is away: it would forget the deadlines." }),
  ]);
}

/** Whether the screen is kept on, in words: it is, it can't be, or no batch needs it yet. */
function awakeWords() {
  if (awakeBy()) return "This screen stays on while a batch is live. Keep this page in front and the charger in.";
  if (couldNot()) return "This browser lets the screen go dark: a locked phone is silent. Keep this page in front, the screen on and the charger in.";
  return "The screen is kept on once a batch is live. Keep this page in front and the charger in.";
}

function looks() {
  const names = { "as the phone": null, light: "light", dark: "dark", "bright sun": "sun" };
  return choices(Object.keys(names), (name) => names[name] === kept("looks", null), (name) => {
    keep("looks", names[name]);
    useLooks();
  });
}

export function useLooks() {
  const looks_ = kept("looks", null);
  if (looks_) document.documentElement.dataset.looks = looks_;
  else delete document.documentElement.dataset.looks;
}

function speakingChoice() {
  if (!canSpeak()) return el("p", { cls: "quiet", text: "This browser has no voice; the tones still sound." });
  const now = () => kept("speak", !["127.0.0.1", "localhost"].includes(location.hostname));
  return choices(["speak", "tones only"], (name) => now() === (name === "speak"), (name) => keep("speak", name === "speak"));
}

/** A reading by large steppers; only what was touched is stated. */
function readingSheet() {
  const gauges = store.view?.gauges ?? [];
  const touched = new Map();
  const done = target("State it", "touch what you read", () => {
    closeSheet();
    const words = [...touched].map(([gauge, value]) => `${gauge.label} ${value}`).join(", ");
    const stated = [...touched].map(([gauge, value]) => [gauge.key, own(gauge, value)]);
    stateAndTell({ verb: gauges[0].verb, ...Object.fromEntries(stated) }, "Reading", words);
  }, "main wide");
  done.disabled = true;
  const lines = gauges.map((gauge) => {
    const { label, step } = gauge;
    let value = gauge.start;
    const words = el("span");
    const shown = el("button", { type: "button", cls: "amount", onclick: () => move(0) }, el("span", { cls: "unseen", text: `${label} as shown: ` }), words);
    const move = (by) => {
      value = Math.round((value + by) * 10) / 10;
      touched.set(gauge, value);
      draw();
    };
    const draw = () => {
      say(words, `${value.toFixed(gauge.digits)} ${gauge.unit}${touched.has(gauge) ? " ✓" : ""}`);
      done.disabled = touched.size === 0;
    };
    draw();
    return el("div", { cls: "reading" }, heading(label), el("div", { cls: "stepper" }, target("−", "", () => move(-step), `less ${gauge.key}`), shown, target("+", "", () => move(step), `more ${gauge.key}`)));
  });
  openSheet("A reading", [...lines, done]);
}

/** A trade fact, with answers that each mean one thing: only such facts count in `why` and in a claim. */
function tickSheet() {
  const facts = store.view?.table?.ticks ?? [];
  openSheet("Tick a fact", [el("p", { cls: "quiet", text: "Only these facts count afterwards. Your own words are quoted." }),
    el("div", { cls: "targets facts" }, ...facts.map((each) => target(each.fact, each.ask, () => answerSheet(each))))]);
}

function answerSheet(tick) {
  const whole = "whole floor";
  const places = [whole, ...(store.view?.areas ?? [])];
  let where = whole;
  const row = choices(places, (name) => name === where, (name) => { where = name; });
  const state = (answer) => () => {
    closeSheet();
    const area = where === whole ? {} : { area: where };
    stateAndTell({ verb: "noted", text: `${tick.fact}: ${answer}`, ...area }, `${tick.fact}: ${answer}`, where);
  };
  openSheet(tick.fact, [el("p", { text: `Say ${tick.ask}.` }), heading("Where"), row, heading("Answer"),
    el("div", { cls: "targets" }, ...tick.answers.map((answer) => target(answer, "", state(answer))))]);
}

/** The sound check before the first batch: do the calls carry to the far corner? */
export function soundSheet() {
  const said = el("p", { cls: "quiet", role: "status", text: "Put the laptop where it will stand. Start the noise that you will work in: drill, vacuum, fans." });
  const sound = async () => {
    wakeSound();
    play("check");
    const told = await askLaptop("/sound-check", {}, 45000);
    say(said, `${soundIsOn() ? "This phone sounds." : "This phone is silent: is its switch on mute?"} Laptop: ${told.said ?? told.refused ?? ""}`);
  };
  const answer = (words) => () => {
    closeSheet();
    keep("checked", Date.now());
    stateAndTell({ verb: "noted", text: words }, "Sound check");
  };
  openSheet("Sound check", [said, target("Sound it", "laptop and this phone", sound, "main wide"),
    el("p", { text: "Walk to the far corner and sound it again. Could you hear it over the noise?" }),
    el("div", { cls: "targets" }, target("Heard it", "at the far corner", answer("sound check: heard at the far corner"), "main"),
      target("Not heard", "louder, or nearer", answer("sound check: not heard at the far corner")))]);
}

/** The question about a reading that jumped: read it again, or take it back. */
export function questionSheet(entry) {
  const asked = (store.view?.questions ?? []).find((each) => each.entry === entry);
  if (!asked) return;
  openSheet("Is that reading right?", [el("p", { text: asked.text }), el("div", { cls: "targets" },
    target("Read it again", "the same place", readingSheet, "main"),
    target("It was misread", "take it back", () => takeBackEntry(entry, "the reading")))]);
}

/** A test cup that runs: how warm it is, or how it ended. */
export function cupSheet(began) {
  const cup = (store.view?.cups ?? []).find((each) => each.began === began);
  if (!cup) return;
  const { gauge } = cup;
  let value = gauge.start;
  const words = el("span");
  const move = (by) => {
    value += by;
    say(words, `${value} ${gauge.unit}`);
  };
  move(0);
  const tellOf = (told) => () => {
    closeSheet();
    if (contactState() !== "ok") flash("Kept on this phone until the laptop is back.");
    tellLater("/cup", { began, ...told() }, cup.text);
  };
  const warm = () => ({ [gauge.key]: own(gauge, value) });
  openSheet(cup.text, [
    el("div", { cls: "reading" }, heading("Warmth"), el("div", { cls: "stepper" }, target("−", "", () => move(-1)), el("span", { cls: "amount" }, words), target("+", "", () => move(1)))),
    el("div", { cls: "targets" }, target("−10", "", () => move(-10)), target("+10", "", () => move(10))),
    target("State it", "as warm as this", tellOf(warm), "main wide"),
    heading("Or it shows"),
    el("div", { cls: "targets" }, ...cup.signs.map((sign) => target(sign, "", tellOf(() => ({ sign }))))),
    el("p", { cls: "quiet", text: "Gloves and goggles. Stay with it; no lid." }),
  ]);
}

async function takeBackEntry(entry, words) {
  const told = await askLaptop("/take-back", { entry, job: store.view?.job ?? null });
  closeSheet();
  flash(told.ok ? `Taken back: ${words}` : `Not taken back: ${told.refused}`);
}

function recentSheet() {
  const rows = (store.view?.recent ?? []).map((each) => el("li", {}, el("span", { text: `${clock(each.at)} ${each.by ?? ""} ${each.said}${each.withdrawn ? " (taken back)" : ""}` }),
    each.withdrawn ? null : target("Take back", "", () => takeBackEntry(each.entry, each.said))));
  openSheet("What was stated", [rows.length ? el("ul", { cls: "rows" }, ...rows) : el("p", { text: "Nothing was stated yet." })]);
}

/** Which phones are paired, and a code for the next one. */
function phonesSheet() {
  const rows = (store.view?.phones ?? []).map((phone) => el("li", {},
    el("span", { text: `${phone.holder ?? "nobody named"}, ${phone.device}${phone.id === store.phone ? " (this one)" : ""}, paired ${until(phone.paired_at)}` }),
    target("Drop", "lets it in no more", async () => {
      const told = await askLaptop("/drop", { phone: phone.id });
      closeSheet();
      flash(told.ok ? "Dropped." : `Not dropped: ${told.refused}`);
    })));
  openSheet("Phones", [el("p", { text: "The next phone scans this code. It works once." }),
    el("img", { cls: "code", src: `/code.svg?${Date.now()}`, alt: "Square code with the pairing address for the next phone", width: "280", height: "280" }),
    el("ul", { cls: "rows" }, ...rows)]);
}

function pedalSheet() {
  const now = el("p", { role: "status", text: pedalName() ? `Set to ${keyNamed(pedalName())}. It states what the large panel says.` : "Press the pedal or key now. It will state what the large panel says." });
  learnPedal((name) => say(now, `Set to ${keyNamed(name)}. It states what the large panel says.`));
  openSheet("Foot pedal or key", [now, el("p", { cls: "quiet", text: "Nothing happens? A volume key never reaches a page: switch the remote so that it types Enter or Space." }), target("No pedal", "", () => {
    forgetPedal();
    closeSheet();
  }, "wide")], () => learnPedal(null));
}

/** Choose who holds this phone: it shows that person's alerts and next task. */
export function whoSheet() {
  const crew = store.view?.crew ?? [];
  const jobs = store.view?.jobs ?? [];
  const hold = (asked, then) => async () => {
    const told = await askLaptop("/hold", asked);
    if (!told.ok) return flash(`Not changed: ${told.refused}`);
    store.holder = told.holder;
    store.onlyMine = Boolean(asked.holder);
    then();
    return closeSheet();
  };
  const take = (name) => hold({ holder: name }, changed);
  const belong = (job) => hold({ job }, () => {
    connect();
    flash(`This phone belongs to ${job}.`);
  });
  const floors = jobs.length > 1 ? [heading("Which floor?"), ...jobs.map((job) => target(job, job === store.view?.job ? "this phone's" : "", belong(job), job === store.view?.job ? "main wide" : "wide")), heading("Who?")] : [];
  openSheet("Who holds this phone?", [...floors, ...crew.map((name) => target(name, "", take(name), name === store.holder ? "main wide" : "wide")),
    target("Nobody: show everything", "a tablet on the wall", take(null), "wide"),
    target("The office: it only looks", "all jobs on one page", async () => {
      await take(OFFICE)();
      if (store.holder === OFFICE) location.assign("/office");
    }, "wide"),
    crew.length ? null : el("p", { text: "The job file names no crew." })]);
}
