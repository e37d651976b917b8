/** What was told of a filter and of this stay: put right what is wrong, fill in what was not known. Only what was changed is written. */
import { calc } from "../calc.js";
import { h, once, say, sayFailed, show } from "../dom.js";
import { bindStep, nameOf, newest, stepNamed } from "../form.js";
import { newName, write } from "../outbox.js";
import { isRightBy, oneByOne } from "../questions.js";
import { standing } from "../standing.js";
import { children, readDraft, saveDraft, viewOf } from "../store.js";
import { t } from "../words.js";
import { prefixed } from "./checkin.js";
/** @typedef {import("../types").View} View */

const OFFERED = ["truck", "owner"]; // what a filter that comes again is likely to share with its last stay

/** @param {string} job */
export async function factsScreen(job) {
  const here = location.hash;
  const view = await viewOf(job);
  const filterView = await viewOf(view?.fields.filter?.used ?? "");
  if (!view || !filterView) { location.replace(`#/job/${job}`); return; }
  const key = `${job}/facts`;
  const draft = await readDraft(key);
  const names = draft?.values.names ?? { model: `model:${newName()}`, owner: `owner:${newName()}` };
  const of = { filter: filterView, check_in: view };
  const was = draft?.values.was ?? { filter: usedOf("filter", filterView), check_in: usedOf("check_in", view) };
  const stands = (await Promise.all([standsIn("filter", filterView), standsIn("check_in", view)])).flat();
  const replaces = draft?.replaces ?? Object.fromEntries(stands.map(({ field, ids }) => [field, ids]));
  /** @type {ReturnType<typeof oneByOne> | undefined} */
  let questions;
  const onInput = () => {
    questions?.draw();
    const values = { names, was, filter: { ...filter.read(), ...prefixed(filter.fresh()) }, check_in: { ...checkIn.read(), ...prefixed(checkIn.fresh()) } };
    saveDraft({ key, step: "check_in", record: job, slot: "facts", job, replaces, began_at: draft?.began_at ?? new Date().toISOString(), values }).catch(sayFailed);
  };
  const filter = await bindStep("filter", draft?.values.filter ?? was.filter, onInput);
  const checkIn = await bindStep("check_in", draft?.values.check_in ?? was.check_in, onInput);
  const bound = { filter, check_in: checkIn };
  /** @param {"filter" | "check_in"} step */
  const check = (step) => calc("check", { step, values: bound[step].read() });
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.save")), async () => {
    try {
      const found = [await check("filter"), await check("check_in")];
      filter.problems(found[0]);
      checkIn.problems(found[1]);
      if (found.flat().length) { say(t("page.fix")); questions?.reveal(found.flat()[0].field); return; }
    } catch { /* the server checks again */ }
    const now = { filter: filter.read(), check_in: checkIn.read() };
    const [model, owner] = [filter.fresh().model, checkIn.fresh().owner];
    const entries = [];
    if (model) { entries.push({ kind: "model", record: names.model, set: { number: model } }); now.filter.model = names.model; }
    if (owner) { entries.push({ kind: "owner", record: names.owner, set: { name: owner } }); now.check_in.owner = names.owner; }
    for (const step of /** @type {("filter" | "check_in")[]} */ (["filter", "check_in"])) {
      const set = changed(step, was[step], now[step]);
      const fields = Object.keys(set);
      if (fields.length) entries.push({ kind: of[step].kind, record: of[step].record, set, replaces: Object.fromEntries(fields.map((field) => [field, replaces[field] ?? []])) });
    }
    await write(entries, { draft: key });
    say(t("page.saved"));
    location.hash = `#/job/${job}`;
  });
  const isTold = stepNamed("check_in").fields.some((field) => view.fields[field.name]?.answers.length);
  questions = oneByOne([{ step: stepNamed("filter"), bound: filter }, { step: stepNamed("check_in"), bound: checkIn }], go,
    (question) => isRightBy(question, () => check(question.bound === filter ? "filter" : "check_in")), isTold && !draft ? { isSaved: true } : { asksAll: true });
  await offerLast(checkIn, filterView, job);
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: `#/job/${job}` }, t("page.back")), h("h1", {}, t("page.facts"), h("small", {}, nameOf(filterView))),
    isTold ? h("p", { class: "soft" }, t("page.facts_help")) : null,
    draft ? h("p", { class: "soft", "data-testid": "restored" }, t("page.restored")) : null,
    ...stands.map(({ card }) => card), filter.form, checkIn.form, questions.bar);
}

/** The answers that a screen begins with. @param {string} step @param {View} view */
function usedOf(step, view) {
  return Object.fromEntries(stepNamed(step).fields.flatMap((field) => {
    const value = view.fields[field.name]?.used;
    return value === undefined || value === null ? [] : [[field.name, value]];
  }));
}

/** Of each field the answers that stand, and a card where they differ. @param {string} name @param {View} view */
function standsIn(name, view) {
  const step = stepNamed(name);
  return Promise.all(step.fields.map(async ({ name: field }) => {
    const held = view.fields[field];
    const whole = held && { ...held, answers: held.answers.map((answer) => ({ ...answer, value: answer.value === null ? null : { [field]: answer.value } })) };
    return { field, ...await standing(step, whole) };
  }));
}

/** What is to be written: the fields that differ; one that was emptied is taken out. @param {string} step @param {Record<string, any>} was @param {Record<string, any>} now */
function changed(step, was, now) {
  return Object.fromEntries(stepNamed(step).fields.flatMap(({ name }) => (JSON.stringify(was[name] ?? null) === JSON.stringify(now[name] ?? null) ? [] : [[name, now[name] ?? null]])));
}

/** Puts the truck and the owner of the filter's last stay at their fields, to be taken over with a touch. @param {import("../types").Bound} bound @param {View} filter @param {string} job */
async function offerLast(bound, filter, job) {
  const others = (await children(filter.record, "job", "filter")).filter((other) => other.record !== job && !other.fields.void);
  const last = others.sort((a, b) => newest(b).localeCompare(newest(a)))[0];
  for (const name of OFFERED) {
    const value = last?.fields[name]?.used;
    if (!value) continue;
    const named = name === "owner" ? await viewOf(value) : undefined;
    if (name === "owner" && !named?.fields.name?.used) continue; // erased
    const box = bound.box(name);
    const input = /** @type {HTMLInputElement | HTMLSelectElement} */ (box.querySelector("select, input"));
    box.querySelector(".wrong")?.before(h("button", { type: "button", "data-testid": `last-${name}`, onclick: () => {
      input.value = value;
      input.dispatchEvent(new Event("input", { bubbles: true }));
    } }, t("page.part_last", { value: named ? nameOf(named) : value })));
  }
}
