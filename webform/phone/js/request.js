/** One request to the server: packed, within a time, and what it means when something else comes back than our server's answer. */
import { noteClock } from "./clock.js";
/** @typedef {import("./types").SyncResult} SyncResult */

const TIME_OUT_MS = 20000;
const QUICK_MS = 5000;
const AT_ONCE_MS = 1000; // what fails sooner has not begun: there is no link, and nothing is learnt of it
const LEAST = 8;
const PACK_FROM = 1000;

/** Why nothing goes on, as the state that a sync ends in. */
export class Stopped extends Error {
  /** @param {SyncResult["state"]} state */
  constructor(state) { super(state); this.state = state; }
}

/** The server takes less at a time. */
export class TooLarge extends Stopped {}

/** Nothing came in time, or it broke off: the link may carry too little for what was asked. */
export class NotCarried extends Stopped {}

/**
 * How many at a time the link seems to carry: half as many after what it did not, a quarter more after what came quickly.
 * @param {number} most
 */
export function load(most) {
  let now = most;
  return {
    now: () => now,
    /** The answer to what was asked for so many. @template T @param {number} count @param {() => Promise<T>} ask @returns {Promise<T>} */
    async carry(count, ask) {
      const began = performance.now();
      try {
        const answer = await ask();
        if (performance.now() - began < QUICK_MS) now = Math.min(most, now + (now >> 2));
        return answer;
      } catch (problem) {
        if (problem instanceof NotCarried) now = Math.max(LEAST, count >> 1);
        throw problem;
      }
    },
  };
}

/** How long an answer is waited for: from the request, and anew from each piece of it that comes. A slow link is no dead one. */
function patience() {
  const ended = new AbortController();
  /** @type {AbortSignal} */
  let limit;
  const renew = () => {
    const mine = limit = AbortSignal.timeout(TIME_OUT_MS);
    mine.addEventListener("abort", () => { if (mine === limit) ended.abort(); });
  };
  renew();
  return { signal: ended.signal, renew };
}

/** The text of an answer. @param {Response} response @param {() => void} renew @returns {Promise<string>} */
async function textOf(response, renew) {
  const reader = response.body?.getReader();
  const decoder = new TextDecoder();
  for (let text = ""; ;) {
    const piece = await reader?.read();
    if (!piece || piece.done) return text + decoder.decode();
    text += decoder.decode(piece.value, { stream: true });
    renew();
  }
}

/** The answer to a request, packed where that is worth it; raises Stopped. @param {string} path @param {any} request @returns {Promise<any>} */
export async function post(path, request) {
  /** @type {BodyInit} */
  let body = JSON.stringify(request);
  /** @type {Record<string, string>} */
  const headers = { "Content-Type": "application/json" };
  if (body.length > PACK_FROM && typeof CompressionStream !== "undefined") {
    body = await new Response(new Blob([body]).stream().pipeThrough(new CompressionStream("gzip"))).arrayBuffer();
    headers["Content-Encoding"] = "gzip";
  }
  const { signal, renew } = patience();
  const began = performance.now();
  let response;
  try {
    response = await fetch(path, { method: "POST", body, headers, redirect: "error", cache: "no-store",
      credentials: "same-origin", signal });
  } catch { throw signal.aborted || performance.now() - began > AT_ONCE_MS ? new NotCarried("offline") : new Stopped("offline"); }
  await noteClock(response.headers.get("Date"));
  if (response.status === 401) throw new Stopped("not_enrolled");
  if (response.status === 413) throw new TooLarge("trouble");
  let text, answer;
  try { text = await textOf(response, renew); } catch { throw new NotCarried("offline"); }
  try { answer = JSON.parse(text); } catch { throw new Stopped(response.ok ? "foreign" : "trouble"); }
  if (!response.ok) throw Object.assign(new Stopped("trouble"), { answer });
  return answer;
}
