/** Home, and finding a filter by its tag. */
import { calc } from "../calc.js";
import { h, show } from "../dom.js";
import { nameOf, newest } from "../form.js";
import { newName, write } from "../outbox.js";
import { startScan } from "../scan.js";
import { children, viewOf, viewsOfKind } from "../store.js";
import { fetchAround } from "../transport.js";
import { t } from "../words.js";
import { groupOf, stateOf, verdictWord } from "../judge.js";
import { jobRows, jobsOf } from "../past.js";
import { judged, linkLines, recalled } from "../marks.js";
import { toWeigh } from "./oven.js";

const LISTED = 30;

export async function homeScreen() {
  const here = location.hash;
  const all = (await viewsOfKind("job")).sort((a, b) => newest(b).localeCompare(newest(a)));
  const hot = (await toWeigh()).length;
  const recalls = h("div", {}, ...recalled.values()); // what stood there stays until it is judged anew: nothing jumps
  const [jobs, older] = [all.slice(0, LISTED), all.slice(LISTED).filter((job) => job.fields.report).slice(0, LISTED)];
  const rows = await Promise.all(jobs.map(async (job) => {
    const filter = await viewOf(job.fields.filter?.used ?? "");
    const word = h("span", { class: "state" });
    const row = h("li");
    judged(job, recalls).then((state) => {
      word.replaceChildren(state.void?.stands ? t("page.void") : verdictWord(state));
      row.classList.toggle("gone", Boolean(state.void?.stands));
    }, () => undefined);
    row.append(h("a", { href: `#/job/${job.record}`, "data-testid": "job-link" }, h("span", {}, filter ? nameOf(filter) : job.record,
      h("br"), h("small", {}, job.fields.truck?.used ?? "")), word));
    return row;
  }));
  if (location.hash !== here) return;
  show(h("h1", {}, t("page.home")), recalls, h("a", { class: "button main", href: "#/scan", "data-testid": "scan" }, t("page.scan")),
    h("a", { class: "button", href: "#/type", "data-testid": "type" }, t("page.type")),
    h("a", { class: "button", href: "#/checks", "data-testid": "checks" }, t("page.checks")),
    h("a", { class: "button", href: "#/oven", "data-testid": "oven" }, t("page.oven"), hot ? ` (${t("page.oven_left", { count: hot })})` : ""), h("h2", {}, t("page.open_jobs")),
    rows.length ? h("ul", { class: "list" }, rows) : h("p", { class: "soft" }, t("page.no_jobs")));
  older.forEach((job) => judged(job, recalls).catch(() => undefined));
}

/** @param {string} text @param {HTMLElement} wrong */
async function open(text, wrong) {
  let read;
  try { read = await calc("tag", { text }); } catch { read = { ok: true, kind: "tag", code: text.trim().toUpperCase().replace(/[^0-9A-Z]/g, "").slice(0, 9) }; }
  if (read.ok && read.kind === "tag") location.hash = `#/tag/${read.code}`;
  else { wrong.textContent = read.ok ? t("page.scan_enrol") : read.text; wrong.hidden = false; }
}

export function scanScreen() {
  const video = h("video", { muted: true, playsInline: true, "data-testid": "camera" });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true, "data-testid": "scan-problem" });
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.scan")), video, wrong, h("a", { class: "button", href: "#/type" }, t("page.type")));
  return startScan(video, (text) => open(text, wrong), (key) => { wrong.textContent = t(key); wrong.hidden = false; });
}

export function typeScreen() {
  const code = h("input", { "aria-label": t("page.tag_code"), autocapitalize: "characters", autocomplete: "off", enterKeyHint: "go", "data-testid": "tag-code",
    onkeydown: (/** @type {KeyboardEvent} */ event) => { if (event.key === "Enter") open(code.value, wrong); } });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true, "data-testid": "tag-problem" });
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.tag_code")), code, wrong,
    h("button", { class: "main", onclick: () => open(code.value, wrong), "data-testid": "tag-go" }, t("page.go")));
  code.focus();
}

