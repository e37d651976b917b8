/**
 * The exchange with the server; sync/PROTOCOL.md is the rule book. A change leaves the outbox only on a receipt with its
 * id and its hash. Anything else, be it status 200 with a login page, leaves everything as it is.
 */
import { confirmedNow, olderThan } from "./clock.js";
import { beginRuns, compareWithBook } from "./loss.js";
import { offerAgain, offerHeld } from "./offering.js";
import { sendPhotos } from "./photo_upload.js";
import { sweepPhotos } from "./photos.js";
import { load, post, Stopped, TooLarge } from "./request.js";
import { announce, asked, meta, setMeta, transact } from "./store.js";
import { drawn, overlays, redraw, remerge } from "./views.js";
import { CALCULATION, DECLARATION } from "ashbook:baked";
/** @typedef {import("./types").SyncResult} SyncResult */

const BATCH = 500;
const BATCH_CHARACTERS = 2000000;
const KEPT_MS = 30 * 86400000;
const PAGE = 1000; // records, the most that a server gives at a time
const FETCHED = 500;
const EVERY_MS = 30000;
/** @type {Promise<SyncResult> | null} */
let running = null;
/** @type {Promise<SyncResult> | null} */
let next = null; // that a person asked for while one was running
const up = load(BATCH); // changes
const down = load(PAGE); // records
let isSwept = false; // once in each start of the app, as soon as the server's time is known

/** Sends what waits and fetches what changed; one at a time. A second call joins the first; one that a person asks for
 * begins behind it, for the first may be past what was written since.
 * @param {boolean} [isAsked]  by a person @returns {Promise<SyncResult>} */
export function syncNow(isAsked = false) {
  if (running && isAsked) return (next ??= running.catch(() => undefined).then(() => { next = null; return syncNow(true); }));
  running ??= locked(isAsked).finally(() => { running = null; announce(); });
  return running;
}

/** @returns {Promise<SyncResult>} */
async function locked(/** @type {boolean} */ isAsked) {
  if (!navigator.locks) return exchange(isAsked);
  return navigator.locks.request("ashbook-sync", { ifAvailable: true }, (lock) =>
    lock ? exchange(isAsked) : /** @type {SyncResult} */ ({ state: "busy", sent: 0, confirmed: 0, held: 0, pulled: 0, photos: 0 }));
}

/** @returns {Promise<SyncResult>} */
async function exchange(/** @type {boolean} */ isAsked) {
  /** @type {SyncResult} */
  const result = { state: "done", sent: 0, confirmed: 0, held: 0, pulled: 0, photos: 0 };
  try {
    const device = await transact(["meta"], "readonly", ({ meta }) => asked(meta.get("device")));
    if (!device) throw new Stopped("not_enrolled");
    if (isAsked || (await meta("held_offered_under")) !== CALCULATION) await offerHeld(); // asked, or after an update
    await push(result);
    const isReset = await pull(result);
    if (isReset) { await push(result); await pull(result); }
    for (;;) {
      const wanted = (await meta("wanted")) ?? [];
      if (!wanted.length) break;
      const some = wanted.slice(0, Math.min(FETCHED, down.now()));
      await down.carry(some.length, () => take({ records: some }));
    }
    await setMeta("confirmed_at", new Date().toISOString());
    await setMeta("door_shut", false);
    const photos = await sendPhotos(isAsked, () => push(result));
    result.photos = photos.confirmed;
    if (photos.state !== "done") throw new Stopped(photos.state);
    if (!isSwept) await sweepPhotos().catch(() => undefined);
    isSwept = true;
  } catch (problem) {
    if (!(problem instanceof Stopped)) throw problem;
    result.state = problem.state;
    if (problem.state === "not_enrolled") await setMeta("door_shut", true);
  }
  return result;
}

