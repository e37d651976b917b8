/** The stays of one filter, told in a list: when it was here, on which truck, and what came of it. */
import { h } from "./dom.js";
import { nameOf, newest } from "./form.js";
import { groupOf, stateOf, verdictWord } from "./judge.js";
import { children, viewOf } from "./store.js";
import { t } from "./words.js";
/** @typedef {import("./types").View} View */

/** The jobs of a filter and of those that are one with it, the latest first. @param {string} filter @returns {Promise<View[]>} */
export async function jobsOf(filter) {
  const { same } = await groupOf(filter);
  const jobs = (await Promise.all(same.map((one) => children(one, "job", "filter")))).flat();
  return jobs.sort((a, b) => newest(b).localeCompare(newest(a)));
}

/** Jobs as lines of a list; each is judged after it is drawn. @param {View[]} jobs @param {string} filter */
export function jobRows(jobs, filter) {
  return Promise.all(jobs.map(async (job) => {
    const of = job.fields.filter?.used === filter ? undefined : await viewOf(job.fields.filter?.used ?? "");
    const told = [job.fields.truck?.used, job.fields.work_order?.used, of ? nameOf(of) : ""].filter(Boolean).join(" \u00b7 ");
    const word = h("span", { class: "state" });
    const row = h("li", {}, h("a", { href: `#/job/${job.record}`, "data-testid": "filter-job" }, h("span", {},
      new Date(newest(job)).toLocaleDateString([], { dateStyle: "medium" }), told ? h("small", {}, h("br"), told) : null), word));
    const signed = job.fields.signoff ? [h("small", {}, h("br"), t("page.signed"))] : [];
    stateOf(job.record).then((state) => {
      row.classList.toggle("gone", Boolean(state.void?.stands));
      word.replaceChildren(...(state.void?.stands ? [t("page.void")] : [verdictWord(state), ...signed]));
    }, () => word.replaceChildren(job.fields.signoff ? t("page.signed") : ""));
    return row;
  }));
}
