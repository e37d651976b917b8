/**
 * Views of records: what screens read. The merge itself is Python (sync/merge.py) and has the last word; what stands
 * here draws an answer at once, before the interpreter has started or where it cannot start at all.
 */
import { calc } from "./calc.js";
import { asked, transact } from "./store.js";
/** @typedef {import("./types").View} View */
/** @typedef {import("./types").Answer} Answer */
/** @typedef {import("./types").Change} Change */
/** @typedef {import("./types").Snapshot} Snapshot */

const BATCH = 200;
const IS_RECORD = /^[a-z][a-z0-9_]*:[A-Za-z0-9_.-]+$/;

/** A text that is equal for equal values. @param {any} value @returns {string} */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value !== null && typeof value === "object") {
    return `{${Object.keys(value).sort().map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`).join(",")}}`;
  }
  return JSON.stringify(value) ?? "null";
}

/** @param {string} record @param {string} kind @returns {View} */
export function emptyView(record, kind) {
  return { record, kind, fields: {}, links: [] };
}

/** The view with one change drawn over it, in place. @param {View} view @param {Change} change */
export function draw(view, change) {
  for (const field of Object.keys(change.set)) {
    const gone = new Set(change.replaces[field] ?? []);
    const kept = (view.fields[field]?.answers ?? []).filter((answer) => !gone.has(answer.id) && answer.id !== change.id);
    /** @type {Answer} */
    const answer = { id: change.id, value: change.set[field], by: change.by, at: change.at, lamport: change.lamport };
    if (change.basis) answer.basis = change.basis;
    view.fields[field] = fieldOf([...kept, answer]);
  }
  linked(view);
}

/** @param {Answer[]} answers @returns {import("./types").ViewField} */
function fieldOf(answers) {
  const sorted = answers.sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
  const isOpen = sorted.some((answer) => canonical(answer.value) !== canonical(sorted[0].value));
  return { answers: sorted, used: isOpen ? null : sorted[0].value, open: isOpen };
}

/** Names the records that a view links to, for the index. @param {View} view */
function linked(view) {
  const links = new Set();
  for (const [field, held] of Object.entries(view.fields)) {
    for (const answer of held.answers) {
      if (typeof answer.value === "string" && IS_RECORD.test(answer.value)) links.add(`${view.kind}.${field}=${answer.value}`);
    }
  }
  view.links = [...links];
  return view;
}

/** @param {Snapshot} snapshot @param {Change[]} overlay @returns {View} */
export function drawn(snapshot, overlay) {
  const view = emptyView(snapshot.record, snapshot.kind);
  for (const [field, answers] of Object.entries(snapshot.heads)) {
    if (answers.length) view.fields[field] = fieldOf([...answers]);
  }
  for (const change of overlay) draw(view, change);
  return linked(view);
}

/**
 * Draws these records anew from what was pulled and what lies over it; one of which nothing is left goes from the screens.
 * @param {Record<string, IDBObjectStore>} stores  snapshots, views, outbox, confirmed, meta
 * @param {Iterable<string>} records
 */
export async function redraw(stores, records) {
  const over = await overlays(stores);
  for (const record of records) {
    const changes = over.get(record) ?? [];
    const snapshot = await asked(stores.snapshots.get(record));
    if (snapshot || changes.length) stores.views.put(drawn(snapshot ?? { record, kind: record.split(":")[0], heads: {} }, changes));
    else stores.views.delete(record);
  }
}

/**
 * The position up to which the snapshot of a record holds all. That is the cursor's, but of a record that is still to be fetched
 * none, and between the pages of a pull that of the record's own page, or where the pull began.
 * @param {{position: number, since?: number | null}} cursor @param {Set<string>} wanted @param {Record<string, number>} brought
 */
function heldUpTo(cursor, wanted, brought) {
  return (/** @type {string} */ record) => (wanted.has(record) ? 0 : cursor.since === undefined || cursor.since === null ? cursor.position : brought[record] ?? cursor.since);
}

/**
 * Which own changes lie over the snapshot: those without a receipt, and those whose receipt lies beyond what the record holds.
 * @param {Record<string, IDBObjectStore>} stores  outbox, confirmed, meta
 * @returns {Promise<Map<string, Change[]>>} by record
 */
export async function overlays(stores) {
  const cursor = await asked(stores.meta.get("cursor"));
  const confirmed = await asked(stores.confirmed.getAll());
  const waiting = await asked(stores.outbox.getAll());
  const held = cursor && heldUpTo(cursor, new Set((await asked(stores.meta.get("wanted"))) ?? []), (await asked(stores.meta.get("brought"))) ?? {});
  const beyond = confirmed.filter((entry) => !cursor || entry.epoch !== cursor.epoch || entry.position > held(entry.change.record));
  beyond.sort((a, b) => a.change.lamport - b.change.lamport);
  const found = new Map();
  for (const { change } of [...beyond, ...waiting]) {
    if (!found.has(change.record)) found.set(change.record, []);
    found.get(change.record).push(change);
  }
  return found;
}

/**
 * Lets the one merge lay the outbox over the snapshots of these records and stores the views that it gives.
 * Where Python cannot start, the drawn views stay.
 * @param {Iterable<string>} records
 */
export async function remerge(records) {
  const wanted = [...new Set(records)];
  for (let start = 0; start < wanted.length; start += BATCH) {
    const batch = wanted.slice(start, start + BATCH);
    const given = await transact(["snapshots", "outbox", "confirmed", "meta"], "readonly", async (stores) => {
      const over = await overlays(stores);
      const found = [];
      for (const record of batch) {
        const snapshot = await asked(stores.snapshots.get(record));
        const changes = over.get(record) ?? [];
        if (snapshot || changes.length) found.push({ snapshot: snapshot ?? null, changes });
      }
      return found;
    });
    if (!given.length) continue;
    const seen = canonical(given);
    const merged = await calc("merge", { records: given });
    await transact(["snapshots", "outbox", "confirmed", "meta", "views"], "readwrite", async (stores) => {
      const over = await overlays(stores); // written meanwhile? then that write's own merge brings the newer view
      const now = [];
      for (const entry of given) {
        const record = entry.snapshot?.record ?? entry.changes[0].record;
        const snapshot = (await asked(stores.snapshots.get(record))) ?? null;
        now.push({ snapshot, changes: over.get(record) ?? [] });
      }
      if (canonical(now) !== seen) return;
      for (const entry of merged) stores.views.put(linked(entry.view));
    });
  }
}