/** @param {string} code */
export async function tagScreen(code) {
  const tag = await viewOf(`tag:${code}`);
  if (tag?.fields.filter?.open) { show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", { class: "code" }, code), h("p", { class: "wrong" }, t("page.two_filters"))); return; }
  if (tag?.fields.filter?.used) { location.replace(`#/filter/${tag.fields.filter.used}`); return; }
  const found = h("div");
  const four = h("input", { inputMode: "text", "aria-label": t("page.find_serial"), "data-testid": "serial-four", oninput: async () => {
    const wanted = four.value.trim().toLowerCase();
    const fits = wanted.length < 3 ? [] : (await viewsOfKind("filter")).filter((view) => (view.fields.serial?.used ?? "").toLowerCase().endsWith(wanted));
    found.replaceChildren(...fits.map((view) => h("button", { onclick: async () => {
      await write([{ kind: "tag", record: `tag:${code}`, set: { filter: view.record } }]);
      location.hash = `#/filter/${view.record}`;
    } }, t("page.bind", { serial: view.fields.serial.used }))));
  } });
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.unknown_tag", { code })),
    h("a", { class: "button main", href: `#/checkin/${code}`, "data-testid": "new-filter" }, t("page.new_filter")), h("p", {}, t("page.find_serial")), four, found);
}

/**
 * A record that this phone does not carry, from the server; where it cannot be had the screen says so.
 * @param {string} record @returns {Promise<import("../types").View | undefined>}
 */
export async function fetched(record) {
  const head = [h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.not_here"))];
  show(...head, h("p", { class: "soft" }, t("page.fetching")));
  const state = await fetchAround(record);
  const found = await viewOf(record);
  if (!found) {
    show(...head, h("p", { class: "wrong", "data-testid": "not-here" }, t(state === "done" ? "page.fetched_nothing" : state === "offline" ? "page.fetch_offline" : `page.status_${state}`)),
      h("button", { "data-testid": "fetch-again", onclick: () => dispatchEvent(new HashChangeEvent("hashchange")) }, t("page.fetch_again")));
  }
  return found;
}

/** @param {string} record */
export async function filterScreen(record) {
  const here = location.hash;
  const filter = await viewOf(record) ?? await fetched(record);
  if (location.hash !== here) return;
  if (!filter) { document.querySelector("main")?.append(startJob(record)); return; }
  const [{ links, same }, jobs] = [await groupOf(record), await jobsOf(record)];
  if (!jobs.length) fetchAround(record).then(async () => { // its older jobs are not carried here
    if (location.hash === here && (await children(record, "job", "filter")).length) await filterScreen(record);
  }, () => undefined);
  const open = [];
  for (const job of jobs) if (!job.fields.signoff && !(await isVoid(job))) open.push(job);
  if (location.hash !== here) return;
  if (open.length === 1 && same.length === 1) { location.replace(`#/job/${open[0].record}`); return; } // its earlier jobs are told there
  const rows = await jobRows(jobs, record);
  const told = await linkLines(links, same, record);
  if (location.hash !== here) return;
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, filter ? nameOf(filter) : record), told, h("h2", {}, t("page.filter_jobs")),
    h("ul", { class: "list" }, rows), startJob(record));
}

/** Whether nothing is to be done in a job any more; where no calculation runs, a job that was voided counts as void. @param {import("../types").View} job */
async function isVoid(job) {
  if (!job.fields.void) return false;
  const state = await stateOf(job.record).catch(() => null);
  return state ? Boolean(state.void?.stands) : true;
}

/** @param {string} filter */
function startJob(filter) {
  const job = `job:${newName()}`; // named once: tapped twice it is one job
  return h("button", { class: "main", "data-testid": "new-job", onclick: async () => {
    await write([{ kind: "job", record: job, set: { filter } }]);
    location.hash = `#/job/${job}/facts`; // why it came in, on which truck, for whom: asked before it is read
  } }, t("page.new_job"));
}
