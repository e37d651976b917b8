/** Changes that wait once more: all of them after a server was put back, the held ones when their reason may have gone. */
import { offerPhotosAgain } from "./photos.js";
import { asked, transact } from "./store.js";
import { redraw } from "./views.js";
import { CALCULATION } from "ashbook:baked";

/** Confirmed and held changes wait again: the server was put back. @param {Record<string, IDBObjectStore>} stores */
export async function offerAgain({ outbox, confirmed, held, photos }) {
  await offerPhotosAgain(photos);
  await waitAgain({ outbox, held });
  for (const entry of await asked(confirmed.getAll())) {
    const { position, epoch, confirmed_at, told_at, ...kept } = entry;
    outbox.add(kept);
    confirmed.delete(entry.id);
  }
}

/** @param {Record<string, IDBObjectStore>} stores  outbox, held */
async function waitAgain({ outbox, held }) {
  for (const entry of await asked(held.getAll())) {
    const { reason, ...kept } = entry;
    outbox.add(kept);
    held.delete(entry.id);
  }
}

/** Held changes wait again: what held them may have gone meanwhile. Those that it has not come back as held. */
export async function offerHeld() {
  await transact(["outbox", "confirmed", "held", "snapshots", "views", "meta"], "readwrite", async (stores) => {
    const records = (await asked(stores.held.getAll())).map((entry) => entry.change.record);
    await waitAgain(stores);
    if (records.length) await redraw(stores, records);
    stores.meta.put(CALCULATION, "held_offered_under");
  });
}
