/** The units of a number: which one an empty field begins with, and which stand in the open. What was typed keeps its own. */
import { h } from "./dom.js";
import { viewOf } from "./store.js";
import { t } from "./words.js";
/** @typedef {import("./types").Field} Field */
/** @typedef {Record<string, string>} Usual  quantity → unit */

const IN_THE_OPEN = 4;

/**
 * What an empty number begins with: what the instrument's display shows, else what the shop reads in.
 * @param {Record<string, any>} values  of a step, which may name the instrument or its check
 * @returns {Promise<Usual>}
 */
export async function usualUnits(values) {
  const check = await viewOf(values.check ?? "");
  const instrument = await viewOf(values.instrument ?? check?.fields.reading?.used?.instrument ?? "");
  const shop = await viewOf("shop:rules");
  return { ...shop?.fields.units?.used, ...instrument?.fields.display?.used };
}

/** The units of a field in the order in which they are offered; the inches of water that the gauge does not show come last.
 * @param {Field} field @param {string | undefined} usual */
function inOrder(field, usual) {
  const first = usual && field.units.includes(usual) ? usual : field.units[0];
  const isInch = (/** @type {string} */ unit) => unit.startsWith("inH2O");
  const others = field.units.filter((unit) => unit !== first);
  const isLast = (/** @type {string} */ unit) => isInch(first) && isInch(unit);
  return [first, ...others.filter((unit) => !isLast(unit)), ...others.filter(isLast)];
}

/**
 * Draws the unit buttons of a number that holds nothing yet, or holds a value in `typed`.
 * @param {HTMLElement} box @param {Field} field @param {Usual} usual @param {string} [typed]  unit of a value that stands
 */
export function drawUnits(box, field, usual, typed) {
  const row = /** @type {HTMLElement | null} */ (box.querySelector(".units"));
  if (!row) return;
  const order = inOrder(field, usual[field.quantity ?? ""]);
  const inputs = new Map([.../** @type {NodeListOf<HTMLInputElement>} */ (row.querySelectorAll("input"))].map((input) => [input.value, input]));
  const picked = inputs.get(typed ?? order[0]);
  if (picked) picked.checked = true;
  row.querySelector("button")?.remove();
  for (const [place, unit] of order.entries()) {
    const label = /** @type {HTMLElement} */ (inputs.get(unit)?.closest("label"));
    label.hidden = place >= IN_THE_OPEN && unit !== typed;
    row.append(label);
  }
  if (order.length <= IN_THE_OPEN) return;
  row.append(h("button", { type: "button", class: "more", "data-testid": `more-units-${field.name}`, onclick: (/** @type {Event} */ event) => {
    for (const label of row.querySelectorAll("label")) label.hidden = false;
    /** @type {HTMLElement} */ (event.currentTarget).remove();
  } }, t("page.more_units")));
}

/**
 * Where another instrument is picked, empty numbers begin with its unit, unless the person has picked one.
 * @param {HTMLElement} form @param {Field[]} fields @param {() => Record<string, any>} read
 */
export function followInstrument(form, fields, read) {
  const boxes = fields.filter((field) => field.kind === "number" && field.quantity).map((field) =>
    ({ field, box: /** @type {HTMLElement} */ (form.querySelector(`[data-field="${field.name}"]`)) }));
  for (const { box } of boxes) box.querySelector(".units")?.addEventListener("change", () => { box.dataset.unit = "picked"; });
  for (const field of fields.filter((entry) => entry.name === "check" || entry.name === "instrument")) {
    form.querySelector(`[data-field="${field.name}"] select`)?.addEventListener("change", async () => {
      const usual = await usualUnits(read());
      for (const { field: number, box } of boxes) {
        const text = /** @type {HTMLInputElement} */ (box.querySelector("input[type=text]")).value;
        if (!text.trim() && box.dataset.unit !== "picked") drawUnits(box, number, usual);
      }
    });
  }
}
