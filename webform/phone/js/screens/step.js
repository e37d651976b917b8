/** One step: every input is kept at once; it becomes one change when it is right. */
import { DECLARATION } from "ashbook:baked";
import { calc } from "../calc.js";
import { careCard, cautionsOf, isBadForOven, noteCare } from "../cautions.js";
import { h, once, say, sayFailed, show } from "../dom.js";
import { bindStep, nameOf, newest, stepNamed } from "../form.js";
import { previewing } from "../preview.js";
import { oneByOne } from "../questions.js";
import { recordsOf, stateOf, verdictCard, withNamed } from "../judge.js";
import { whoami, write } from "../outbox.js";
import { offerParts } from "../parts.js";
import { checkPin } from "../people.js";
import { standing } from "../standing.js";
import { readDraft, saveDraft, viewOf, viewsOfKind } from "../store.js";
import { draw } from "../views.js";
import { t } from "../words.js";

const CHECK_HOLDS_MS = 16 * 3600 * 1000; // a check is of the day; shop's starting value

/** @param {string} job @param {string} record @param {string} slot @param {string} [back]  where the step leads to when it is done */
export async function stepScreen(job, record, slot, back = `#/job/${job}`) {
  const here = location.hash;
  const name = slot === "weight" && record !== job ? "round_weight" : slot.replace(/^(before|after)\./, "");
  const step = stepNamed(name);
  const stage = /^(before|after)\./.exec(slot)?.[1];
  const key = `${record}/${slot}`;
  const view = await viewOf(record);
  const draft = await readDraft(key);
  const stands = view?.fields[slot];
  const { ids, card } = await standing(step, stands);
  const replaces = draft?.replaces ?? { [slot]: ids };
  const today = await todaysCheck(step);
  const given = draft?.values ?? (stands?.used && !stands.used.skipped ? stands.used : today);
  const began = draft?.began_at ?? new Date().toISOString();
  const jobView = await viewOf(job);
  const filter = await viewOf(jobView?.fields.filter?.used ?? "");
  const model = filter ? await viewOf(filter.fields.model?.used ?? "") : undefined;
  const preview = h("div", { "aria-live": "polite", "data-testid": "preview" });
  /** @type {Promise<any>} */
  let saving = Promise.resolve();
  const entryOf = () => {
    /** @type {Record<string, any>} */
    const set = { [slot]: bound.read() };
    if (record !== job && !view?.fields.job) set.job = job;
    return { kind: step.record, record, set, replaces };
  };
  const meaning = previewing(async (isStale) => {
    try {
      const found = await check(false);
      if (isStale()) return;
      bound.problems(found);
      if (found.length || step.feeds !== "verdict" || (await check(true)).length) { preview.replaceChildren(); return; }
      const views = structuredClone(await recordsOf(job));
      let target = views.find((entry) => entry.record === record);
      if (!target) { target = { record, kind: step.record, fields: {}, links: [] }; views.push(target); }
      const entry = entryOf();
      draw(target, { id: "~", lamport: Number.MAX_SAFE_INTEGER, at: "", by: "", schema: 1, ...entry });
      const state = await stateOf(job, await withNamed(views));
      if (!isStale()) preview.replaceChildren(verdictCard(state));
    } catch { /* without the calculation there is no preview; saving says so */ }
  });
  const onInput = () => {
    questions?.draw();
    saving = saveDraft({ key, step: name, record, slot, values: bound.read(), replaces, began_at: began, job }).catch(sayFailed);
    meaning.soon();
  };
  /** @type {ReturnType<typeof oneByOne>} */
  let questions;
  const bound = await bindStep(name, given, onInput, model?.fields.depth?.used);
  /** @param {boolean} isComplete */
  const check = (isComplete) => calc("check", { step: name, values: bound.read(), depth: model?.fields.depth?.used ?? null, is_complete: isComplete });
  /** @param {import("../questions.js").Question} question */
  async function isRight(question) {
    const right = await meaning.isRight(question, () => check(true));
    if (!right) preview.replaceChildren();
    return right;
  }
  const oven = h("input", { type: "checkbox", "data-testid": "oven-confirm" });
  const isOvenRisk = name === "treatment" && isBadForOven(jobView);
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.save")), async () => {
    await bound.settled(); // a photo that is still being stored belongs to this answer
    meaning.stop();
    let isJudged = true;
    try {
      const found = await check(true);
      bound.problems(found);
      if (found.length) { say(t("page.fix")); questions.reveal(found[0].field.split(".")[0]); return; }
    } catch { isJudged = false; }
    if (isOvenRisk && bound.read().method === "oven" && !oven.checked) { say(t("page.fix")); oven.closest(".card")?.scrollIntoView({ block: "center" }); return; }
    await saving;
    await write([entryOf()], { draft: key });
    say(t(isJudged ? "page.saved" : "page.saved_later"));
    location.hash = back;
  });
  const care = careCard(step);
  questions = oneByOne([{ step, bound }], go, isRight, { isSaved: Boolean(stands?.used && !draft), isRestored: Boolean(draft), offered: Object.keys(today), onMove: () => care?.removeAttribute("open") });
  if (name === "rod") depthHint(bound.box("full_depth"), model?.fields.depth?.used);
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: back }, t("page.back")), h("h1", {}, step.title, h("small", {}, [stage ? t(`page.${stage}`) : "", filter ? nameOf(filter) : ""].filter(Boolean).join(" \u00b7 "))),
    draft ? h("p", { class: "soft", "data-testid": "restored" }, t("page.restored")) : null,
    card, care,
    isOvenRisk ? h("label", { class: "card choices" }, oven, h("span", {}, t("page.oven_block"))) : null,
    bound.form, preview, step.skippable ? skipBox(step, slot, record, key, replaces, back) : null, questions.bar);
  noteCare(step);
  if (stage === "after") hint(bound.form, "page.before_value", jobView?.fields[`before.${name}`]?.used);
  hint(bound.form, "page.last_value", lastTime(job, await recordsOf(job), name === "round_weight" ? "weight" : name));
  offerParts(step, bound, job, model?.record).catch(() => {}); // an offer, nothing more
  if (draft) meaning.now();
}

