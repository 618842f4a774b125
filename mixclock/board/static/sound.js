// Makes the page's own sounds. Rhythm tells them apart; most of their energy lies where ears and small speakers are good.

import { store } from "./store.js";

let context = null;
let wave = null;
let speaking = false;
const changedListeners = [];

export const onSoundChange = (listener) => changedListeners.push(listener);
export const soundIsOn = () => context !== null && context.state === "running";

/** What was played lately, kept for checks. */
export const played = [];

// What is no call: the seconds on, the seconds off and the pitch of each pulse. With five harmonics it lies between 500 and 3,000 Hz.
const PATTERNS = {
  lost: [[0.7, 0.15, 880], [0.9, 0.6, 587], [0.7, 0.15, 880], [0.9, 0, 587]],
  check: [[0.3, 0.2, 620], [0.3, 0.2, 740], [0.6, 0, 988]],
};

/** The pulses of a call, or of something else that sounds: seconds on, seconds off, pitch. */
export function patternOf(name, kind = "floor", late = false) {
  if (PATTERNS[name]) return PATTERNS[name];
  const told = store.view.table.sounds; // the rhythm tells what a call is about, the speed how urgent it is
  const beat = told.beat_s[kind][name];
  const times = told.times[kind][name] * (late && name !== "notice" ? told.late_times : 1);
  return Array.from({ length: Math.ceil(times) }, () => told.rhythms[kind].map(([on, off]) => [on * beat, off * beat, told.pitch_hz[name]])).flat();
}

/** Try to switch sound on. A browser allows it only after a tap, so every tap tries. */
export function wakeSound() {
  const Context = window.AudioContext || window.webkitAudioContext;
  if (!Context) return;
  if (!context) {
    context = new Context();
    context.onstatechange = () => changedListeners.forEach((listener) => listener());
    const harmonics = new Float32Array([0, 1, 0.8, 0.7, 0.5, 0.35]);
    wave = context.createPeriodicWave(new Float32Array(6), harmonics);
  }
  if (context.state !== "running") context.resume().catch(() => undefined);
  changedListeners.forEach((listener) => listener());
}

/** Play a pattern, and shake in it: the rhythm tells the kind, the speed the urgency. Answers whether it could be heard at all. */
export function play(name, kind, late = false) {
  const beats = patternOf(name, kind, late);
  played.push({ name, kind, at: Date.now(), heard: soundIsOn(), shook: shake(beats) });
  if (played.length > 200) played.shift();
  if (!soundIsOn()) return false;
  let at = context.currentTime + 0.02;
  for (const [on, off, pitch] of beats) {
    pulse(at, on, pitch, name === "notice" ? 0.25 : 0.9);
    at += on + off;
  }
  return true;
}

const LEAST_SHAKE_MS = 60; // nobody feels a motor that runs for a shorter time

/** The same rhythm in the hand or the pocket. */
function shake(beats) {
  if (!navigator.vibrate || navigator.userActivation?.hasBeenActive === false) return null;
  const ms = beats.flatMap(([on, off]) => [Math.max(LEAST_SHAKE_MS, Math.round(1000 * on)), Math.round(1000 * off)]).slice(0, -1);
  navigator.vibrate(ms);
  return ms;
}

function pulse(at, seconds, pitch, loudness) {
  const tone = context.createOscillator();
  const level = context.createGain();
  tone.setPeriodicWave(wave);
  tone.frequency.value = pitch;
  level.gain.setValueAtTime(0, at);
  level.gain.linearRampToValueAtTime(loudness, at + 0.01);
  level.gain.setValueAtTime(loudness, at + seconds - 0.02);
  level.gain.linearRampToValueAtTime(0, at + seconds);
  tone.connect(level).connect(context.destination);
  tone.start(at);
  tone.stop(at + seconds);
}

export function patternMs(name, kind, late = false) {
  return 1000 * patternOf(name, kind, late).reduce((sum, [on, off]) => sum + on + off, 0);
}

export const canSpeak = () => "speechSynthesis" in window && typeof SpeechSynthesisUtterance === "function";

/** Say words after the tone; one voice at a time, the newest urgent words replace what is being said. */
export function speak(text, afterMs, urgent) {
  if (!canSpeak() || (speaking && !urgent)) return;
  setTimeout(() => {
    if (urgent) speechSynthesis.cancel();
    const words = new SpeechSynthesisUtterance(text);
    words.lang = "en";
    words.rate = 1; // slowed-down speech is understood worse in noise
    words.onend = words.onerror = () => { speaking = false; };
    speaking = true;
    speechSynthesis.speak(words);
  }, afterMs);
}

export function hush() {
  speaking = false;
  if (canSpeak()) speechSynthesis.cancel();
}
