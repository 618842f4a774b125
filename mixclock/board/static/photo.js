// Takes a picture of an area or a batch: scaled down on the phone, with the hash of the camera's original.

import { el, heading, say, target } from "./dom.js";
import { post } from "./link.js";
import { choices, closeSheet, openSheet } from "./sheets.js";
import { flash } from "./stating.js";
import { store } from "./store.js";

const LONGEST_PX = 1280;
const BYTES_AT_MOST = 460 * 1024;

/** Choose what it shows, then take it. */
export function photoSheet() {
  const batches = (store.view?.batches ?? []).map((batch) => ({ name: `batch ${batch.id}`, tied: { batch: batch.id } }));
  const areas = (store.view?.areas ?? []).map((area) => ({ name: area, tied: { area } }));
  const places = [{ name: "whole floor", tied: {} }, ...areas, ...batches];
  let chosen = places[0];
  const row = choices(places.map((each) => each.name), (name) => name === chosen.name, (name) => {
    chosen = places.find((each) => each.name === name);
  });
  const words = el("p", { cls: "quiet", role: "status", text: "The book gets a small copy. Keep the picture in your camera: its hash is stored as proof." });
  const camera = el("input", { type: "file", accept: "image/jpeg,image/png", "aria-label": "A picture", hidden: "" });
  camera.addEventListener("change", () => camera.files[0] && sendPhoto(camera.files[0], chosen, words));
  openSheet("A picture", [heading("Of what?"), row,
    target("Take it", "camera, or one that you have", () => camera.click(), "main wide"), camera, words]);
}

async function sendPhoto(file, chosen, words) {
  say(words, "Sending it …");
  try {
    const [sha256, small] = [await hashOf(file), await scaled(file)];
    const told = await post("/photo", { name: file.name, sha256, small, ...chosen.tied }, 30000);
    if (!told.ok) return say(words, `Not taken: ${told.refused}`);
    closeSheet();
    return flash(`In the book: picture of ${chosen.name}`);
  } catch {
    return say(words, "Not taken: this phone can't read the picture, or the laptop did not answer. Set the camera to JPEG.");
  }
}

/** A JPEG in base64 that is small enough, upright as the camera held it. */
async function scaled(file) {
  const picture = await createImageBitmap(file);
  for (let side = LONGEST_PX, quality = 0.8; ; side *= 0.8, quality = Math.max(0.5, quality - 0.1)) {
    const scale = Math.min(1, side / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const made = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
    if (made.size <= BYTES_AT_MOST || side < 200) return base64(new Uint8Array(await made.arrayBuffer()));
  }
}

function base64(bytes) {
  let text = "";
  for (let at = 0; at < bytes.length; at += 0x8000) text += String.fromCharCode(...bytes.subarray(at, at + 0x8000));
  return btoa(text);
}

/** SHA-256 as hex. Browsers offer theirs only over https or on the machine itself (FIPS 180-4 otherwise). */
export async function hashOf(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  const found = crypto.subtle ? new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)) : sha256(bytes);
  return [...found].map((each) => each.toString(16).padStart(2, "0")).join("");
}

const primes = [2];
for (let n = 3; primes.length < 64; n += 2) if (primes.every((p) => n % p)) primes.push(n);
const fraction = (root) => Math.floor((root - Math.floor(root)) * 2 ** 32);
const ROUNDS = primes.map((p) => fraction(Math.cbrt(p)));
const turn = (x, n) => (x >>> n) | (x << (32 - n));

/** FIPS 180-4, section 6.2. */
export function sha256(bytes) {
  const state = new Uint32Array(primes.slice(0, 8).map((p) => fraction(Math.sqrt(p))));
  const whole = new Uint8Array(((bytes.length + 72) >> 6) << 6);
  whole.set(bytes);
  whole[bytes.length] = 0x80;
  const view = new DataView(whole.buffer);
  view.setUint32(whole.length - 8, Math.floor(bytes.length / 2 ** 29));
  view.setUint32(whole.length - 4, bytes.length << 3);
  const w = new Uint32Array(64);
  for (let block = 0; block < whole.length; block += 64) {
    for (let i = 0; i < 16; i += 1) w[i] = view.getUint32(block + 4 * i);
    for (let i = 16; i < 64; i += 1) {
      const one = turn(w[i - 15], 7) ^ turn(w[i - 15], 18) ^ (w[i - 15] >>> 3);
      const two = turn(w[i - 2], 17) ^ turn(w[i - 2], 19) ^ (w[i - 2] >>> 10);
      w[i] = w[i - 16] + one + w[i - 7] + two;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 64; i += 1) {
      const one = (h + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & f) ^ (~e & g)) + ROUNDS[i] + w[i]) | 0;
      const two = ((turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
    }
    [a, b, c, d, e, f, g, h].forEach((each, place) => { state[place] += each; });
  }
  const made = new DataView(new ArrayBuffer(32));
  state.forEach((each, place) => made.setUint32(4 * place, each));
  return new Uint8Array(made.buffer);
}