/** @param {SyncResult} result */
async function push(result) {
  let most = BATCH; // that the server takes at a time
  for (;;) {
    const { batch, witness } = await transact(["outbox", "meta"], "readonly", async ({ outbox, meta }) =>
      ({ batch: fitting(await asked(outbox.getAll(null, Math.min(most, up.now())))), witness: await asked(meta.get("witness")) }));
    if (!batch.length) return;
    let answer;
    try {
      answer = await up.carry(batch.length, () => post("/sync/push", { schema: DECLARATION.schema,
        changes: batch.map((entry) => entry.text), hashes: batch.map((entry) => entry.hash), witness: witness ?? null }));
    } catch (problem) {
      if (!(problem instanceof TooLarge) || batch.length === 1) throw problem;
      most = batch.length >> 1;
      continue;
    }
    if (typeof answer?.epoch !== "string" || !Array.isArray(answer.receipts)) throw new Stopped("foreign");
    result.sent += batch.length;
    const byId = new Map(answer.receipts.filter(Boolean).map((/** @type {any} */ receipt) => [receipt.id, receipt]));
    let moved = 0;
    /** @type {Set<string>} */
    const uncovered = new Set();
    await transact(["outbox", "confirmed", "held", "snapshots", "views", "meta", "photos"], "readwrite", async (stores) => {
      const { outbox, confirmed, held, meta, photos } = stores;
      if (answer.reset) {
        await offerAgain({ outbox, confirmed, held, photos });
        const cursor = await asked(meta.get("cursor")); // it counts in the log that is gone; a receipt of the new one may lie before it
        if (cursor) meta.put({ ...cursor, epoch: "" }, "cursor");
      }
      for (const entry of batch) {
        const receipt = byId.get(entry.id);
        if (!receipt || receipt.hash !== entry.hash) continue;
        if (receipt.status === "stored" && Number.isInteger(receipt.position)) {
          const { n, ...kept } = entry;
          confirmed.put({ ...kept, position: receipt.position, epoch: answer.epoch, ...confirmedNow() });
          outbox.delete(n);
          result.confirmed += 1;
        } else if (receipt.status === "held") {
          const { n, ...kept } = entry;
          held.put({ ...kept, reason: receipt.reason });
          uncovered.add(entry.change.record);
          outbox.delete(n);
          result.held += 1;
        } else continue;
        moved += 1;
      }
      if (answer.end) meta.put(answer.end, "witness");
      if (uncovered.size) await redraw(stores, uncovered);
    });
    announce();
    if (uncovered.size) remerge([...uncovered]).then(announce, () => undefined);
    if (!moved) throw new Stopped("trouble");
  }
}

/**
 * As many of these as one request may carry, one at least.
 * @template {{text: string}} T
 * @param {T[]} entries @returns {T[]}
 */
function fitting(entries) {
  let characters = 0;
  const end = entries.findIndex((entry) => (characters += entry.text.length) > BATCH_CHARACTERS);
  return end < 0 ? entries : entries.slice(0, Math.max(1, end));
}

/** Whether an answer is a page of records. @param {any} page */
function isPage(page) {
  return typeof page?.epoch === "string" && Number.isInteger(page.cursor?.position) && Array.isArray(page.records) && page.records.every(
    (/** @type {any} */ record) => typeof record?.record === "string" && record.heads && Object.values(record.heads).every(Array.isArray));
}

/** @param {SyncResult} result @returns {Promise<boolean>} whether the server was put back */
async function pull(result) {
  let wasReset = false;
  for (;;) {
    const { cursor, witness } = await transact(["meta"], "readonly", async ({ meta }) =>
      ({ cursor: await asked(meta.get("cursor")), witness: await asked(meta.get("witness")) }));
    const most = down.now();
    const page = await down.carry(most, () => post("/sync/pull", { cursor: cursor ?? null, next: null, witness: witness ?? null,
      ...(most < PAGE ? { most } : {}) }));
    if (!isPage(page)) throw new Stopped("foreign");
    await transact(["snapshots", "views", "outbox", "confirmed", "held", "meta", "photos"], "readwrite", async (stores) => {
      if (page.reset) {
        wasReset = true;
        stores.snapshots.clear();
        stores.views.clear();
        stores.meta.delete("brought");
        await offerAgain(stores);
      }
      stores.meta.put(page.cursor, "cursor");
      if (!witness || page.reset || witness.epoch !== page.epoch || witness.position < page.cursor.position) {
        stores.meta.put(page.cursor, "witness");
      }
      await beginRuns(stores.meta);
      const wanted = new Set(page.reset ? [] : await asked(stores.meta.get("wanted")));
      stores.meta.put([...wanted], "wanted");
      await noteBrought(stores, page.reset ? [] : page.records, page.cursor);
      const over = await overlays(stores);
      let lamport = (await asked(stores.meta.get("lamport"))) ?? 0;
      const forgotten = new Set();
      await compareWithBook(stores, page.records);
      for (const record of page.records) {
        if (record.whole === false && !(await asked(stores.snapshots.get(record.record)))) {
          wanted.add(record.record); // a part of what this phone does not carry
          continue;
        }
        const snapshot = (await asked(stores.snapshots.get(record.record))) ??
          { record: record.record, kind: record.kind, heads: {}, gone: {} };
        Object.assign(snapshot.heads, record.heads);
        for (const answers of Object.values(record.heads)) {
          for (const answer of /** @type {any[]} */ (answers)) lamport = Math.max(lamport, answer.lamport);
        }
        stores.snapshots.put(snapshot);
        if (isErased(snapshot)) forgotten.add(record.record);
        stores.views.put(drawn(snapshot, over.get(record.record) ?? []));
      }
      if (page.reset) await redraw(stores, over.keys()); // what only this phone knows stays on its screens
      stores.meta.put([...wanted], "wanted");
      stores.meta.put(lamport, "lamport");
      const isOld = olderThan(KEPT_MS);
      for (const entry of await asked(stores.confirmed.getAll())) {
        if (((isOld(entry) && !page.next) || forgotten.has(entry.change.record)) && entry.epoch === page.epoch &&
          entry.position <= page.cursor.position) stores.confirmed.delete(entry.id);
      }
      for (const entry of forgotten.size ? await asked(stores.held.getAll()) : []) {
        if (forgotten.has(entry.change.record)) stores.held.delete(entry.id);
      }
    });
    result.pulled += page.records.length;
    announce();
    remerge(page.records.map((/** @type {any} */ record) => record.record)).then(announce, () => undefined);
    if (!page.next) return wasReset;
  }
}

