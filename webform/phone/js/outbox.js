/**
 * The outbox: what a person entered and the server has not confirmed. write() resolves when it is on disk, in one
 * transaction with the end of its draft; only a receipt takes a change out again (transport.js).
 */
import { noteRun } from "./loss.js";
import { namedPhotos, noteCarried, photosToCarry, queuePhotos } from "./photos.js";
import { announce, asked, endDraft, setMeta, transact } from "./store.js";
import { draw, emptyView, remerge } from "./views.js";
import { DECLARATION } from "ashbook:baked";
/** @typedef {import("./types").Entry} Entry */
/** @typedef {import("./types").Change} Change */

const HEX = 16;
const NAME_STEP_MS = 8;
const LARGEST_FILE = 200 * 2 ** 20;
const MOST_CARRIED = 2000;
const LISTED_BYTES = 110; // that the first line needs for a photo
const run = [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(HEX).padStart(2, "0")).join("");
let counter = 0;
let lamport = 0;

/** Sixteen characters for the name of a new record: when it was made, then random ones; see new_name in sync/change.py. */
export function newName() {
  const letters = "0123456789abcdefghjkmnpqrstvwxyz";
  const steps = Math.floor(Date.now() / NAME_STEP_MS);
  const when = Array.from({ length: 8 }, (_, place) => letters[Math.floor(steps / 32 ** (7 - place)) % 32]);
  return [...when, ...[...crypto.getRandomValues(new Uint8Array(8))].map((byte) => letters[byte & 31])].join("");
}

/** The device that this phone is enrolled as and the person who is signed in. */
export async function whoami() {
  return transact(["meta"], "readonly", async ({ meta }) => ({
    device: /** @type {string | undefined} */ (await asked(meta.get("device"))),
    person: /** @type {string | undefined} */ (await asked(meta.get("person"))),
    shop: /** @type {any} */ (await asked(meta.get("shop"))),
  }));
}

/** @param {string | null} person */
export async function signIn(person) {
  await setMeta("person", person ?? undefined);
  announce();
}

/** Resolves with the ids of the changes once they are on disk.
 * @param {Entry[]} entries @param {{draft?: string}} [options] @returns {Promise<string[]>} */
export async function write(entries, options = {}) {
  const { device, person } = await whoami();
  if (!device) throw Object.assign(new Error("not enrolled"), { code: "page.not_enrolled" });
  const author = person ?? `device:${device}`;
  lamport = Math.max(lamport, (await storedLamport()));
  /** @type {import("./types").Queued[]} */
  const queued = [];
  for (const entry of entries) {
    lamport = Math.min(lamport + 1, Number.MAX_SAFE_INTEGER); // the server takes no larger one
    /** @type {Change} */
    const change = {
      id: `${device}.${run}.${++counter}`, kind: entry.kind, record: entry.record, set: entry.set,
      replaces: entry.replaces ?? {}, lamport, at: new Date().toISOString(), by: author,
      schema: DECLARATION.schema,
    };
    if (entry.basis) change.basis = entry.basis;
    const text = JSON.stringify(change);
    queued.push({ id: change.id, hash: await contentHash(text), text, change });
  }
  const [highest, written] = [lamport, counter];
  await transact(["outbox", "drafts", "views", "meta", "photos"], "readwrite", async ({ outbox, drafts, views, meta, photos }) => {
    await queuePhotos(photos, namedPhotos(queued.map((entry) => entry.change.set)));
    for (const entry of queued) {
      outbox.add(entry);
      const view = (await asked(views.get(entry.change.record))) ?? emptyView(entry.change.record, entry.change.kind);
      draw(view, entry.change);
      views.put(view);
    }
    if (options.draft) endDraft(drafts, options.draft);
    await noteRun(meta, run, written);
    meta.put(Math.max(highest, (await asked(meta.get("lamport"))) ?? 0), "lamport");
  });
  announce();
  remerge(queued.map((entry) => entry.change.record)).then(announce, () => undefined);
  return queued.map((entry) => entry.id);
}

