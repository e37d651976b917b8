/** One job: where it stands, what it reads, and the one next thing to do. */
import { DECLARATION } from "ashbook:baked";
import { h, show } from "../dom.js";
import { nameOf, stepNamed } from "../form.js";
import { fetched } from "./home.js";
import { completed, linkLines } from "../marks.js";
import { groupOf, recallCard, recordsOf, stateOf, verdictCard } from "../judge.js";
import { newName, unsent } from "../outbox.js";
import { jobRows, jobsOf } from "../past.js";
import { children, drafts, viewOf } from "../store.js";
import { fetchAround } from "../transport.js";
import { t } from "../words.js";
/** @typedef {import("../types").View} View */

/** The one answer of a step by which a person knows it again in a list. @type {Record<string, string>} */
const TOLD = { weight: "mass", round_weight: "mass", rod: "cells", light: "kind", flow: "drop", treatment: "method", owner_answer: "answer", signoff: "decision" };

/** That answer in words, "" where there is none. @param {string} name  of the step @param {any} value */
function toldIn(name, value) {
  const field = stepNamed(name).fields.find((one) => one.name === TOLD[name]);
  const held = field && value?.[field.name];
  if (!field || held === undefined || held === null) return "";
  if (field.kind === "number") return `${held.n} ${held.u}`.trim();
  if (field.kind === "cells") return t("page.cells_felt", { count: held.length });
  return field.choices.find((choice) => choice.code === held)?.label ?? "";
}

/** Readings that are not taken of other units than a wall-flow brick: rod and light look into its cells (APPLY in trade/judge.py). */
const OF_CELLS = ["rod", "light"];

/** The bricks of a one-box, each with a job of its own. @param {View} filter */
async function brickRows(filter) {
  const bricks = await children(filter.record, "filter", "box");
  return [h("h2", {}, t("page.bricks")), h("p", { class: "soft" }, t("page.bricks_help")), h("ul", { class: "list" }, ...bricks.map((brick) =>
    h("li", {}, h("a", { href: `#/filter/${brick.record}`, "data-testid": "brick" }, nameOf(brick)))))];
}

