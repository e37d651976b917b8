/** Enrolment with a one-time code, and who is holding this phone. */
import { calc } from "../calc.js";
import { h, say, show } from "../dom.js";
import { nameOf } from "../form.js";
import { compareWithServer } from "../loss.js";
import { signIn, whoami } from "../outbox.js";
import { startScan } from "../scan.js";
import { viewsOfKind } from "../store.js";
import { enrol, isKnown } from "../transport.js";
import { t } from "../words.js";
import { lossCard } from "./waiting.js";

export function enrolScreen() {
  const code = h("input", { "aria-label": t("page.enrol_code"), placeholder: t("page.enrol_code"), autocapitalize: "characters", autocomplete: "off", "data-testid": "enrol-code" });
  const name = h("input", { "aria-label": t("page.enrol_name"), placeholder: t("page.enrol_name"), autocomplete: "off", "data-testid": "enrol-name" });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true, "data-testid": "enrol-problem" });
  const video = h("video", { muted: true, playsInline: true, hidden: true });
  /** @param {string} text */
  const problem = (text) => { wrong.textContent = text; wrong.hidden = false; };
  const go = async () => {
    try {
      const done = await enrol(code.value, name.value || "phone");
      if (done.state !== "done") problem(t("page.sync_offline"));
      location.hash = "#/people";
    } catch (trouble) {
      const given = /** @type {any} */ (trouble);
      problem(given.answer?.error?.text ?? t(given.state === "offline" ? "page.sync_offline" : "page.not_enrolled"));
    }
  };
  let stop = () => {};
  const scan = () => {
    video.hidden = false;
    stop = startScan(video, async (text) => {
      video.hidden = true;
      const read = await calc("tag", { text });
      if (read.ok && read.kind === "enrol") { code.value = read.code; say(t("page.enrol_code")); } else problem(read.ok ? t("page.scan_tag") : read.text);
    }, (key) => { video.hidden = true; problem(t(key)); });
  };
  const lost = h("div");
  const told = async () => { lost.replaceChildren(...[await lossCard(() => lost.replaceChildren())].filter(Boolean)); };
  told().then(() => compareWithServer(isKnown)).then(told, () => undefined);
  const back = h("a", { class: "back", href: "#/waiting", hidden: true }, t("page.back"));
  whoami().then(({ device }) => { back.hidden = !device; }, () => undefined); // who enrols again may have no code yet
  show(back, h("h1", {}, t("page.enrol")), lost, h("p", { class: "help" }, t("page.enrol_help")), h("button", { onclick: scan }, t("page.enrol_scan")), video,
    h("p", {}, code), h("p", {}, name), wrong, h("button", { class: "main", onclick: go, "data-testid": "enrol-go" }, t("page.enrol_go")));
  return () => stop();
}

export async function peopleScreen() {
  const people = await viewsOfKind("person");
  show(h("h1", {}, t("page.who")), people.length ? null : h("p", {}, t("page.nobody")),
    ...people.sort((a, b) => nameOf(a).localeCompare(nameOf(b))).map((view) => h("button", { "data-testid": "person",
      onclick: async () => { await signIn(view.record); location.hash = "#/"; } }, nameOf(view))));
}
