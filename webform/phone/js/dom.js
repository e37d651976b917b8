/** Makes elements. Texts are always texts; no markup is ever read. */
import { t } from "./words.js";

/** @param {string} tag @param {Record<string, any>} [props] @param {...any} children @returns {any} */
export function h(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "class") made.className = value;
    else if (name in made && !name.includes("-") && name !== "list") /** @type {any} */ (made)[name] = value;
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  made.append(...children.flat(3).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** Screens that are drawn anew by themselves when the book changes. */
export const REDRAWN = /^(#\/(people)?|#\/job\/job:[\w.-]+)?$/;
let shown = ""; // the address of the screen that stands
let isHeld = false; // a finger is on it
/** @type {(() => void) | null} */
let later = null; // the same screen drawn anew, for when the finger is off: a tap on what is replaced beneath it would be lost

addEventListener("pointerdown", () => { isHeld = true; }, true);
for (const name of ["pointerup", "pointercancel"]) addEventListener(name, () => { setTimeout(() => { isHeld = false; later?.(); }); }, true); // after the click

/** @param {...any} children */
export function show(...children) {
  const screen = /** @type {HTMLElement} */ (document.getElementById("screen"));
  const here = location.hash;
  const isAgain = here === shown && REDRAWN.test(here);
  const put = () => {
    later = null;
    screen.replaceChildren(...children.flat(3).filter(Boolean));
    if (!isAgain) scrollTo(0, 0); // else the person stays where they were reading
  };
  shown = here;
  if (isAgain && isHeld) later = () => { if (location.hash === here) put(); };
  else put();
  return screen;
}

/** A button whose work is done once, however often it is tapped meanwhile. @param {HTMLButtonElement} button @param {() => Promise<void>} work */
export function once(button, work) {
  button.addEventListener("click", async () => {
    if (button.disabled) return;
    button.disabled = true;
    try { await work(); } finally { button.disabled = false; }
  });
  return button;
}

/** @type {any} */
let timer;
/** Says a short thing to the person. @param {string} text @param {boolean} [isAlarm]  it stays until the next thing is said */
export function say(text, isAlarm = false) {
  const said = /** @type {HTMLElement} */ (document.getElementById("said"));
  said.textContent = text;
  said.classList.toggle("alarm", isAlarm);
  clearTimeout(timer);
  if (!isAlarm) timer = setTimeout(() => { said.textContent = ""; }, 4000);
}

/** Says that something a person wanted was not done, and why. @param {any} problem */
export function sayFailed(problem) {
  say(problem?.code ? t(problem.code) : String(problem?.message ?? problem), true);
}