/** @param {string} job */
export async function jobScreen(job) {
  const here = location.hash;
  const view = await viewOf(job) ?? await fetched(job);
  if (!view || location.hash !== here) return;
  const of = view.fields.filter?.used;
  if (of && !(await viewOf(of))) await fetchAround(of);
  else await completed(view);
  const views = await recordsOf(job);
  const filter = views.find((entry) => entry.record === view.fields.filter?.used);
  const model = views.find((entry) => entry.kind === "model");
  const rounds = (await children(job, "round", "job")).sort((a, b) => first(a) - first(b));
  const half = new Map((await drafts()).map((draft) => [draft.key, draft]));
  const waitingIds = new Set((await unsent()).map((entry) => entry.id));
  /** @param {any} field @param {string} key @param {string} [name]  of the step, where its answer is told */
  const stateText = (field, key, name) => {
    if (half.has(key)) return t("page.draft");
    if (!field) return t("page.missing");
    if (field.open) return t("page.two");
    const word = field.used?.skipped ? t("page.skipped") : (name && toldIn(name, field.used)) || t("page.done");
    return field.answers.some((/** @type {any} */ answer) => waitingIds.has(answer.id)) ? `${word}, ${t("page.unsent")}` : word;
  };
  /** How filter and check-in stand together. */
  const factsText = () => {
    const told = [...stepNamed("filter").fields.map(({ name }) => filter?.fields[name]), ...stepNamed("check_in").fields.map(({ name }) => view.fields[name])].filter((field) => field !== undefined);
    const isTold = stepNamed("check_in").fields.some(({ name }) => view.fields[name]);
    const whole = { answers: told.flatMap((field) => field.answers), open: told.some((field) => field.open) };
    return stateText(isTold || whole.open ? whole : undefined, `${job}/facts`);
  };
  /** @type {{title: string, href: string, isDone: boolean, place: string}[]} */
  const todo = [];
  const kind = filter?.fields.unit_kind?.used;
  /** @param {string} name @param {string} slot */
  const isTaken = (name, slot) => !["one_box", "flow_through"].includes(kind) || !OF_CELLS.includes(name) || view.fields[slot] || half.has(`${job}/${slot}`);
  const earlier = of ? (await jobsOf(of)).filter((other) => other.record !== job) : [];
  const past = earlier.length ? [h("h2", {}, t("page.other_jobs")), h("ul", { class: "list" }, await jobRows(earlier, of))] : [];
  const bricks = filter && kind === "one_box" ? await brickRows(filter) : [];
  /** @param {string} stage */
  const readings = (stage) => h("ul", { class: "list" }, ...DECLARATION.readings.filter((name) => isTaken(name, `${stage}.${name}`)).map((name) => {
    const [slot, title] = [`${stage}.${name}`, stepNamed(name).title];
    const href = `#/job/${job}/${slot}`;
    todo.push({ title, href, isDone: Boolean(view.fields[slot]) && !half.has(`${job}/${slot}`), place: stage });
    return h("li", {}, h("a", { href, "data-testid": `step-${slot}` }, title, h("span", { class: "state" }, stateText(view.fields[slot], `${job}/${slot}`, name))));
  }));
  const before = readings("before");
  const after = readings("after");
  const newRound = [...half.values()].find((draft) => draft.job === job && draft.slot === "treatment" && !rounds.some((round) => round.record === draft.record));
  const roundHref = `#/job/${job}/round/${newRound?.record ?? `round:${newName()}`}/treatment`;
  const roundRows = rounds.flatMap((round, place) => [["treatment", "treatment"], ["weight", "round_weight"]].map(([slot, name]) => h("li", { "data-round": round.record }, h("a", { href: `#/job/${job}/round/${round.record}/${slot}` },
    h("span", {}, `${t("page.round", { n: place + 1 })}: ${stepNamed(name).title}`), h("span", { class: "state" }, stateText(round.fields[slot], `${round.record}/${slot}`, name))))));
  const { links, same } = of ? await groupOf(of) : { links: [], same: [] };
  const told = await linkLines(links, same, of);
  const [recall, given] = [h("div"), h("div")];
  const verdict = h("div", { "aria-live": "polite" }, h("p", { class: "soft" }, t("page.thinking")));
  const bar = h("div", { class: "bar" });
  if (location.hash !== here) return; // the person has gone on while this was being read
  show(h("a", { class: "back", href: "#/" }, t("page.back")),
    h("h1", {}, filter ? nameOf(filter) : job, h("small", {}, [model ? nameOf(model) : "", view.fields.truck?.used, view.fields.work_order?.used].filter(Boolean).join(" · "))),
    recall, verdict, told, h("ul", { class: "list" }, h("li", {}, h("a", { href: `#/job/${job}/facts`, "data-testid": "step-facts" }, t("page.facts"), h("span", { class: "state" }, factsText())))), ...bricks,
    h("h2", {}, t("page.before")), before, h("h2", {}, t("page.rounds")), h("ul", { class: "list" }, roundRows),
    h("a", { class: "button", href: roundHref, "data-testid": "add-round" }, t("page.add_round"), newRound ? ` (${t("page.draft")})` : ""),
    h("h2", {}, t("page.after")), after, h("h2", {}, t("page.decide")),
    h("ul", { class: "list" }, h("li", {}, h("a", { href: `#/job/${job}/owner_answer`, "data-testid": "step-owner_answer" }, stepNamed("owner_answer").title, h("span", { class: "state" }, stateText(view.fields.owner_answer, `${job}/owner_answer`, "owner_answer")))),
      h("li", {}, h("a", { href: `#/job/${job}/signoff`, "data-testid": "step-signoff" }, stepNamed("signoff").title, h("span", { class: "state" }, stateText(view.fields.signoff, `${job}/signoff`, "signoff"))))), given, ...past, bar);
  let state = null;
  try { state = await stateOf(job, views); } catch (problem) {
    verdict.replaceChildren(h("p", { class: "card", "data-testid": "no-verdict" }, t("page.no_verdict")));
    console.error(problem);
  }
  if (state) {
    verdict.replaceChildren(verdictCard(state));
    recall.replaceChildren(recallCard(state) ?? "");
    if (state.report && !state.report.is_recalled) given.replaceChildren(h("p", { class: "soft", "data-testid": "given" }, state.report.text));
  }
  /** @type {string[]} */
  const gone = state?.marks.void_rounds ?? [];
  for (const row of roundRows.filter((/** @type {HTMLElement} */ one) => gone.includes(one.dataset.round ?? ""))) {
    row.classList.add("gone");
    row.querySelector(".state").replaceChildren(t("page.void"));
  }
  const next = state?.void?.stands ? null : nextThing(todo, state, rounds.length - gone.length, roundHref, job, Boolean(view.fields.signoff));
  if (next) bar.replaceChildren(h("a", { class: "button main", href: next.href, "data-testid": "next" }, t("page.next", { title: next.title })));
}

/** @param {any[]} todo @param {any} state @param {number} rounds @param {string} roundHref @param {string} job @param {boolean} isSigned */
function nextThing(todo, state, rounds, roundHref, job, isSigned) {
  const sign = { title: stepNamed("signoff").title, href: `#/job/${job}/signoff` };
  if (isSigned) return state && state.signoff && !state.signoff.stands ? sign : null;
  if (state && state.verdict === "replace") return sign;
  const before = todo.find((entry) => entry.place === "before" && !entry.isDone);
  if (before && (!state || state.stage === "before")) return before;
  if (!rounds && (!state || state.verdict !== "ok_to_reinstall")) return { title: stepNamed("treatment").title, href: roundHref };
  if (!rounds) return sign;
  return todo.find((entry) => entry.place === "after" && !entry.isDone) ?? sign;
}

/** @param {import("../types").View} view */
function first(view) {
  return Math.min(...Object.values(view.fields).flatMap((field) => field.answers.map((answer) => answer.lamport)));
}
