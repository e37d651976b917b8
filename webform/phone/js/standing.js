/** Different answers that stand in one field, shown to whoever is about to give another: an edit replaces only what was on the screen. */
import { calc } from "./calc.js";
import { h } from "./dom.js";
import { nameOf } from "./form.js";
import { viewOf } from "./store.js";
import { t } from "./words.js";
/** @typedef {import("./types").Step} Step */

/**
 * What stands in a field: the ids that an edit begun now replaces, and a card with the answers where they differ. Where they
 * cannot be shown, the edit replaces none of them and the office decides.
 * @param {Step} step @param {import("./types").ViewField | undefined} held
 * @returns {Promise<{ids: string[], card: HTMLElement | null}>}
 */
export async function standing(step, held) {
  const ids = held?.answers.map((answer) => answer.id) ?? [];
  if (!held?.open) return { ids, card: null };
  /** @param {string} key @param {...any} shown */
  const card = (key, ...shown) => h("section", { class: "card two", "data-testid": "two-answers" }, h("p", {}, h("b", {}, t(key))), ...shown);
  try {
    return { ids, card: card("page.two_stand", await Promise.all(held.answers.map((answer) => told(step, answer)))) };
  } catch {
    return { ids: [], card: card("page.two_unshown") };
  }
}

/** @param {Step} step @param {import("./types").Answer} answer */
async function told(step, answer) {
  const lines = await calc("show", { step: step.name, values: answer.value });
  const author = await viewOf(answer.by);
  const when = new Date(answer.at).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
  const texts = await Promise.all(lines.map(async (/** @type {any} */ line) => {
    const of = step.fields.find((field) => field.name === line.field)?.kind === "ref" ? await viewOf(line.text) : undefined;
    return h("span", {}, `${line.label}: `, h("b", {}, of ? nameOf(of) : line.text), " ");
  }));
  return h("p", {}, texts.length ? texts.flatMap((text) => [text, h("br")]) : "—", h("small", {}, [author ? nameOf(author) : "", when].filter(Boolean).join(" · ")));
}
