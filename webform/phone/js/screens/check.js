/** Checks of the day: which instruments there are, and one check of one of them. A check names the one before it. */
import { calc } from "../calc.js";
import { h, once, say, sayFailed, show } from "../dom.js";
import { bindStep, nameOf, newest, stepNamed } from "../form.js";
import { newName, write } from "../outbox.js";
import { previewing } from "../preview.js";
import { oneByOne } from "../questions.js";
import { readDraft, saveDraft, viewOf, viewsOfKind } from "../store.js";
import { t } from "../words.js";

/** @param {import("../types").View} check */
const instrumentOf = (check) => check.fields.reading?.used?.instrument ?? check.fields.reading?.answers[0]?.value.instrument;

/** The latest check of an instrument. @param {string} kind @param {string} instrument */
async function latest(kind, instrument) {
  const mine = (await viewsOfKind(kind)).filter((check) => instrumentOf(check) === instrument);
  return mine.sort((a, b) => newest(b).localeCompare(newest(a)))[0];
}

export async function checksScreen() {
  const here = location.hash;
  const instruments = (await viewsOfKind("instrument")).sort((a, b) => nameOf(a).localeCompare(nameOf(b)));
  const rows = await Promise.all(instruments.map(async (instrument) => {
    const kind = `${instrument.fields.type?.used}_check`;
    const last = await latest(kind, instrument.record);
    const found = h("b");
    if (last?.fields.reading?.used) {
      const said = await calc("instrument", { kind, values: last.fields.reading.used, views: [instrument, await viewOf("shop:rules")].filter(Boolean) }).catch(() => null);
      if (said) { found.textContent = t(said.ok ? "page.check_good" : "page.check_bad"); found.className = said.ok ? "" : "wrong"; }
    }
    return h("li", {}, h("a", { href: `#/check/${kind}/${instrument.record}`, "data-testid": "instrument" }, nameOf(instrument),
      h("span", { class: "state" }, found, found.textContent ? h("br") : null,
        last ? t("page.last_check", { at: new Date(newest(last)).toLocaleString([], { dateStyle: "short", timeStyle: "short" }) }) : t("page.never_checked"))));
  }));
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.checks")),
    rows.length ? h("ul", { class: "list" }, rows) : h("p", { class: "soft" }, t("page.no_instruments")));
}

/** @param {string} kind @param {string} instrument */
export async function checkScreen(kind, instrument) {
  const here = location.hash;
  const step = stepNamed(kind);
  const key = `${kind}/${instrument}`;
  const [draft, view, shop, previous] = [await readDraft(key), await viewOf(instrument), await viewOf("shop:rules"), await latest(kind, instrument)];
  if (!view) { location.replace("#/checks"); return; }
  const record = draft?.record ?? `${kind}:${newName()}`;
  const preview = h("div", { "aria-live": "polite", "data-testid": "preview" });
  /** @type {ReturnType<typeof oneByOne> | undefined} */
  let questions;
  const meaning = previewing(async (isStale) => {
    try {
      const wrong = await check(false);
      if (isStale()) return;
      bound.problems(wrong); // what was put right is not marked any more
      if (wrong.length || (await check(true)).length) { preview.replaceChildren(); return; }
      const found = await calc("instrument", { kind, values: read(), views: [view, shop].filter(Boolean) });
      if (!isStale()) preview.replaceChildren(h("div", { class: `card ${found.ok ? "" : "two"}`, "data-testid": "check-verdict", "data-ok": String(found.ok) }, ...found.texts.map((/** @type {string} */ text) => h("p", {}, text))));
    } catch { /* without the calculation there is no preview */ }
  });
  const onInput = () => {
    questions?.draw();
    saveDraft({ key, step: kind, record, slot: "reading", values: bound.read(), replaces: {}, began_at: draft?.began_at ?? new Date().toISOString(), job: "" }).catch(sayFailed);
    meaning.soon();
  };
  const bound = await bindStep(kind, draft?.values ?? { instrument, ...(previous ? { previous: previous.record } : {}) }, onInput);
  for (const field of ["instrument", "previous"]) bound.box(field).remove();
  /** What is stored: the two names come from the screen, not from a question. */
  const read = () => ({ ...bound.read(), instrument, ...(previous ? { previous: previous.record } : {}) });
  /** @param {boolean} isComplete */
  const check = (isComplete) => calc("check", { step: kind, values: read(), is_complete: isComplete });
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.save")), async () => {
    meaning.stop();
    try {
      const found = await check(true);
      bound.problems(found);
      if (found.length) { say(t("page.fix")); questions?.reveal(found[0].field); return; }
    } catch { /* the server checks again */ }
    await write([{ kind, record, set: { reading: read() }, replaces: {} }], { draft: key });
    say(t("page.saved"));
    location.hash = "#/checks";
  });
  const asked = { ...step, fields: step.fields.filter((field) => !["instrument", "previous"].includes(field.name)) };
  questions = oneByOne([{ step: asked, bound }], go, (question) => meaning.isRight(question, () => check(true)), { asksAll: true });
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: "#/checks" }, t("page.back")), h("h1", {}, step.title, h("small", {}, nameOf(view))),
    draft ? h("p", { class: "soft", "data-testid": "restored" }, t("page.restored")) : null, bound.form, preview, questions.bar);
  if (draft) meaning.now();
}
