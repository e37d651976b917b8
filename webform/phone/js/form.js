/** Binds a step's HTML to values: reads it, fills it, shows what is not asked yet, and puts problems at their fields. */
import { DECLARATION } from "ashbook:baked";
import { h } from "./dom.js";
import { photoBox } from "./photo_field.js";
import { rodFace } from "./rod.js";
import { viewsOfKind } from "./store.js";
import { drawUnits, followInstrument, usualUnits } from "./units.js";
import { t } from "./words.js";
/** @typedef {import("./types").Step} Step */
/** @typedef {import("./types").Field} Field */

/** @param {string} name @returns {Step} */
export function stepNamed(name) {
  const found = DECLARATION.steps.find((step) => step.name === name);
  if (!found) throw new Error(`no step ${name}`);
  return found;
}

/** When a record was last written to, by the clocks of those who wrote. @param {import("./types").View} view */
export function newest(view) {
  return Object.values(view.fields).flatMap((field) => field.answers.map((answer) => answer.at)).sort().at(-1) ?? "";
}

/** What a record is called in a list; a check by its moment. @param {import("./types").View} view */
export function nameOf(view) {
  if (view.kind.endsWith("_check")) return new Date(newest(view)).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
  return view.fields.name?.used ?? view.fields.number?.used ?? view.fields.serial?.used ?? (view.kind === "owner" ? t("page.owner_erased") : view.record);
}

/** What a change is about, in words. @param {import("./types").Change} change */
export function saidIn(change) {
  const steps = DECLARATION.steps.filter((step) => step.record === change.kind);
  return Object.keys(change.set).map((field) => {
    const [, stage, slot] = /^(?:(before|after)\.)?(.+)$/.exec(field) ?? [];
    const whole = steps.find((step) => step.slot === slot && step.is_staged === Boolean(stage));
    if (whole) return stage ? `${whole.title}, ${t(`page.${stage}`).toLowerCase()}` : whole.title;
    return steps.filter((step) => step.slot === null).flatMap((step) => step.fields).find((one) => one.name === field)?.label ?? field;
  }).join("; ");
}

/**
 * @param {string} name @param {Record<string, any>} values @param {() => void} onInput
 * @param {{n: string, u: string}} [depth]  of the model's brick
 * @returns {Promise<import("./types").Bound>}
 */
export async function bindStep(name, values, onInput, depth) {
  const step = stepNamed(name);
  const template = /** @type {HTMLTemplateElement} */ (document.getElementById(`step-${name}`));
  const form = /** @type {HTMLFormElement} */ (template.content.cloneNode(true)).querySelector?.("form") ?? null;
  if (!form) throw new Error(`no form for ${name}`);
  /** @type {Map<string, {read: () => any, settled?: () => Promise<void>}>} */
  const drawn = new Map(); // fields that draw themselves
  const full = step.fields.find((field) => field.name === "full_depth");
  const fullDepth = () => /** @type {{n: string, u: string} | undefined} */ ((full && valueIn(boxOf(form, full.name), full)) ?? depth);
  const usual = await usualUnits(values);
  for (const field of step.fields) {
    const box = boxOf(form, field.name);
    if (field.kind === "number") drawUnits(box, field, usual, values[field.name]?.u);
    if (field.kind === "cells") {
      drawn.set(field.name, rodFace(/** @type {HTMLElement} */ (box.querySelector(".rod")), field, values[field.name] ?? [], onInput, fullDepth, usual.length));
    } else if (field.kind === "photos") {
      drawn.set(field.name, photoBox(/** @type {HTMLElement} */ (box.querySelector(".photos")), field, values[field.name] ?? [], onInput));
    } else await fill(box, field, values[field.name], values[`new ${field.name}`]);
  }
  const read = () => {
    /** @type {Record<string, any>} */
    const found = {};
    for (const field of step.fields) {
      const box = boxOf(form, field.name);
      if (!box) continue; // a screen has taken this question out and answers it itself
      const value = drawn.has(field.name) ? drawn.get(field.name)?.read() : valueIn(box, field);
      const isKnown = (!field.is_former || values[field.name] !== undefined) // not asked any more, yet not lost either
        && !(field.to === "filter" && (box.querySelector("select")?.options.length ?? 0) < 2); // nothing to pick from
      const isAsked = isKnown && (!field.shown_when || field.shown_when.codes.some((code) =>
        [found[field.shown_when?.field ?? ""] ?? null].flat().includes(code)));
      box.hidden = !isAsked;
      if (isAsked && value !== undefined) found[field.name] = value;
    }
    return found;
  };
  /** New records that were typed instead of picked: field name → text. */
  const fresh = () => {
    /** @type {Record<string, string>} */
    const found = {};
    for (const field of step.fields.filter((entry) => entry.kind === "ref")) {
      const typed = /** @type {HTMLInputElement | null} */ (boxOf(form, field.name)?.querySelector(".new"))?.value.trim();
      if (typed) found[field.name] = typed;
    }
    return found;
  };
  /** @param {any[]} found */
  const problems = (found) => {
    for (const place of form.querySelectorAll(".wrong")) { place.textContent = ""; /** @type {HTMLElement} */ (place).hidden = true; }
    for (const problem of found) {
      const place = /** @type {HTMLElement | null} */ (form.querySelector(`[data-field="${problem.field.split(".")[0]}"] .wrong`));
      if (place && !place.textContent) { place.textContent = problem.text; place.hidden = false; }
    }
  };
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", () => { read(); onInput(); });
  read();
  followInstrument(form, step.fields, read);
  const settled = async () => { for (const field of drawn.values()) await field.settled?.(); };
  return { form, read, fresh, problems, settled, box: (field) => boxOf(form, field) };
}

