/** The state of a job on this phone: gathers its records and asks the calculation. */
import { CALCULATION } from "ashbook:baked";
import { calc } from "./calc.js";
import { h } from "./dom.js";
import { children, viewOf, viewsOfKind } from "./store.js";
import { t } from "./words.js";
/** @typedef {import("./types").View} View */

/** The records that a job's state is made of. @param {string} job @returns {Promise<View[]>} */
export async function recordsOf(job) {
  const view = await viewOf(job);
  if (!view) return [];
  const filter = await viewOf(view.fields.filter?.used ?? "");
  const model = filter ? await viewOf(filter.fields.model?.used ?? "") : undefined;
  const others = filter ? await children(filter.record, "job", "filter") : [];
  const { links, same } = await sameFilter(filter?.record);
  const tags = (await Promise.all(same.map((one) => children(one, "tag", "filter")))).flat();
  for (const one of same.slice(1)) others.push(...await children(one, "job", "filter"));
  const found = [view, filter, model, ...links, ...tags, ...(await children(job, "round", "job")), ...others.filter((other) => other.record !== job), ...(await viewsOfKind("person"))];
  found.push(await viewOf("shop:rules"));
  if (filter?.fields.unit_kind?.used === "one_box") { // its bricks are judged alone, each by a job of its own
    for (const brick of await children(filter.record, "filter", "box")) {
      found.push(brick);
      for (const own of await children(brick.record, "job", "filter")) found.push(...await recordsOf(own.record));
    }
  }
  return withNamed(/** @type {View[]} */ (found.filter(Boolean)));
}

/** These views and the checks that their readings name, with the instruments that were checked. @param {View[]} views */
export async function withNamed(views) {
  for (const field of ["check", "instrument"]) {
    for (const name of namedIn(views, field)) {
      const view = await viewOf(name);
      if (view) views.push(view);
    }
  }
  return views;
}

/** The records that whole answers name in a field and that are not here yet. @param {View[]} views @param {string} field */
function namedIn(views, field) {
  const answers = views.flatMap((view) => Object.values(view.fields)).flatMap((held) => held.answers);
  const names = new Set(answers.map((answer) => answer.value?.[field]).filter((name) => typeof name === "string" && name));
  for (const view of views) names.delete(view.record);
  return names;
}

/** The links that touch a filter, and the filters that these lead to, itself first; which of them hold is the calculation's business.
 * @param {string | undefined} filter */
async function sameFilter(filter) {
  const same = filter ? [filter] : [];
  /** @type {Map<string, View>} */
  const links = new Map();
  for (const one of same) {
    for (const field of ["one", "other"]) for (const link of await children(one, "link", field)) {
      links.set(link.record, link);
      for (const end of ["one", "other"]) {
        const there = link.fields[end]?.used;
        if (there && !same.includes(there)) same.push(there);
      }
    }
  }
  return { links: [...links.values()], same };
}

/**
 * The filters that are one with this one, itself first, and the links that say so or no longer do.
 * @param {string} filter @returns {Promise<{links: View[], same: string[]}>}
 */
export async function groupOf(filter) {
  const { links } = await sameFilter(filter);
  /** @type {string[]} */
  const same = links.length ? await calc("same", { filter, views: links }).catch(() => [filter]) : [filter];
  return { links, same: [filter, ...same.filter((one) => one !== filter)] };
}

/**
 * Whether this phone has every record that the sign-off of a job stands on; a part of a job would read as if evidence were gone.
 * @param {View} job
 */
export async function isWhole(job) {
  const named = (job.fields.signoff?.answers ?? []).flatMap((answer) => Object.keys(answer.basis?.evidence ?? {}));
  const needed = new Set([...named.map((name) => name.split("/")[0]), job.fields.filter?.used].filter(Boolean));
  for (const record of needed) if (!(await viewOf(record))) return false;
  return true;
}

/** @param {string} job @param {View[]} [views] */
export async function stateOf(job, views) {
  return calc("job", { job, views: views ?? (await recordsOf(job)), calculation: CALCULATION });
}

/** @param {any} state */
export function verdictWord(state) {
  return h("span", { class: `verdict ${state.verdict}`, "data-testid": "verdict-word" }, state.text);
}

/** What an owner holds that no longer stands, first of all. @param {any} state @param {string} [href] @param {string} [name] */
export function recallCard(state, href, name) {
  if (!state.report?.is_recalled) return null;
  const told = h("b", {}, name ? `${name}: ` : "", state.report.text);
  return h("p", { class: "card recall", role: "alert", "data-testid": "recall" }, href ? h("a", { href }, told) : told);
}

/** Findings that show how a figure came about: behind "show the arithmetic", so that what to do is read without scrolling. */
const ARITHMETIC = ["plate_good", "flow_corrected", "rod_average", "rod_allows_flow"];

/** What a card of a verdict says at once, and what only whoever asks for it. @param {any} verdict */
function textsOf(verdict) {
  /** @type {{said: string[], shown: string[]}} */
  const found = { said: [], shown: [] };
  for (const part of verdict ? ["reasons", "settle", "findings", "missing"] : []) {
    verdict.texts[part].forEach((/** @type {string} */ text, /** @type {number} */ place) => {
      (part === "findings" && ARITHMETIC.includes(verdict[part][place].code) ? found.shown : found.said).push(text);
    });
  }
  return found;
}

/** The verdict with its reasons, on paper. @param {any} state */
export function verdictCard(state) {
  const { said, shown } = textsOf(state[state.stage]);
  /** @param {string[]} texts */
  const list = (texts) => h("ul", { class: "reasons" }, ...texts.map((text) => h("li", {}, text)));
  return h("section", { class: "card", "data-testid": "verdict-card" },
    h("p", { class: `verdict big ${state.verdict}`, "data-testid": "verdict", "data-verdict": state.verdict }, state.text, state.is_close ? h("small", {}, ` ${t("page.close")}`) : null),
    ...state.why.map((/** @type {any} */ why) => h("p", {}, h("b", {}, why.text))), list(said),
    shown.length ? h("details", { "data-testid": "arithmetic" }, h("summary", {}, t("page.arithmetic")), list(shown)) : null);
}
