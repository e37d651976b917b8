/** The oven load: several filters go in together and get one round each; out of the oven they are weighed one after the other. */
import { calc } from "../calc.js";
import { careCard, isBadForOven, noteCare } from "../cautions.js";
import { h, once, say, sayFailed, show } from "../dom.js";
import { bindStep, nameOf, newest, stepNamed } from "../form.js";
import { stateOf } from "../judge.js";
import { newName, write } from "../outbox.js";
import { isRightBy, oneByOne } from "../questions.js";
import { startScan } from "../scan.js";
import { readDraft, saveDraft, viewOf, viewsOfKind } from "../store.js";
import { t } from "../words.js";
/** @typedef {import("../types").View} View */
/** @typedef {import("../types").Draft} Draft */
/** @typedef {{job: View, filter: View | undefined}} Stay  one stay of a filter */

const KEY = "oven";
const FEWEST_LETTERS = 2; // of a serial, before the list is narrowed down

/** Jobs in which something is still to be done, the latest first. @returns {Promise<View[]>} */
async function openJobs() {
  const jobs = (await viewsOfKind("job")).filter((job) => !job.fields.signoff && job.fields.void?.used?.state !== "void");
  return jobs.sort((a, b) => newest(b).localeCompare(newest(a)));
}

/** Oven rounds of these jobs that nobody has weighed since, in the order in which they went in. @param {View[]} jobs */
async function unweighed(jobs) {
  const open = new Map(jobs.map((job) => [job.record, job]));
  return (await viewsOfKind("round")).flatMap((round) => {
    const job = open.get(round.fields.job?.used ?? "");
    const isOut = job && round.fields.treatment?.used?.method === "oven" && !round.fields.weight && round.fields.void?.used?.state !== "void"
      && lastSaid(job, "after.weight") < lastSaid(round, "treatment");
    return isOut ? [{ round, job }] : [];
  }).sort((a, b) => lastSaid(a.round, "treatment") - lastSaid(b.round, "treatment") || (a.round.record < b.round.record ? -1 : 1));
}

/** The Lamport time of the latest answer in a field; 0 without one. @param {View} view @param {string} field */
const lastSaid = (view, field) => Math.max(0, ...(view.fields[field]?.answers ?? []).map((answer) => answer.lamport));

/** The oven rounds that wait for the scale. */
export async function toWeigh() {
  return unweighed(await openJobs());
}

/** Keeps a load that is being put together. @param {Set<string>} load  jobs @param {any} treatment @param {Draft | undefined} before */
function keepLoad(load, treatment, before) {
  return saveDraft({ key: KEY, step: "treatment", record: "", slot: KEY, replaces: {}, began_at: before?.began_at ?? new Date().toISOString(), values: { load: [...load], treatment } });
}

/** @param {View[]} jobs @returns {Promise<Stay[]>} */
function stays(jobs) {
  return Promise.all(jobs.map(async (job) => ({ job, filter: await viewOf(job.fields.filter?.used ?? "") })));
}

/** @param {Stay} stay */
const called = ({ job, filter }) => (filter ? nameOf(filter) : job.record);

/** What of a stay a typed serial may be found in. @param {Stay} stay */
const searched = (stay) => [stay.filter?.fields.serial?.used, stay.job.fields.truck?.used].join(" ").toLowerCase();

export async function ovenScreen() {
  const here = location.hash;
  const jobs = await openJobs();
  const hot = await unweighed(jobs);
  const inside = new Set(hot.map(({ job }) => job.record));
  const out = await stays(hot.map(({ job }) => job));
  const rows = hot.map((one, place) => h("li", {}, h("a", { href: scaleOf(one), "data-testid": "oven-weigh" },
    h("span", {}, called(out[place]), h("small", {}, h("br"), one.job.fields.truck?.used ?? "")), h("span", { class: "state" }, t("page.missing")))));
  const bar = hot.length ? h("div", { class: "bar" }, h("a", { class: "button main", href: scaleOf(hot[0]), "data-testid": "weigh-next" }, t("page.oven_weigh", { name: called(out[0]) }))) : h("div");
  const loading = await loadParts(await stays(jobs.filter((job) => !inside.has(job.record))), (count) => { bar.hidden = count > 0; });
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.oven")),
    h("a", { class: "button", href: "#/oven/scan", "data-testid": "oven-scan" }, t("page.scan")),
    rows.length ? [h("h2", {}, t("page.oven_out")), h("ul", { class: "list" }, rows)] : null, h("h2", {}, t("page.oven_in")), loading, bar);
  noteCare(stepNamed("treatment"));
}

/**
 * Where a load is put together: what goes in, then how long and how hot; saving makes one round of each.
 * @param {Stay[]} cold  what may go in @param {(count: number) => void} onCount  told how many are picked
 */
