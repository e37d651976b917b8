/**
 * The phone's book on disk. Every write asks for strict durability and is done only when its transaction is complete;
 * every failure rejects with a code that a screen has a sentence for, none is silent. A connection that the browser has
 * ended is opened again once.
 *
 * drafts: half-filled steps. outbox: changes without a receipt. confirmed: changes with one, kept 30 days.
 * photos, photo_bytes: pictures, see photos.js. held: changes that the server keeps aside. snapshots: what was pulled. views: what screens read. meta: the rest.
 */
/** @typedef {import("./types").View} View */
/** @typedef {import("./types").Draft} Draft */

const NAME = "ashbook";
const VERSION = 2;
/** @type {Promise<IDBDatabase> | null} */
let opening = null;
const channel = new BroadcastChannel("ashbook");
/** @type {Set<() => void>} */
const listeners = new Set();
channel.onmessage = (/** @type {MessageEvent} */ { data }) => {
  refused.delete(data?.draft); // another tab has kept or ended this one since
  listeners.forEach((listener) => listener());
};

/** The book could not be written or read; code: the sentence for the person. */
export class BookFailed extends Error {
  /** @param {string} code @param {any} cause */
  constructor(code, cause) { super(`${code}: ${cause}`); this.code = code; this.cause = cause; }
}

/** @param {any} problem @param {"readonly" | "readwrite"} mode */
function failure(problem, mode) {
  if (problem instanceof BookFailed || !(problem instanceof DOMException)) return problem;
  if (problem.name === "VersionError") return new BookFailed("page.book_newer", problem);
  if (mode === "readonly") return new BookFailed("page.book_unread", problem);
  return new BookFailed(problem.name === "QuotaExceededError" ? "page.book_full" : "page.not_saved", problem);
}

/** @returns {Promise<IDBDatabase>} */
function database() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = ({ oldVersion }) => { // each step adds to what is there; nothing is ever made anew
      const db = request.result;
      if (oldVersion < 2) {
        db.createObjectStore("photos", { keyPath: "sha256" }).createIndex("state", "state");
        db.createObjectStore("photo_bytes");
      }
      if (oldVersion >= 1) return;
      db.createObjectStore("drafts", { keyPath: "key" });
      db.createObjectStore("outbox", { keyPath: "n", autoIncrement: true });
      db.createObjectStore("confirmed", { keyPath: "id" });
      db.createObjectStore("held", { keyPath: "id" });
      db.createObjectStore("snapshots", { keyPath: "record" });
      const views = db.createObjectStore("views", { keyPath: "record" });
      views.createIndex("kind", "kind");
      views.createIndex("links", "links", { multiEntry: true });
      db.createObjectStore("meta");
    };
    request.onsuccess = () => {
      const db = request.result;
      db.onversionchange = () => { db.close(); opening = null; };
      db.onclose = () => { opening = null; };
      resolve(db);
    };
    request.onerror = () => { opening = null; reject(request.error); };
    request.onblocked = () => { opening = null; reject(new BookFailed("page.book_blocked", "another tab holds the old book open")); };
  });
  return opening;
}

/**
 * Runs work inside one transaction and resolves with what it returned once the transaction is complete.
 * @template T
 * @param {string[]} names
 * @param {"readonly" | "readwrite"} mode
 * @param {(stores: Record<string, IDBObjectStore>) => Promise<T> | T} work  may await only requests of these stores
 * @returns {Promise<T>}
 */
export async function transact(names, mode, work) {
  try {
    return await completed(names, mode, work);
  } catch (problem) {
    if (mode === "readwrite" || !(problem instanceof DOMException)) throw failure(problem, mode);
    drop();
    return completed(names, mode, work).catch((again) => { throw failure(again, mode); }); // ended while it was read
  }
}

/** Lets go of a connection that the browser has ended, as phones do in the background; the next one is opened anew. */
function drop() {
  opening?.then((db) => db.close(), () => undefined);
  opening = null;
}

