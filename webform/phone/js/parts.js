/** What a fitted part weighed when it was last weighed on its own: offered at its field, never filled in by itself. */
import { h } from "./dom.js";
import { children, viewOf } from "./store.js";
import { t } from "./words.js";
/** @typedef {import("./types").View} View */

const SLOTS = ["before.weight", "after.weight", "weight"];

/**
 * The last weight of each part, by the order of the changes.
 * @param {string[]} names  of the fields @param {View[]} views  of jobs and rounds
 */
function lastWeights(names, views) {
  /** @type {Record<string, {value: {n: string, u: string}, lamport: number}>} */
  const found = {};
  for (const answer of views.flatMap((view) => SLOTS.flatMap((slot) => view.fields[slot]?.answers ?? []))) {
    for (const name of names) {
      const value = answer.value?.[name];
      if (value?.n && answer.lamport >= (found[name]?.lamport ?? 0)) found[name] = { value, lamport: answer.lamport };
    }
  }
  return found;
}

/** The jobs of all filters of a model, with their rounds. @param {string | undefined} model @returns {Promise<View[]>} */
async function weighingsOf(model) {
  const filters = model ? await children(model, "filter", "model") : [];
  const jobs = (await Promise.all(filters.map((filter) => children(filter.record, "job", "filter")))).flat();
  return [...jobs, ...(await Promise.all(jobs.map((job) => children(job.record, "round", "job")))).flat()];
}

/**
 * Puts a button with the last weight at the field of each part; without one there is nothing to see.
 * @param {import("./types").Step} step @param {import("./types").Bound} bound @param {string} job @param {string | undefined} model
 */
export async function offerParts(step, bound, job, model) {
  const parts = step.fields.find((field) => field.name === "fitted")?.choices.map((choice) => `${choice.code}_mass`) ?? [];
  if (!parts.length) return;
  const here = [await viewOf(job), ...await children(job, "round", "job")].flatMap((view) => view ?? []);
  for (const [name, last] of Object.entries(lastWeights(parts, [...here, ...await weighingsOf(model)]))) {
    const box = bound.box(name);
    const hint = /** @type {HTMLElement} */ (box.querySelector(".hint"));
    hint.hidden = false;
    hint.replaceChildren(h("button", { type: "button", "data-testid": `last-${name}`, onclick: () => {
      const text = /** @type {HTMLInputElement} */ (box.querySelector("input[type=text]"));
      const unit = /** @type {HTMLInputElement | null} */ (box.querySelector(`.units input[value="${CSS.escape(last.value.u)}"]`));
      text.value = last.value.n;
      if (unit) unit.checked = true;
      text.dispatchEvent(new Event("input", { bubbles: true }));
    } }, t("page.part_last", { value: `${last.value.n} ${last.value.u}` })));
  }
}
