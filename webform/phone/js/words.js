/** The words on screen, from the language's catalogue. */
import { WORDS } from "ashbook:baked";

/** @param {string} key @param {Record<string, any>} [values] */
export function t(key, values = {}) {
  return (WORDS[key] ?? key).replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}
