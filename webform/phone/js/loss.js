/**
 * Notices that this phone's book was lost, damaged or put back to an earlier state, as far as that can be known:
 * a mark kept beside the book (localStorage) that is ahead of it; a server that knows this phone while the book is
 * empty; an answer of this phone's own that its book knows nothing of. What was found stays until a person has read it.
 * Where all of a phone's storage is put back at once and nothing was sent since, nobody can know.
 */
import { announce, asked, setMeta, transact } from "./store.js";
/** @typedef {import("./types").Loss} Loss */

const MARK = "ashbook-book";

/** What stands beside the book: who this phone is, how far it has come, and how much waited.
 * @returns {{device: string, lamport: number, count: number, at: string} | null} */
export function marked() {
  try {
    const found = JSON.parse(localStorage.getItem(MARK) ?? "null");
    return typeof found?.device === "string" && Number.isInteger(found.lamport) ? found : null;
  } catch { return null; }
}

/** Sets the mark to what is on disk, never further. @param {number} count  of changes that wait */
export async function mark(count) {
  const { device, lamport } = await book();
  try {
    if (device) localStorage.setItem(MARK, JSON.stringify({ device, lamport, count, at: new Date().toISOString() }));
    else localStorage.removeItem(MARK);
  } catch { /* a phone that has no room for the mark has no mark */ }
}

function book() {
  return transact(["meta"], "readonly", async ({ meta }) => ({
    device: /** @type {string | undefined} */ (await asked(meta.get("device"))),
    lamport: /** @type {number} */ ((await asked(meta.get("lamport"))) ?? 0),
    loss: /** @type {Loss | undefined} */ (await asked(meta.get("loss"))),
  }));
}

/** What was lost and nobody has read of yet. @returns {Promise<Loss | undefined>} */
export async function unreadLoss() {
  return (await book()).loss;
}

/** A person has read of it. */
export function readLoss() {
  return setMeta("loss", undefined);
}

/** Compares the book with the mark, when the app starts and before the mark moves. */
export async function compareWithMark() {
  const [{ device, lamport }, last] = [await book(), marked()];
  if (!last || (device === last.device && lamport >= last.lamport) || (device && device !== last.device)) return;
  await setMeta("loss", /** @type {Loss} */ ({ what: device ? "part" : "all", count: last.count, at: last.at }));
}

/** Where the book is empty: whether the server knows this phone all the same.
 * @param {() => Promise<boolean>} isKnown */
export async function compareWithServer(isKnown) {
  const { device, loss } = await book();
  if (device || loss || !(await isKnown()) || (await book()).device) return;
  await setMeta("loss", /** @type {Loss} */ ({ what: "all", count: null, at: null }));
  announce();
}

/**
 * Compares a page of pulled records with what this book has written, inside the transaction that takes it. Every start of
 * the app has a run of its own, and the book knows each run's last counter; answers from before it did are let be.
 * @param {Record<string, IDBObjectStore>} stores  meta, outbox, confirmed
 * @param {{heads: Record<string, any[]>}[]} records
 */
export async function compareWithBook({ meta, outbox, confirmed }, records) {
  const device = await asked(meta.get("device"));
  const from = (await asked(meta.get("runs_from"))) ?? Infinity;
  /** @type {Map<string, any>} */
  const own = new Map(); // each change once, however many answers it gave
  for (const { heads } of records) {
    for (const answer of Object.values(heads).flat()) {
      if (answer.lamport > from && answer.id.startsWith(`${device}.`)) own.set(answer.id, answer);
    }
  }
  /** @type {Map<string, number>} */
  const runs = new Map();
  for (const answer of own.values()) {
    const [, run, counter] = answer.id.split(".");
    if (!runs.has(run)) runs.set(run, (await asked(meta.get(`run:${run}`))) ?? 0);
    if (Number(counter) <= /** @type {number} */ (runs.get(run))) continue;
    if (await asked(confirmed.get(answer.id)) || (await asked(outbox.getAll())).some((entry) => entry.id === answer.id)) continue; // a tab of an older app
    const before = await asked(meta.get("loss"));
    const count = before?.what === "back" ? before.count : 0;
    runs.set(run, Number(counter));
    meta.put(Number(counter), `run:${run}`); // told once
    meta.put({ what: "back", count: count + 1, at: answer.at }, "loss");
  }
}

/** Notes what a run has written so far, inside the transaction that writes it.
 * @param {IDBObjectStore} meta @param {string} run @param {number} counter */
export async function noteRun(meta, run, counter) {
  await beginRuns(meta);
  meta.put(Math.max(counter, (await asked(meta.get(`run:${run}`))) ?? 0), `run:${run}`);
}

/** From here on this book knows its runs; one that is older than this rule begins with what it has. @param {IDBObjectStore} meta */
export async function beginRuns(meta) {
  if ((await asked(meta.get("runs_from"))) === undefined) meta.put((await asked(meta.get("lamport"))) ?? 0, "runs_from");
}
