/**
 * Photos on this phone: scaled, without what the camera adds to a file, kept by the SHA-256 of their bytes. Two stores:
 * photos (what is known of each) and photo_bytes. A photo is "draft" until a change names it, then "waiting" until the
 * server has confirmed its whole hash, then "confirmed" and kept 30 days more, in case the server is put back.
 */
import { olderThan } from "./clock.js";
import { announce, asked, refusedDrafts, transact } from "./store.js";
/** @typedef {import("./types").Photo} Photo */
/** @typedef {import("./types").KeptPhoto} KeptPhoto */

const SIDE = 1600;
const QUALITY = 0.85;
const KEPT_MS = 30 * 86400000;
const LONELY_MS = 3600000;
const HEX = 16;

/**
 * The picture as a JPEG of at most 1600 pixels, upright. Only pixels go through the canvas: position, time and make of
 * the camera stay behind.
 * @param {Blob} file @returns {Promise<ArrayBuffer>}
 */
async function scaled(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    const scale = Math.min(1, SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d", { alpha: false }));
    pen.imageSmoothingQuality = "high";
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const made = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    if (!made) throw new Error("the picture could not be encoded");
    return await made.arrayBuffer();
  } finally { picture.close(); }
}

/**
 * Scales a picture and keeps it; resolves when it is on disk. Rejects with code "page.photo_unreadable" or
 * "page.photo_no_room". Bytes, not blobs, are stored: iOS has lost blobs (https://github.com/dexie/Dexie.js/issues/1227).
 * @param {File} file @returns {Promise<Photo>}
 */
export async function keepPhoto(file) {
  let bytes;
  try { bytes = await scaled(file); } catch (problem) { throw Object.assign(new Error(String(problem)), { code: "page.photo_unreadable" }); }
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const sha256 = [...digest].map((byte) => byte.toString(HEX).padStart(2, "0")).join("");
  const taken = file.lastModified && file.lastModified < Date.now() ? file.lastModified : Date.now();
  const photo = { sha256, bytes: bytes.byteLength, taken_at: new Date(taken).toISOString() };
  const put = () => transact(["photos", "photo_bytes"], "readwrite", async ({ photos, photo_bytes }) => {
    if (await asked(photos.get(sha256))) return;
    photos.put({ ...photo, state: "draft", since: new Date().toISOString() });
    photo_bytes.put(bytes, sha256);
  });
  try { await put(); } catch {
    await sweepPhotos(0);
    try { await put(); } catch (problem) { throw Object.assign(new Error(String(problem)), { code: "page.photo_no_room" }); }
  }
  return photo;
}

/** The bytes of a photo, where this phone has them. @param {string} sha256 @returns {Promise<ArrayBuffer | undefined>} */
export function photoBytes(sha256) {
  return transact(["photo_bytes"], "readonly", ({ photo_bytes }) => asked(photo_bytes.get(sha256)));
}

/** The hashes of the photos that the answers of a change name. @param {any} value @returns {string[]} */
export function namedPhotos(value) {
  if (Array.isArray(value)) return value.flatMap(namedPhotos);
  if (value === null || typeof value !== "object") return [];
  return typeof value.sha256 === "string" ? [value.sha256] : Object.values(value).flatMap(namedPhotos);
}

/** Puts the named photos into the queue, inside the transaction that writes their change.
 * @param {IDBObjectStore} photos @param {string[]} hashes */
export async function queuePhotos(photos, hashes) {
  for (const sha256 of hashes) {
    const kept = await asked(photos.get(sha256));
    if (kept?.state === "draft") photos.put({ ...kept, state: "waiting", since: new Date().toISOString() });
  }
}

/** Confirmed photos wait again: the server was put back. @param {IDBObjectStore} photos */
export async function offerPhotosAgain(photos) {
  for (const kept of await asked(photos.index("state").getAll("confirmed"))) {
    const { confirmed_at, told_at, ...rest } = kept;
    photos.put({ ...rest, state: "waiting" });
  }
}

/** What waits, oldest first. @returns {Promise<KeptPhoto[]>} */
export async function waitingPhotos() {
  const found = await transact(["photos"], "readonly", ({ photos }) => asked(photos.index("state").getAll("waiting")));
  return found.sort((/** @type {KeptPhoto} */ a, /** @type {KeptPhoto} */ b) => (a.since < b.since ? -1 : a.since > b.since ? 1 : a.sha256 < b.sha256 ? -1 : 1));
}

/**
 * The photos that wait, for a file that is carried by hand: those first that no file has carried yet, as many as there is
 * room for. left: how many are not in it.
 * @param {number} room  bytes @param {number} most  photos @returns {Promise<{carried: {sha256: string, bytes: Blob}[], left: number}>}
 */
export async function photosToCarry(room, most) {
  const all = await waitingPhotos();
  const queue = [...all.filter((photo) => !photo.carried_at), ...all.filter((photo) => photo.carried_at)];
  const carried = [];
  for (const { sha256 } of queue) {
    const found = await photoBytes(sha256);
    if (!found || found.byteLength > room || carried.length === most) continue;
    room -= found.byteLength;
    carried.push({ sha256, bytes: new Blob([found]) }); // the browser may lay a Blob on disk: never all of them in memory
  }
  return { carried, left: all.length - carried.length };
}

/** Notes that a file carries these; they stay in the queue. @param {string[]} hashes */
export async function noteCarried(hashes) {
  await transact(["photos"], "readwrite", async ({ photos }) => {
    for (const sha256 of hashes) {
      const kept = await asked(photos.get(sha256));
      if (kept) photos.put({ ...kept, carried_at: new Date().toISOString() });
    }
  });
}

/** Notes what the server said of a waiting photo. @param {string} sha256 @param {Partial<KeptPhoto>} news */
export async function notePhoto(sha256, news) {
  await transact(["photos"], "readwrite", async ({ photos }) => {
    const kept = await asked(photos.get(sha256));
    if (kept) photos.put({ ...kept, ...news });
  });
  announce();
}

/**
 * Drops what nobody needs: photos of drafts that no draft names any more, and photos confirmed long ago. What waits is
 * never dropped. @param {number} [kept_ms]  how long confirmed ones are kept
 */
export async function sweepPhotos(kept_ms = KEPT_MS) {
  await transact(["photos", "photo_bytes", "drafts"], "readwrite", async ({ photos, photo_bytes, drafts }) => {
    const named = new Set(namedPhotos([...await asked(drafts.getAll()), ...refusedDrafts()])), isLongAgo = olderThan(kept_ms);
    for (const kept of await asked(photos.getAll())) {
      const age = (/** @type {string} */ at) => Date.now() - new Date(at).getTime();
      const isLonely = kept.state === "draft" && !named.has(kept.sha256) && age(kept.since) > LONELY_MS;
      const isOld = kept.state === "confirmed" && isLongAgo(kept);
      if (isLonely || (isOld && !named.has(kept.sha256))) { photos.delete(kept.sha256); photo_bytes.delete(kept.sha256); }
    }
  });
}