/** @param {string[]} names @param {"readonly" | "readwrite"} mode @returns {Promise<IDBTransaction>} */
async function begun(names, mode) {
  try {
    return (await database()).transaction(names, mode, { durability: "strict" });
  } catch (problem) {
    if (!(problem instanceof DOMException)) throw problem;
    drop();
    return (await database()).transaction(names, mode, { durability: "strict" });
  }
}

/**
 * @template T
 * @param {string[]} names @param {"readonly" | "readwrite"} mode
 * @param {(stores: Record<string, IDBObjectStore>) => Promise<T> | T} work @returns {Promise<T>}
 */
async function completed(names, mode, work) {
  const open = await begun(names, mode);
  const stores = Object.fromEntries(names.map((name) => [name, open.objectStore(name)]));
  const ended = new Promise((resolve, reject) => {
    open.oncomplete = () => resolve(undefined);
    open.onabort = () => reject(open.error ?? new DOMException("the phone's storage refused this", "AbortError"));
  });
  ended.catch(() => undefined); // it is awaited below; work may fail first
  let result;
  try {
    result = await work(stores);
  } catch (problem) {
    try { open.abort(); } catch { /* it has ended by itself */ }
    throw problem;
  }
  await ended;
  return result;
}

/**
 * @template T
 * @param {IDBRequest<T>} request
 * @returns {Promise<T>}
 */
export function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** Calls the listener after every change of the book, in this tab or another. @param {() => void} listener */
export function subscribe(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Tells this tab and the others that the book has changed. */
export function announce() {
  listeners.forEach((listener) => listener());
  channel.postMessage("changed");
}

/** @param {string} name @returns {Promise<any>} */
export function meta(name) {
  return transact(["meta"], "readonly", ({ meta: store }) => asked(store.get(name)));
}

/** @param {string} name @param {any} value */
export async function setMeta(name, value) {
  await transact(["meta"], "readwrite", ({ meta: store }) => { store.put(value, name); });
}

/** Drafts that the book refused, by key: while the app is open what was typed outlives the screen that it was typed on.
 * @type {Map<string, Draft>} */
const refused = new Map();

/** @param {string} key @returns {Promise<Draft | undefined>} */
export async function readDraft(key) {
  return refused.get(key) ?? transact(["drafts"], "readonly", ({ drafts: store }) => asked(store.get(key)));
}

/** As durable as a change: resolves when it is on disk. @param {Draft} draft */
export async function saveDraft(draft) {
  try { await transact(["drafts"], "readwrite", ({ drafts: store }) => { store.put(draft); }); } catch (problem) {
    refused.set(draft.key, draft);
    throw problem;
  }
  isKept(draft.key);
  announce();
}

/** A draft has become a change. @param {IDBObjectStore} drafts @param {string} key */
export function endDraft(drafts, key) {
  drafts.delete(key);
  drafts.transaction.addEventListener("complete", () => { isKept(key); });
}

/** The book has what became of this draft: no tab lays an older one over it. @param {string} key */
function isKept(key) {
  refused.delete(key);
  channel.postMessage({ draft: key });
}

/** @returns {Draft[]} */
export function refusedDrafts() {
  return [...refused.values()];
}

/** All half-filled steps, those that the book refused among them. @returns {Promise<Draft[]>} */
export async function drafts() {
  const kept = await transact(["drafts"], "readonly", ({ drafts: store }) => asked(store.getAll()));
  return [...kept.filter((/** @type {Draft} */ draft) => !refused.has(draft.key)), ...refusedDrafts()];
}

/** @param {string} record @returns {Promise<View | undefined>} */
export function viewOf(record) {
  return transact(["views"], "readonly", ({ views }) => asked(views.get(record)));
}

/** @param {string} kind @returns {Promise<View[]>} */
export function viewsOfKind(kind) {
  return transact(["views"], "readonly", ({ views }) => asked(views.index("kind").getAll(kind)));
}

/**
 * The records of a kind whose field links to this record.
 * @param {string} record @param {string} kind @param {string} field @returns {Promise<View[]>}
 */
export function children(record, kind, field) {
  return transact(["views"], "readonly", ({ views }) =>
    asked(views.index("links").getAll(`${kind}.${field}=${record}`)));
}
