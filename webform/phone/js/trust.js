/**
 * Whether this page came over a connection that this phone trusts. Without encryption a browser gives an app neither hashes
 * nor a camera nor a way to open without a network; behind a certificate warning that was waved aside it refuses the last.
 * Then the app says why and what to do, nobody enrols, and nothing is sent.
 */
import { h, show } from "./dom.js";
import { t } from "./words.js";

let isRefused = false;

/** Notes that the browser would not keep the app. @param {any} problem @returns {boolean} whether it was for want of trust */
export function noteRefusal(problem) {
  // Chromium: "An SSL certificate error occurred when fetching the script"
  isRefused ||= problem?.name === "SecurityError";
  return isRefused;
}

/** Why this connection is not to be trusted, where it is not. @returns {"plain" | "certificate" | null} */
export function distrust() {
  if (!isSecureContext) return "plain";
  return isRefused ? "certificate" : null;
}

/** Where this shop gives out the certificate of its own authority (deploy/Caddyfile). */
export function rootAddress() {
  return `http://${location.hostname}/ca.crt`;
}

/** Why, and the two things to do, the first one first. @param {"plain" | "certificate"} why */
export function untrustedScreen(why) {
  const address = why === "plain" ? `https://${location.hostname}/phone/` : `${location.origin}/phone/`;
  const ways = [h("a", { class: "button", href: address, "data-testid": "trusted-address" }, t("page.untrusted_open")),
    h("a", { class: "button", href: rootAddress(), "data-testid": "trusted-root" }, t("page.untrusted_root"))];
  if (why === "certificate") ways.reverse();
  ways[0].classList.add("main");
  show(h("h1", {}, t("page.untrusted")), h("div", { class: "card two", role: "alert", "data-testid": "untrusted", "data-why": why },
    h("p", {}, t(`page.untrusted_${why}`)), h("p", {}, t(`page.untrusted_${why}_do`, { address, root: rootAddress() }))), ...ways);
}