function storedLamport() {
  return transact(["meta"], "readonly", async ({ meta }) => (await asked(meta.get("lamport"))) ?? 0);
}

/** The first 32 hex digits of the SHA-256 of the text's UTF-8 bytes. @param {string} text */
export async function contentHash(text) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text)));
  return [...digest.slice(0, HEX)].map((byte) => byte.toString(HEX).padStart(2, "0")).join("");
}

/** What waits, since when, and whether this phone could be lost without losing work.
 * @returns {Promise<import("./types").Waiting>} */
export async function waiting() {
  const persistent = (await navigator.storage?.persisted?.()) ?? false;
  return transact(["outbox", "drafts", "held", "views", "meta", "photos"], "readonly", async ({ outbox, drafts, held, views, meta, photos }) => {
    const count = await asked(outbox.count());
    const oldest = count ? await asked(outbox.openCursor()) : null;
    return {
      count, drafts: await asked(drafts.count()), since: oldest?.value.change.at ?? null, held: await heldCount(held, views),
      photos: await asked(photos.index("state").count("waiting")),
      confirmed: (await asked(meta.get("confirmed_at"))) ?? null, persistent,
      isShut: (await asked(meta.get("door_shut"))) === true && Boolean(await asked(meta.get("device"))),
      clockOff: /** @type {number | undefined} */ (await asked(meta.get("clock_off_minutes"))),
      isLost: Boolean(await asked(meta.get("loss"))),
    };
  });
}

/** @returns {Promise<import("./types").Queued[]>} */
export function unsent() {
  return transact(["outbox"], "readonly", ({ outbox }) => asked(outbox.getAll()));
}

/** How many are kept aside at the office and nobody there has looked at yet. @param {IDBObjectStore} held @param {IDBObjectStore} views */
async function heldCount(held, views) {
  let count = 0;
  for (const { hash } of await asked(held.getAll())) if (!(await asked(views.getKey(seenName(hash))))) count += 1;
  return count;
}

/** The record in which the office says what came of a held change. @param {string} hash */
export function seenName(hash) {
  return `held:${hash}`;
}

/** @returns {Promise<import("./types").Queued[]>} */
export function heldChanges() {
  return transact(["held"], "readonly", ({ held }) => asked(held.getAll()));
}

/**
 * A file that carries all that the server has not confirmed, as many of the waiting photos as one may hold among it.
 * sync/PROTOCOL.md, "A client's rules", 5. Without photos it is of version 1, which older servers read too.
 * @returns {Promise<{file: Blob, name: string, changes: number, photos: number, left: number}>}
 */
export async function exportFile() {
  const { device } = await whoami();
  const all = [...(await unsent()), ...(await heldChanges())];
  const said = {
    ashbook_outbox: 1, device, schema: DECLARATION.schema,
    changes: all.map((entry) => entry.text), hashes: all.map((entry) => entry.hash),
  };
  const plain = new Blob([JSON.stringify(said)], { type: "application/json" });
  const { carried, left } = await photosToCarry(LARGEST_FILE - plain.size - MOST_CARRIED * LISTED_BYTES, MOST_CARRIED);
  const counts = { changes: all.length, photos: carried.length, left };
  if (!carried.length) return { file: plain, name: "ashbook-outbox.json", ...counts };
  const photos = carried.map((photo) => ({ sha256: photo.sha256, bytes: photo.bytes.size }));
  const file = new Blob([JSON.stringify({ ...said, ashbook_outbox: 2, photos }), "\n", ...carried.map((photo) => photo.bytes)],
    { type: "application/octet-stream" });
  await noteCarried(photos.map((photo) => photo.sha256)).catch(() => undefined); // on a full phone the file is all the same
  return { file, name: "ashbook-outbox.ashbook", ...counts };
}