/** Whether this record held a person's data and nothing of it stands any more. @param {import("./types").Snapshot} snapshot */
function isErased(snapshot) {
  return DECLARATION.personal.includes(snapshot.kind) && Object.values(snapshot.heads).every((answers) =>
    answers.every((/** @type {any} */ answer) => answer.value === null));
}

/**
 * Notes of records with own confirmed changes which page of a pull brought them, until the last one has come.
 * @param {Record<string, IDBObjectStore>} stores  confirmed, meta @param {{record: string}[]} records @param {any} cursor  of the page
 */
async function noteBrought({ confirmed, meta }, records, cursor) {
  if (cursor.since === undefined || cursor.since === null) { meta.delete("brought"); return; }
  const own = new Set((await asked(confirmed.getAll())).map((/** @type {any} */ entry) => entry.change.record));
  const brought = (await asked(meta.get("brought"))) ?? {};
  for (const { record } of records) if (own.has(record)) brought[record] = cursor.position;
  meta.put(brought, "brought");
}

/** Takes whole records from the server; never beside a pull, whose newer answers it could take back. @param {{records: string[], around?: string[]}} request */
async function take(request) {
  const answer = await post("/sync/fetch", request);
  if (!isPage({ epoch: "", cursor: { position: 0 }, records: answer?.records })) throw new Stopped("foreign");
  await transact(["snapshots", "views", "outbox", "confirmed", "meta"], "readwrite", async (stores) => {
    const [cursor, wanted] = [await asked(stores.meta.get("cursor")), (await asked(stores.meta.get("wanted"))) ?? []];
    const here = new Set([...request.records, ...answer.records.map((/** @type {any} */ entry) => entry.record)]);
    stores.meta.put(wanted.filter((/** @type {string} */ record) => !here.has(record)), "wanted"); // what does not exist is no longer to be fetched
    if (cursor) await noteBrought(stores, answer.records, cursor);
    for (const { record, kind, heads } of answer.records) stores.snapshots.put({ record, kind, heads, gone: {} });
    await redraw(stores, answer.records.map((/** @type {any} */ entry) => entry.record));
  });
  announce();
  remerge(answer.records.map((/** @type {any} */ entry) => entry.record)).then(announce, () => undefined);
}

/**
 * Fetches a record that this phone does not carry, with all that refers to it; waits for a sync that runs.
 * @param {string} record @returns {Promise<SyncResult["state"]>}
 */
export async function fetchAround(record) {
  const fetching = async () => {
    try { await take({ records: [], around: [record] }); return /** @type {const} */ ("done"); } catch (problem) {
      if (!(problem instanceof Stopped)) throw problem;
      return problem.state;
    }
  };
  if (navigator.locks) return navigator.locks.request("ashbook-sync", fetching);
  await running?.catch(() => undefined);
  return fetching();
}

/** Whether the server knows this phone's credential; false where it cannot be asked. */
export async function isKnown() {
  try {
    return Array.isArray((await post("/sync/push", { schema: DECLARATION.schema, changes: [], hashes: [], witness: null })).receipts);
  } catch { return false; }
}

/** Enrols this phone with a one-time code; resolves when its name is on disk. @param {string} code @param {string} name */
export async function enrol(code, name) {
  const answer = await post("/sync/enrol", { code, name });
  await setMeta("device", answer.device);
  announce();
  await running?.catch(() => undefined); // one that began before this phone had a name has fetched nothing
  return syncNow();
}

/** Keeps the outbox draining while the app is open; needs neither background sync nor a truthful onLine. */
export function keepSyncing() {
  const again = () => { syncNow().catch(() => undefined); };
  addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  setInterval(again, EVERY_MS);
  again();
}
