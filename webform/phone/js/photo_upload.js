/**
 * Sends the photos that wait, after the changes: in pieces, from where the server has come. One leaves the queue only when
 * the server says that its whole hash is there. sync/PROTOCOL.md, "photos".
 */
import { confirmedNow } from "./clock.js";
import { notePhoto, photoBytes, waitingPhotos } from "./photos.js";

const SMALLEST = 16384;
const LARGEST = 524288;
const TIME_OUT_MS = 30000;
const QUICK_MS = 1000;
const SLOW_MS = 4000;
/** Refusals that sending again cannot mend. */
const FINAL = ["not_a_photo", "too_many_pixels", "photo_too_large", "bad_photo"];
const MOST_STARTS = 3;
let piece = 65536; // grows on a quick link and shrinks on a slow one, so that a cut costs little

/** @typedef {{state: "done" | "offline" | "not_enrolled" | "foreign" | "trouble", confirmed: number}} Sent */

/**
 * @param {boolean} isAsked  a person asked for it: those that were refused are tried again
 * @param {() => Promise<void>} before  each photo: changes that were written meanwhile go first
 * @returns {Promise<Sent>}
 */
export async function sendPhotos(isAsked, before) {
  /** @type {Sent} */
  const sent = { state: "done", confirmed: 0 };
  for (const photo of await waitingPhotos()) {
    if (photo.refused && !isAsked) continue;
    await before();
    const state = await sendOne(photo.sha256);
    if (state === "done") sent.confirmed += 1;
    else if (state !== "refused") return { ...sent, state };
  }
  return sent;
}

/** @param {string} sha256 @returns {Promise<Sent["state"] | "refused">} */
async function sendOne(sha256) {
  const bytes = await photoBytes(sha256);
  if (!bytes) { await notePhoto(sha256, { refused: "no_bytes" }); return "refused"; }
  const address = `/sync/photos/${sha256}`;
  let answer = await ask(address, {});
  for (let starts = 0; starts < MOST_STARTS;) {
    if (answer.state) return answer.state;
    const { error, offset, complete } = answer.said;
    if (error) {
      if (error.code === "wrong_offset" || error.code === "wrong_hash") { starts += 1; answer = await ask(address, {}); continue; }
      if (!FINAL.includes(error.code)) return "trouble";
      await notePhoto(sha256, { refused: error.text });
      return "refused";
    }
    if (answer.said.sha256 !== sha256 || !Number.isInteger(offset)) return "foreign";
    if (complete === true) {
      await notePhoto(sha256, { state: "confirmed", ...confirmedNow(), refused: undefined });
      return "done";
    }
    const start = offset < bytes.byteLength ? offset : 0;
    if (start === 0) starts += 1;
    const body = bytes.slice(start, start + piece);
    answer = await ask(address, { method: "PUT", body, headers: { "Content-Type": "application/octet-stream",
      "Content-Range": `bytes ${start}-${start + body.byteLength - 1}/${bytes.byteLength}` } });
  }
  return "trouble";
}

/** @param {string} address @param {RequestInit} given @returns {Promise<{state?: Sent["state"], said?: any}>} */
async function ask(address, given) {
  const began = performance.now();
  let response;
  try {
    response = await fetch(address, { ...given, redirect: "error", cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(TIME_OUT_MS) });
  } catch {
    piece = SMALLEST;
    return { state: "offline" };
  }
  if (response.status === 401) return { state: "not_enrolled" };
  let said;
  try { said = await response.json(); } catch { return { state: response.ok ? "foreign" : "trouble" }; }
  if (said === null || typeof said !== "object") return { state: "foreign" };
  const took = performance.now() - began;
  if (given.body && took < QUICK_MS) piece = Math.min(LARGEST, piece * 2);
  if (given.body && took > SLOW_MS) piece = Math.max(SMALLEST, piece / 2);
  return { said };
}
