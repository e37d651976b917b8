/** Makes elements. Texts are always texts; no markup is ever read. */
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

/** @param {...any} children */
export function show(...children) {
  const screen = /** @type {HTMLElement} */ (document.getElementById("screen"));
  screen.replaceChildren(...children.flat(3).filter(Boolean));
  scrollTo(0, 0);
  return screen;
}

/** @type {any} */
let timer;
/** Says a short thing to the person. @param {string} text */
export function say(text) {
  const said = /** @type {HTMLElement} */ (document.getElementById("said"));
  said.textContent = text;
  clearTimeout(timer);
  timer = setTimeout(() => { said.textContent = ""; }, 4000);
}