/** @param {HTMLElement} form @param {string} name @returns {HTMLElement} */
function boxOf(form, name) {
  return /** @type {HTMLElement} */ (form.querySelector(`[data-field="${name}"]`));
}

/** @param {HTMLElement} box @param {Field} field @param {any} value @param {string} [typed] */
async function fill(box, field, value, typed) {
  if (field.kind === "ref") {
    const select = /** @type {HTMLSelectElement} */ (box.querySelector("select"));
    const known = (await viewsOfKind(/** @type {string} */ (field.to))).filter((view) => view.record === value
      || (Object.values(view.fields).some((held) => held.open || held.used !== null) // one that was erased says nothing
        && (field.to !== "filter" || view.fields.unit_kind?.used === "one_box"))); // only a one-box holds bricks
    select.replaceChildren(h("option", { value: "" }, "—"),
      ...inOrder(known, field).map((view) => h("option", { value: view.record }, nameOf(view))));
    select.value = value ?? "";
    const fresh = /** @type {HTMLInputElement} */ (box.querySelector(".new"));
    if (!["model", "owner"].includes(field.to ?? "")) fresh.remove();
    else fresh.value = typed ?? "";
    return;
  }
  if (value === undefined || value === null) return;
  if (field.kind === "number") {
    /** @type {HTMLInputElement} */ (box.querySelector("input[type=text]")).value = value.n;
  } else if (field.kind === "text") /** @type {HTMLInputElement} */ (box.querySelector("input, textarea")).value = value;
  else for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (box.querySelectorAll("input"))) input.checked = [value].flat().includes(input.value);
}

/** Checks with the newest first, the rest by name. @param {import("./types").View[]} known @param {Field} field */
function inOrder(known, field) {
  if (field.to?.endsWith("_check")) return known.sort((a, b) => newest(b).localeCompare(newest(a)));
  return known.sort((a, b) => nameOf(a).localeCompare(nameOf(b)));
}

/** @param {HTMLElement} box @param {Field} field */
function valueIn(box, field) {
  if (field.kind === "number") {
    const typed = /** @type {HTMLInputElement} */ (box.querySelector("input[type=text]")).value;
    const unit = /** @type {HTMLInputElement | null} */ (box.querySelector(".units input:checked"))?.value ?? field.units[0];
    return typed.trim() ? { n: typed.trim(), u: unit } : undefined;
  }
  if (field.kind === "text") return /** @type {HTMLInputElement} */ (box.querySelector("input, textarea")).value.trim() || undefined;
  if (field.kind === "ref") return /** @type {HTMLSelectElement} */ (box.querySelector("select")).value || undefined;
  const picked = [.../** @type {NodeListOf<HTMLInputElement>} */ (box.querySelectorAll("input:checked"))].map((input) => input.value);
  if (field.kind === "choice") return picked[0];
  return picked.length ? picked.sort() : undefined;
}
