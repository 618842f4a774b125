// The page's own sounds: told apart by rhythm, with most of their energy where ear and small loudspeakers are good.

let context = null;
let wave = null;
let speaking = false;
const changedListeners = [];

export const onSoundChange = (listener) => changedListeners.push(listener);
export const soundIsOn = () => context !== null && context.state === "running";

/** What was played lately, for whoever wants to check. */
export const played = [];

// seconds on, seconds off, and the pitch of each pulse; fundamentals with five harmonics lie between 500 and 3,000 Hz
const PATTERNS = {
  critical: [[0.14, 0.08, 740], [0.14, 0.08, 740], [0.14, 0.22, 740], [0.14, 0.08, 988], [0.14, 0.5, 988],
    [0.14, 0.08, 740], [0.14, 0.08, 740], [0.14, 0.22, 740], [0.14, 0.08, 988], [0.14, 0.08, 988]],
  timely: [[0.3, 0.2, 620], [0.3, 0.2, 620], [0.45, 0, 620]],
  notice: [[0.5, 0, 523]],
  lost: [[0.7, 0.15, 880], [0.9, 0.6, 587], [0.7, 0.15, 880], [0.9, 0, 587]],
  check: [[0.3, 0.2, 620], [0.3, 0.2, 740], [0.6, 0, 988]],
};

/** A browser lets a page sound only after a tap: every tap tries. */
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

/** Play a pattern; its rhythm tells the kind, its pace the urgency. Answers whether it could be heard at all. */
export function play(name, pace = 1) {
  played.push({ name, at: Date.now(), heard: soundIsOn() });
  if (played.length > 200) played.shift();
  if (navigator.vibrate && navigator.userActivation?.hasBeenActive !== false) {
    navigator.vibrate(name === "critical" || name === "lost" ? [400, 150, 400, 150, 800] : [300]);
  }
  if (!soundIsOn()) return false;
  let at = context.currentTime + 0.02;
  for (const [on, off, pitch] of PATTERNS[name] ?? PATTERNS.timely) {
    pulse(at, on * pace, pitch, name === "notice" ? 0.25 : 0.9);
    at += (on + off) * pace;
  }
  return true;
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

export function patternMs(name) {
  return 1000 * (PATTERNS[name] ?? PATTERNS.timely).reduce((sum, [on, off]) => sum + on + off, 0);
}

export const canSpeak = () => "speechSynthesis" in window && typeof SpeechSynthesisUtterance === "function";

/** Say words after the tone; one voice at a time, the newest urgent words replace what is being said. */
export function speak(text, afterMs, urgent) {
  if (!canSpeak() || (speaking && !urgent)) return;
  setTimeout(() => {
    if (urgent) speechSynthesis.cancel();
    const words = new SpeechSynthesisUtterance(text);
    words.lang = "en";
    words.rate = 0.95;
    words.onend = words.onerror = () => { speaking = false; };
    speaking = true;
    speechSynthesis.speak(words);
  }, afterMs);
}

export function hush() {
  speaking = false;
  if (canSpeak()) speechSynthesis.cancel();
}