/** The check of the instrument that this step's reading takes, where one was made today. @param {import("../types").Step} step */
async function todaysCheck(step) {
  const field = step.fields.find((entry) => entry.name === "check");
  if (!field) return {};
  const last = (await viewsOfKind(/** @type {string} */ (field.to))).sort((a, b) => newest(b).localeCompare(newest(a)))[0];
  return last && Date.now() - Date.parse(newest(last)) < CHECK_HOLDS_MS ? { check: last.record } : {};
}

/** Puts figures read earlier under their fields. @param {HTMLElement} form @param {string} key @param {any} earlier */
function hint(form, key, earlier) {
  for (const [field, value] of Object.entries(earlier ?? {})) {
    const box = /** @type {HTMLElement | null} */ (form.querySelector(`[data-field="${field}"] .hint`));
    if (!box || !value?.n || box.firstElementChild) continue; // a button there offers the same
    box.textContent = [box.textContent, t(key, { value: `${value.n} ${value.u}` })].filter(Boolean).join(" \u00b7 ");
    box.hidden = false;
  }
}

/** Says which depth counts while none is typed. @param {HTMLElement} box @param {{n: string, u: string} | undefined} depth  of the model */
function depthHint(box, depth) {
  const place = /** @type {HTMLElement} */ (box.querySelector(".hint"));
  place.textContent = [depth ? t("page.model_depth", { value: `${depth.n} ${depth.u}` }) : t("page.model_no_depth"), place.textContent].filter(Boolean).join(" \u00b7 ");
  place.hidden = false;
}

/**
 * What this filter read after its last cleaning, in its job before this one that was signed off.
 * @param {string} job @param {import("../types").View[]} views @param {string} name
 */
