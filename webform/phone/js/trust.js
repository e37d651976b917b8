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

/** @param {"plain" | "certificate"} why */
export function untrustedScreen(why) {
  const address = why === "plain" ? `https://${location.hostname}/phone/` : `${location.origin}/phone/`;
  show(h("h1", {}, t("page.untrusted")), h("div", { class: "card two", role: "alert", "data-testid": "untrusted", "data-why": why },
    h("p", {}, t(`page.untrusted_${why}`)), h("p", {}, t(`page.untrusted_${why}_do`, { address, root: `http://${location.hostname}/ca.crt` }))));
}
