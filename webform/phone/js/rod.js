/** The rod's face in twelve zones: tap a zone, say how the cell feels and how deep the rod went. */
import { h, say } from "./dom.js";
import { t } from "./words.js";

const ZONES = 12;
const ALL = 24;

/**
 * @param {HTMLElement} box @param {import("./types").Field} field @param {any[]} given @param {() => void} onInput
 * @param {() => {n: string, u: string} | undefined} fullDepth  of the brick, as far as it is known
 * @param {string} [usual]  the unit in which depths begin
 * @returns {{read: () => any[] | undefined}}
 */
export function rodFace(box, field, given, onInput, fullDepth, usual) {
  let cells = [...given];
  /** Cells as they were before each touch, so that a slip takes nothing with it. @type {any[][]} */
  const earlier = [];
  /** The first zone that is not full yet. @param {any[]} felt */
  const nextZone = (felt) => [...Array(ZONES).keys()].find((place) => felt.filter((cell) => cell.zone === place + 1).length < 2) ?? ZONES - 1;
  let zone = nextZone(cells) + 1;
  const depth = h("input", { type: "text", inputMode: "decimal", "aria-label": t("page.cells_depth"), placeholder: t("page.cells_depth_short"), "data-testid": "cell-depth" });
  const short = h("input", { type: "text", inputMode: "decimal", "aria-label": t("page.cells_short"), placeholder: t("page.cells_short_short"), "data-testid": "cell-short" });
  const unit = h("select", { "aria-label": t("page.unit"), "data-testid": "cell-unit" }, ...field.units.map((name) => h("option", {}, name)));
  if (usual && field.units.includes(usual)) unit.value = usual;
  const lastDepth = cells.at(-1)?.depth;
  if (lastDepth) { depth.value = lastDepth.n; unit.value = lastDepth.u; }
  const count = h("p", { class: "soft", "aria-live": "polite", "data-testid": "cell-count" });
  const zones = h("div", { class: "zones" });
  /** @param {any[]} next */
  const set = (next) => { earlier.push(cells); cells = next; draw(); onInput(); };
  const undo = h("button", { type: "button", "data-testid": "cells-undo", onclick: () => {
    cells = earlier.pop() ?? cells.slice(0, -1);
    zone = nextZone(cells) + 1;
    draw();
    onInput();
  } }, t("page.cells_undo"));
  /** @param {any} cell */
  const told = (cell) => {
    const feel = (field.choices.find((choice) => choice.code === cell.feel)?.label ?? cell.feel).toLowerCase();
    const stop = cell.depth ?? cell.short;
    return t("page.cells_last", { count: cells.length, zone: cell.zone, feel: stop ? `${feel}, ${cell.short ? `${t("page.cells_short_short").toLowerCase()} ` : ""}${stop.n} ${stop.u}` : feel });
  };
  /** @param {string} feel */
  const cellOf = (feel) => {
    /** @type {any} */
    const cell = { zone, feel };
    if (feel === "soft" || feel === "hard" || feel === "through") {
      if (depth.value.trim()) cell.depth = { n: depth.value.trim(), u: unit.value };
      else if (short.value.trim()) cell.short = { n: short.value.trim(), u: unit.value };
    }
    return cell;
  };
  /** @param {any} cell */
  const put = (cell) => {
    set([...cells, cell]);
    if (cells.filter((entry) => entry.zone === zone).length >= 2 && zone < ZONES) zone += 1;
    draw();
  };
  let isAll = false;
  const all = h("input", { type: "checkbox", "data-testid": "cells-all", onchange: () => { isAll = all.checked; } });
  const feels = h("div", { class: "choices" }, ...field.choices.map((choice) => h("button", {
    type: "button", "data-testid": `feel-${choice.code}`, onclick: () => {
      if (isAll) set(Array.from({ length: ALL }, (_, place) => ({ ...cellOf(choice.code), zone: (place % ZONES) + 1 })));
      else put(cellOf(choice.code));
    } }, choice.label)));
  function draw() {
    count.textContent = cells.length ? told(cells[cells.length - 1]) : t("page.cells_count", { count: 0 });
    undo.disabled = !cells.length && !earlier.length;
    zones.replaceChildren(...Array.from({ length: ZONES }, (_, place) => {
      const here = cells.filter((cell) => cell.zone === place + 1);
      return h("button", { type: "button", class: place + 1 === zone ? "picked" : "", "data-testid": `zone-${place + 1}`, "aria-label": t("page.zone", { n: place + 1 }),
        onclick: () => { zone = place + 1; draw(); } }, here.length ? here.map((cell) => field.choices.find((c) => c.code === cell.feel)?.label[0] ?? "?").join("") : String(place + 1));
    }));
  }
  /** Depths by eye, in thirds of the brick. @param {number} thirds */
  const byEye = (thirds) => h("button", { type: "button", "data-testid": `third-${thirds}`, onclick: () => {
    const full = fullDepth();
    if (!full || !(Number(full.n) > 0)) { say(t("page.cells_no_depth")); return; }
    unit.value = full.u;
    short.value = "";
    depth.value = (Number(full.n) * thirds / 3).toFixed(full.u === "in" ? 1 : 0);
  } }, t(`page.cells_third_${thirds}`));
  box.replaceChildren(
    h("p", { class: "help" }, t("page.cells_help")), zones, count,
    h("div", { class: "pad" }, h("div", { class: "row" }, depth, short, unit), h("div", { class: "row thirds" }, byEye(1), byEye(2)),
      h("label", { class: "choices" }, all, h("span", {}, t("page.cells_all"))),
      h("p", {}, t("page.cells_feel")), feels),
    h("div", { class: "choices fast" }, h("button", { type: "button", "data-testid": "cells-again", onclick: () => { if (cells.length) put({ ...cells[cells.length - 1], zone }); } }, t("page.cells_again")),
      h("button", { type: "button", "data-testid": "cells-rest", onclick: () => {
        const next = [...cells];
        for (let place = 1; place <= ZONES; place += 1) while (next.filter((cell) => cell.zone === place).length < 2) next.push({ zone: place, feel: "free" });
        set(next);
      } }, t("page.cells_rest")),
      h("button", { type: "button", "data-testid": "cells-clear", onclick: () => { zone = 1; if (cells.length) set([]); } }, t("page.cells_clear")), undo));
  draw();
  return { read: () => (cells.length ? cells : undefined) };
}
