/**
 * The server's time, told by the Date of its answers. A phone's clock decides nothing, not even what is old enough to be
 * dropped: a clock that is put right by a month would else drop what a server that is put back tomorrow asks for.
 */
import { meta, setMeta } from "./store.js";

const CLOCK_OFF_MINUTES = 5;
let aheadMs = 0; // this phone's clock, of the server's at its last answer

/** Notes how far this phone's clock is from the server's, where a person should know. @param {string | null} said  the Date of an answer */
export async function noteClock(said) {
  const found = Date.now() - Date.parse(said ?? "");
  if (!Number.isNaN(found)) aheadMs = found; // a time that cannot be read is no finding
  const off = Math.round(found / 60000);
  const wrong = Math.abs(off) > CLOCK_OFF_MINUTES ? off : undefined;
  if (wrong !== await meta("clock_off_minutes")) await setMeta("clock_off_minutes", wrong);
}

/** When the server confirmed something just now, by both clocks. @returns {{confirmed_at: string, told_at: string}} */
export function confirmedNow() {
  return { confirmed_at: new Date().toISOString(), told_at: new Date(Date.now() - aheadMs).toISOString() };
}

/** Tells of an entry whether that is so long ago, by both clocks. @param {number} ms */
export function olderThan(ms) {
  const now = Date.now();
  const [here, there] = [now, now - aheadMs].map((clock) => new Date(clock - ms).toISOString());
  return (/** @type {{confirmed_at?: string, told_at?: string}} */ entry) =>
    !ms || ((entry.confirmed_at ?? "") <= here && (entry.told_at ?? "") <= there);
}
