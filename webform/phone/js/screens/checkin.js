/** Check-in of a filter that this shop does not know yet: filter, tag and job in one write. */
import { calc } from "../calc.js";
import { h, once, say, sayFailed, show } from "../dom.js";
import { bindStep, stepNamed } from "../form.js";
import { newName, write } from "../outbox.js";
import { isRightBy, oneByOne } from "../questions.js";
import { readDraft, saveDraft } from "../store.js";
import { t } from "../words.js";

/** @param {string} code */
export async function checkinScreen(code) {
  const key = `checkin:${code}`;
  const draft = await readDraft(key);
  const names = draft?.values.names ?? { filter: `filter:${newName()}`, job: `job:${newName()}`, model: `model:${newName()}`, owner: `owner:${newName()}` };
  const save = () => saveDraft({ key, step: "check_in", record: names.job, slot: "", replaces: {}, began_at: draft?.began_at ?? new Date().toISOString(),
    values: { names, filter: { ...filter.read(), ...prefixed(filter.fresh()) }, check_in: { ...checkIn.read(), ...prefixed(checkIn.fresh()) } } });
  /** @type {ReturnType<typeof oneByOne> | undefined} */
  let questions;
  const onInput = () => { questions?.draw(); save().catch(sayFailed); };
  const filter = await bindStep("filter", draft?.values.filter ?? { unit_kind: "wall_flow" }, onInput);
  const checkIn = await bindStep("check_in", draft?.values.check_in ?? {}, onInput);
  const go = once(h("button", { class: "main", "data-testid": "save" }, t("page.save")), async () => {
    for (const part of [filter, checkIn]) await part.settled();
    const [data, job, model, owner] = [filter.read(), checkIn.read(), filter.fresh().model, checkIn.fresh().owner];
    try {
      const found = [await calc("check", { step: "filter", values: data }), await calc("check", { step: "check_in", values: job })];
      filter.problems(found[0]);
      checkIn.problems(found[1]);
      if (found.flat().length) { say(t("page.fix")); questions?.reveal(found.flat()[0].field); return; }
    } catch { /* the server checks again */ }
    const entries = [];
    if (model) { entries.push({ kind: "model", record: names.model, set: { number: model } }); data.model = names.model; }
    if (owner) { entries.push({ kind: "owner", record: names.owner, set: { name: owner } }); job.owner = names.owner; }
    entries.push({ kind: "filter", record: names.filter, set: data }, { kind: "tag", record: `tag:${code}`, set: { filter: names.filter } },
      { kind: "job", record: names.job, set: { filter: names.filter, ...job } });
    await write(entries, { draft: key });
    say(t("page.saved"));
    location.hash = `#/job/${names.job}`;
  });
  questions = oneByOne([{ step: stepNamed("filter"), bound: filter }, { step: stepNamed("check_in"), bound: checkIn }], go, (question) =>
    isRightBy(question, () => calc("check", { step: question.bound === filter ? "filter" : "check_in", values: question.bound.read() })), { asksAll: true });
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.check_in"), h("small", { class: "code" }, code)),
    draft ? h("p", { class: "soft", "data-testid": "restored" }, t("page.restored")) : null, filter.form, checkIn.form, questions.bar);
}

/** @param {Record<string, string>} fresh */
export function prefixed(fresh) {
  return Object.fromEntries(Object.entries(fresh).map(([name, text]) => [`new ${name}`, text]));
}