async function loadParts(cold, onCount) {
  const step = stepNamed("treatment");
  const draft = await readDraft(KEY);
  const fits = cold.filter(({ job }) => !isBadForOven(job));
  const may = new Set(fits.map(({ job }) => job.record));
  /** @type {Set<string>} */
  const load = new Set((draft?.values.load ?? []).filter((/** @type {string} */ job) => may.has(job))); // in the order in which they were picked
  /** @type {Promise<any>} */
  let saving = Promise.resolve();
  const keep = () => { saving = keepLoad(load, bound.read(), draft).catch(sayFailed); };
  const bound = await bindStep(step.name, draft?.values.treatment ?? { method: "oven" }, () => { questions.draw(); keep(); });
  const check = () => calc("check", { step: step.name, values: bound.read(), is_complete: true });
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.save")), async () => {
    try {
      const found = await check();
      bound.problems(found);
      if (found.length) { say(t("page.fix")); questions.reveal(found[0].field); return; }
    } catch { /* the server checks again */ }
    await saving;
    await write([...load].map((job) => ({ kind: "round", record: `round:${newName()}`, set: { job, treatment: bound.read() } })), { draft: KEY });
    say(t("page.oven_saved", { count: load.size }));
    await ovenScreen();
  });
  const care = careCard(step);
  const questions = oneByOne([{ step, bound }], go, (question) => isRightBy(question, check), { isRestored: Boolean(draft), offered: ["method"], onMove: () => care?.removeAttribute("open") });
  const how = h("div", {}, care, bound.form, questions.bar);
  const [count, told] = [h("p", { class: "soft", role: "status", "data-testid": "oven-count" }), h("b")];
  const rows = cold.map((one) => pick(one, load, fits.includes(one), () => { keep(); draw(false); }));
  const what = h("div", {}, h("button", { type: "button", class: "answer", "data-testid": "oven-chosen", onclick: () => draw(false) }, told),
    cold.length ? [count, finder(cold, rows)] : h("p", { class: "soft" }, t("page.no_jobs")), h("div", { class: "choices load" }, rows));
  const next = h("div", { class: "bar" }, h("button", { class: "main", "data-testid": "oven-next", onclick: () => draw(true) }, t("page.next_question")));
  /** @param {boolean} isChosen */
  function draw(isChosen) {
    what.dataset.state = isChosen ? "folded" : "open";
    how.hidden = !isChosen;
    next.hidden = isChosen || !load.size;
    count.textContent = load.size ? t("page.oven_count", { count: load.size }) : t("page.oven_pick");
    told.textContent = t("page.oven_chosen", { names: fits.filter(({ job }) => load.has(job.record)).map(called).join(", ") });
    onCount(load.size);
  }
  draw(Boolean(load.size && draft?.values.treatment.minutes));
  return [what, how, next];
}

/** The address of the weighing after a round, from where the person comes back here. @param {{round: View, job: View}} one */
const scaleOf = ({ round, job }) => `#/oven/${job.record}/${round.record}`;

/** A filter to be ticked; one that the oven must not see says why. @param {Stay} one @param {Set<string>} load @param {boolean} isFit @param {() => void} onChange */
function pick(one, load, isFit, onChange) {
  const { job } = one;
  const told = h("small", {}, [job.fields.truck?.used, isFit ? "" : t("page.oven_wet")].filter(Boolean).join(" · "));
  const input = h("input", { type: "checkbox", checked: load.has(job.record), disabled: !isFit, "data-testid": "oven-pick", onchange: () => {
    if (input.checked) load.add(job.record); else load.delete(job.record);
    onChange();
  } });
  stateOf(job.record).then((state) => { if (isFit) told.append(told.textContent ? " · " : "", state.text); }, () => undefined);
  return h("label", {}, input, h("span", {}, h("b", {}, called(one)), told));
}

/** A line to type the last of a serial into; what does not fit it stands back. @param {Stay[]} all @param {HTMLElement[]} rows  of the same */
function finder(all, rows) {
  const input = h("input", { "aria-label": t("page.oven_find"), placeholder: t("page.oven_find"), autocomplete: "off", "data-testid": "oven-find", oninput: () => {
    const wanted = input.value.trim().toLowerCase();
    rows.forEach((row, place) => { row.hidden = wanted.length >= FEWEST_LETTERS && !searched(all[place]).includes(wanted); });
  } });
  return input;
}

/** Scans what goes in; a filter that is out of the oven goes to the scale. */
export function ovenScanScreen() {
  const video = h("video", { muted: true, playsInline: true, "data-testid": "camera" });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true, "data-testid": "scan-problem" });
  show(h("a", { class: "back", href: "#/oven" }, t("page.back")), h("h1", {}, t("page.scan")), video, wrong);
  return startScan(video, (text) => { scanned(text).catch(sayFailed); }, (key) => { wrong.textContent = t(key); wrong.hidden = false; });
}

/** @param {string} text */
async function scanned(text) {
  const read = await calc("tag", { text });
  const filter = read.ok && read.kind === "tag" ? (await viewOf(`tag:${read.code}`))?.fields.filter?.used : undefined;
  const jobs = (await openJobs()).filter((job) => job.fields.filter?.used === filter);
  const [out] = await unweighed(jobs);
  if (out) { location.hash = scaleOf(out); return; }
  if (!filter || !jobs.length) say(read.ok ? t("page.oven_unknown", { code: read.code }) : read.text, true);
  else if (isBadForOven(jobs[0])) say(t("page.oven_wet"), true);
  else {
    const draft = await readDraft(KEY);
    await keepLoad(new Set([...(draft?.values.load ?? []), jobs[0].record]), draft?.values.treatment ?? { method: "oven" }, draft);
  }
  location.hash = "#/oven";
}
