/** The calculation in its worker: Python shared with the server. Lazy; a worker that hangs is ended and a new one started. */
import { ASSETS, WORDS } from "ashbook:baked";

const TIME_OUT_MS = 8000;
/** @type {Worker | null} */
let worker = null;
let sequence = 0;
let isUnavailable = false; // WebAssembly cannot start here
/** @type {Map<number, {resolve: (value: any) => void, reject: (problem: any) => void, timer: number}>} */
const waiting = new Map();

function unavailable() {
  return Object.assign(new Error("the calculation cannot run here"), { code: "calc_unavailable" });
}

/** @param {any} problem */
function stop(problem) {
  worker?.terminate();
  worker = null;
  for (const entry of waiting.values()) { clearTimeout(entry.timer); entry.reject(problem); }
  waiting.clear();
}

function start() {
  worker = new Worker(ASSETS.calc_worker, { type: "module" });
  worker.onmessage = ({ data }) => {
    const entry = waiting.get(data.id);
    if (data.dead) { isUnavailable = true; stop(unavailable()); return; }
    if (!entry) return;
    waiting.delete(data.id);
    clearTimeout(entry.timer);
    if (data.answer.ok) entry.resolve(data.answer.value);
    else entry.reject(Object.assign(new Error(data.answer.error.text), data.answer.error));
  };
  worker.onerror = () => { isUnavailable = true; stop(unavailable()); };
  worker.postMessage({ id: 0, micropython: ASSETS.micropython, calc: ASSETS.calc, words: WORDS });
}

/**
 * One call of webform/checklist/calls.py; rejects with code "calc_unavailable" where it cannot run.
 * @param {string} op @param {Record<string, any>} given @returns {Promise<any>}
 */
export function calc(op, given) {
  if (isUnavailable || typeof WebAssembly === "undefined") {
    isUnavailable = true;
    return Promise.reject(unavailable());
  }
  if (!worker) start();
  return new Promise((resolve, reject) => {
    const id = ++sequence;
    const timer = setTimeout(() => stop(Object.assign(new Error("the calculation took too long"), { code: "calc_slow" })),
      TIME_OUT_MS);
    waiting.set(id, { resolve, reject, timer: /** @type {any} */ (timer) });
    worker?.postMessage({ id, request: { op, ...given } });
  });
}
