/**
 * One question at a time. Answered questions fold to a line that opens again, later ones wait out of sight, and the bar
 * says what comes next. Nothing is decided here: what is right and what is kept is the step's business.
 */
import { h } from "./dom.js";
import { t } from "./words.js";
/** @typedef {import("./types").Bound} Bound */
/** @typedef {{field: import("./types").Field, bound: Bound, box: HTMLElement}} Question */

/**
 * @param {{step: import("./types").Step, bound: Bound}[]} parts  forms in the order in which they are asked
 * @param {HTMLButtonElement} save
 * @param {(question: Question) => Promise<boolean>} isRight  puts a problem at its field; false keeps the question open
 * @param {{isSaved?: boolean, asksAll?: boolean, isRestored?: boolean, offered?: string[], onMove?: () => void}} [options]  isSaved: an answer that
 *   stands is opened again, so nothing is asked anew. asksAll: every question is asked before saving is offered first. isRestored: a
 *   half-filled step goes on where it was left. offered: fields that the screen filled in itself, which says nothing of those before them
 * @returns {{bar: HTMLElement, draw: () => void, reveal: (field: string) => void}}
 */
export function oneByOne(parts, save, isRight, options = {}) {
  const all = parts.flatMap(({ step, bound }) => step.fields.map((field) => ({ field, bound, box: bound.box(field.name) })));
  /** @type {Set<Question>} */
  const passed = new Set(); // left empty on purpose
  /** @type {Question | undefined} */
  let open;
  const asked = () => all.filter((question) => !question.box.hidden);
  const firstLeft = () => asked().find((question) => !isAnswered(question) && !passed.has(question));
  const isMissing = () => asked().some((question) => question.field.required && !isAnswered(question));

  const next = h("button", { type: "button", "data-testid": "next-question", onclick: async () => {
    const from = open;
    if (!from) return;
    if ((isAnswered(from) || from.field.required) && !(await isRight(from))) return;
    if (open === from) go(from);
  } }, t("page.next_question"));
  const bar = h("div", { class: "bar" }, next, save);

  /** Goes on from a question. @param {Question} from */
  function go(from) {
    if (!isAnswered(from)) passed.add(from);
    open = firstLeft();
    draw();
    focus();
  }

  /** @param {Question} question */
  function show(question) {
    open = question;
    draw();
    focus();
  }

  function focus() {
    options.onMove?.();
    if (!open) { save.focus({ preventScroll: true }); return; }
    const input = /** @type {HTMLElement | null} */ (open.box.querySelector("input:checked, input, select, textarea, .zones button"));
    input?.focus({ preventScroll: true });
    open.box.scrollIntoView({ block: "nearest" });
  }

  function draw() {
    if (open?.box.hidden) open = firstLeft();
    for (const question of all) {
      const isDone = isAnswered(question) || passed.has(question);
      question.box.dataset.state = question === open ? "open" : isDone ? "folded" : "later";
      const said = question.box.querySelector(":scope > .answer b");
      if (said) said.textContent = textOf(question) || t("page.not_given");
    }
    const later = asked().some((question) => question !== open && !isAnswered(question) && !passed.has(question));
    const canSave = !isMissing();
    const isSaveFirst = canSave && (!options.asksAll || !later);
    next.hidden = !open || (canSave && !later);
    save.hidden = !canSave;
    next.className = isSaveFirst ? "" : "main";
    save.className = isSaveFirst ? "main" : "";
  }

  for (const question of all) {
    question.box.querySelector(":scope > .answer")?.addEventListener("click", () => show(question));
    // A choice that is touched goes on by itself; one that is reached with the keys (detail 0) waits for Next.
    question.box.addEventListener("click", (event) => {
      const label = /** @type {HTMLElement} */ (event.target).closest(".choices label");
      if (event.detail === 0 || question.field.kind !== "choice" || !label || event.target instanceof HTMLInputElement) return;
      setTimeout(() => { if (open === question && isAnswered(question)) go(question); }); // the browser ticks it after this event
    });
    question.box.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || !(event.target instanceof HTMLInputElement) || question !== open) return;
      event.preventDefault();
      (next.hidden ? save : next).click();
    });
  }
  for (const { bound } of parts) bound.read();
  const order = asked();
  const last = options.isSaved ? order.length : order.findLastIndex((question) => isAnswered(question) && !options.offered?.includes(question.field.name));
  order.slice(0, Math.max(0, last)).forEach((question) => { if (!isAnswered(question) && !question.field.required) passed.add(question); });
  const left = options.isRestored ? order[last] : undefined;
  open = left?.field.kind === "cells" ? left : firstLeft(); // cells are one answer long before all of them are felt
  draw();
  const turned = () => { // the screen was turned, or a keyboard has come up
    if (bar.isConnected) open?.box.scrollIntoView({ block: "nearest" });
    else removeEventListener("resize", turned);
  };
  addEventListener("resize", turned);
  return { bar, draw, reveal: (name) => {
    const found = asked().find((question) => question.field.name === name);
    if (found) show(found);
  } };
}

/**
 * Whether a question's answer is right; what is wrong with it is put at its field. Where the calculation cannot run, the
 * server checks.
 * @param {Question} question @param {() => Promise<import("./types").Problem[]>} check  of the whole step
 */
export async function isRightBy({ field, bound }, check) {
  try {
    const found = (await check()).filter((problem) => problem.field.split(".")[0] === field.name);
    bound.problems(found);
    return !found.length;
  } catch { return true; }
}

/** @param {Question} question */
function isAnswered({ field, bound }) {
  return bound.read()[field.name] !== undefined || bound.fresh()[field.name] !== undefined;
}

/** The answer in the words of the page. @param {Question} question */
function textOf({ field, bound, box }) {
  const value = bound.read()[field.name];
  const typed = bound.fresh()[field.name];
  if (typed) return typed;
  if (value === undefined) return "";
  if (field.kind === "number") return `${value.n} ${value.u}`;
  if (field.kind === "photos") return value.length === 1 ? t("page.photos_one") : t("page.photos_count", { count: value.length });
  if (field.kind === "cells") return t("page.cells_count", { count: value.length });
  if (field.kind === "ref") return box.querySelector("select")?.selectedOptions[0]?.textContent ?? "";
  if (field.kind === "text") return value;
  return [...box.querySelectorAll(".choices input:checked + span")].map((span) => span.textContent).join(", ");
}
