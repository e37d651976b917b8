/** What can hurt at a step, said before it: in full once a shift, behind a touch after that. */
import { DECLARATION } from "ashbook:baked";
import { h } from "./dom.js";
import { t } from "./words.js";
/** @typedef {import("./types").Step} Step */

const BAD_FOR_OVEN = ["oil", "fuel", "coolant"];

/** @param {Step} step */
export function cautionsOf(step) {
  return DECLARATION.cautions.filter((caution) => step.cautions.includes(caution.code)).map((caution) => caution.text);
}

/** @param {Step} step */
const seenKey = (step) => `seen ${step.cautions.join()}`;

/** The cautions of a step as a card; null where nothing can hurt. @param {Step} step @returns {HTMLElement | null} */
export function careCard(step) {
  if (!step.cautions.length) return null;
  return h("details", { class: "card", open: !sessionStorage.getItem(seenKey(step)) }, h("summary", {}, t("page.caution")), ...cautionsOf(step).map((text) => h("p", {}, text)));
}

/** They have been on the screen. @param {Step} step */
export function noteCare(step) {
  sessionStorage.setItem(seenKey(step), "1");
}

/** Whether a brick was found wet with what burns or bursts in an oven. @param {import("./types").View | undefined} job */
export function isBadForOven(job) {
  return BAD_FOR_OVEN.includes(job?.fields["before.visual"]?.used?.wet);
}