function lastTime(job, views, name) {
  /** @param {import("../types").View} view */
  const opened = (view) => Math.min(...Object.values(view.fields).flatMap((field) => field.answers.map((answer) => answer.lamport)));
  const mine = views.find((view) => view.record === job);
  const earlier = views.filter((view) => view.kind === "job" && view.record !== job && view.fields.signoff && mine
    && view.fields.filter?.used === mine.fields.filter?.used && opened(view) < opened(mine)
    && view.fields[`after.${name}`]?.used && !view.fields[`after.${name}`].used.skipped);
  return earlier.sort((a, b) => opened(b) - opened(a))[0]?.fields[`after.${name}`].used;
}

/** @param {import("../types").Step} step @param {string} slot @param {string} record @param {string} key @param {any} replaces @param {string} back */
function skipBox(step, slot, record, key, replaces, back) {
  const note = h("input", { "aria-label": t("page.skip_note"), placeholder: t("page.skip_note"), "data-testid": "skip-note" });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true });
  return h("details", { class: "card" }, h("summary", { "data-testid": "skip" }, t("page.skip")), note, wrong,
    ...DECLARATION.skip_reasons.map((reason) => h("button", { type: "button", "data-testid": `skip-${reason.code}`, onclick: async () => {
      const value = note.value.trim() ? { skipped: reason.code, note: note.value.trim() } : { skipped: reason.code };
      const found = await calc("check", { step: step.name, values: value }).catch(() => []);
      if (found.length) { wrong.textContent = found[0].text; wrong.hidden = false; return; }
      await write([{ kind: step.record, record, set: { [slot]: value }, replaces }], { draft: key });
      say(t("page.saved"));
      location.hash = back;
    } }, reason.label)));
}

/** @param {string} job */
export async function signoffScreen(job) {
  const step = stepNamed("signoff");
  const view = await viewOf(job);
  const key = `${job}/signoff`;
  const draft = await readDraft(key);
  const state = await stateOf(job).catch(() => null);
  const people = await viewsOfKind("person");
  const me = (await whoami()).person;
  const { ids, card } = await standing(step, view?.fields.signoff);
  const replaces = draft?.replaces ?? { signoff: ids };
  const save = () => saveDraft({ key, step: "signoff", record: job, slot: "signoff", values: bound.read(), replaces, began_at: draft?.began_at ?? new Date().toISOString(), job });
  const bound = await bindStep("signoff", draft?.values ?? { decision: state?.verdict, person: me }, () => { save().catch(sayFailed); });
  const pin = h("input", { type: "password", inputMode: "numeric", autocomplete: "off", "aria-label": t("page.pin"), placeholder: t("page.pin"), "data-testid": "pin" });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true, "data-testid": "sign-problem" });
  /** @param {string} text */
  const problem = (text) => { wrong.textContent = text; wrong.hidden = false; wrong.scrollIntoView({ block: "center" }); };
  async function sign() {
    const values = bound.read();
    const person = people.find((entry) => entry.record === values.person);
    if (!person) { problem(t("page.pick_person")); return; }
    if (!person.fields.pin) { problem(t("page.no_pin")); return; }
    if (state && values.decision !== state.verdict && !values.reason) { problem(t("page.reason_needed")); return; }
    if (!(await checkPin(person, pin.value))) { problem(t("page.wrong_pin")); return; }
    await write([{ kind: "job", record: job, set: { signoff: values }, replaces, basis: state?.basis ?? {} }], { draft: key });
    say(t("page.saved"));
    location.hash = `#/job/${job}`;
  }
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.sign")), sign);
  show(h("a", { class: "back", href: `#/job/${job}` }, t("page.back")), h("h1", {}, step.title), state ? verdictCard(state) : h("p", { class: "card" }, t("page.no_verdict")),
    card, bound.form, pin, wrong, ...cautionsOf(step).map((text) => h("p", { class: "soft" }, text)), h("div", { class: "bar" }, go));
}
