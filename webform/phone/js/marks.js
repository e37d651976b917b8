/** What screens mark beside the verdict: reports that no longer stand, filters that are one. */
import { h } from "./dom.js";
import { nameOf } from "./form.js";
import { isWhole, recallCard, stateOf } from "./judge.js";
import { viewOf } from "./store.js";
import { fetchAround } from "./transport.js";
import { t } from "./words.js";

/** The card of each recalled report, by job. @type {Map<string, HTMLElement>} */
export const recalled = new Map();
/** Jobs whose missing parts were asked for since the app was started. @type {Set<string>} */
const asked = new Set();

/**
 * Whether this phone has all that a job's sign-off stands on. What is missing is fetched beside, once: then the screen is drawn anew.
 * @param {import("./types").View} job
 */
export async function completed(job) {
  const of = job.fields.filter?.used;
  if (await isWhole(job)) return true;
  if (of && !asked.has(job.record)) { asked.add(job.record); fetchAround(of).catch(() => undefined); }
  return false;
}

/** The state of a job; a recalled report of its owner is told above the list. @param {import("./types").View} job @param {HTMLElement} recalls */
export async function judged(job, recalls) {
  const state = await stateOf(job.record);
  if (state.report?.is_recalled && await completed(job)) {
    const filter = await viewOf(job.fields.filter?.used ?? "");
    recalled.set(job.record, recallCard(state, `#/job/${job.record}`, filter ? nameOf(filter) : ""));
  } else if (!recalled.delete(job.record)) return state;
  recalls.replaceChildren(...recalled.values());
  return state;
}

/**
 * What links say of a filter, those that were taken apart too, each other filter once.
 * @param {import("./types").View[]} links @param {string[]} same  filters that are one with it @param {string} record
 */
export async function linkLines(links, same, record) {
  const ends = links.map((link) => [link.fields.one?.used, link.fields.other?.used]);
  const apart = ends.filter((both) => both.includes(record)).flat().filter((one) => one && !same.includes(one));
  return Promise.all([...new Set([...same, ...apart])].filter((one) => one !== record).map(async (other) => {
    const view = await viewOf(other);
    const isOne = same.includes(other);
    return h("p", { class: isOne ? "card" : "card soft", "data-testid": isOne ? "linked" : "unlinked" },
      t(isOne ? "page.linked" : "page.unlinked", { name: view ? nameOf(view) : other }));
  }));
}
