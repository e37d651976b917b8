/** What waits for the office: what this phone has lost, what the office keeps aside, what is not sent yet, and the ways out. */
import { h, say, show } from "../dom.js";
import { nameOf, saidIn, stepNamed } from "../form.js";
import { readLoss, unreadLoss } from "../loss.js";
import { exportFile, heldChanges, seenName, unsent, waiting, whoami } from "../outbox.js";
import { waitingPhotos } from "../photos.js";
import { announce, drafts, viewOf } from "../store.js";
import { syncNow } from "../transport.js";
import { rootAddress } from "../trust.js";
import { t } from "../words.js";

const FREED_MS = 600000;
const LISTED = 200;

/** What this phone's book has lost, until a person has read it. @param {() => void} then */
export async function lossCard(then) {
  const loss = await unreadLoss();
  if (!loss) return null;
  const values = { count: loss.count, at: loss.at ? new Date(loss.at).toLocaleString() : "" };
  return h("div", { class: "card two", "data-testid": "loss", "data-what": loss.what }, h("p", {}, t(`page.loss_${loss.what}`)),
    loss.count === null ? null : h("p", { "data-testid": "loss-count" }, t(`page.loss_${loss.what}_count`, values)), h("p", {}, t("page.loss_do")),
    h("button", { "data-testid": "loss-read", onclick: async () => { await readLoss(); announce(); then(); } }, t("page.loss_read")));
}

/** Why the office's server keeps a change aside and what to do; a value that does not fit is told without its figures. @param {string} reason */
function whyHeld(reason) {
  return [`page.held_${reason}`, `held.${reason}`].map((key) => [key, t(key)]).find(([key, text]) => key !== text)?.[1] ?? t("page.held_unfit");
}

/** What a change says and of which filter, and the job that it belongs to. @param {import("../types").Change} change */
async function toldOf(change) {
  const of = change.kind === "job" ? change.record : change.set.job ?? (await viewOf(change.record))?.fields.job?.used;
  const job = typeof of === "string" ? await viewOf(of) : undefined;
  const filter = await viewOf(job?.fields.filter?.used ?? change.record);
  return { job, text: [filter?.kind === "filter" ? nameOf(filter) : "", saidIn(change)].filter(Boolean).join(": ") };
}

/** A change that is kept aside, with what to do. @param {import("../types").Queued} entry */
async function heldCard({ change, reason, hash }) {
  const { job, text } = await toldOf(change);
  const seen = (await viewOf(seenName(hash)))?.fields.seen?.used;
  return h("div", { class: seen ? "card" : "card two", "data-testid": "held" }, h("p", {}, h("b", {}, text)), h("p", {}, whyHeld(reason ?? "")),
    seen ? h("p", { "data-testid": "held-seen" }, t("page.held_seen", seen)) : null,
    job ? h("a", { class: "button", href: `#/job/${job.record}`, "data-testid": "held-job" }, t("page.held_job")) : null);
}

/** A change that is not sent yet, on a line. @param {import("../types").Queued} entry */
async function line({ change }) {
  const at = new Date(change.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
  return h("p", {}, h("span", { class: "soft" }, `${at} `), (await toldOf(change)).text);
}

/** A step that was begun and not saved, and the way back to it. @param {import("../types").Draft} draft */
async function halfLine({ key, step, record, slot, job }) {
  const [first, code] = key.split(":");
  if (first === "checkin") return h("li", {}, h("a", { href: `#/checkin/${code}`, "data-testid": "half-filled" }, t("page.check_in"), h("span", { class: "state code" }, code)));
  if (first === "oven") return h("li", {}, h("a", { href: "#/oven", "data-testid": "half-filled" }, t("page.oven")));
  const filter = job ? await viewOf((await viewOf(job))?.fields.filter?.used ?? "") : await viewOf(key.split("/")[1] ?? "");
  const stage = /^(before|after)\./.exec(slot)?.[1];
  const href = job ? `#/job/${job}/${record === job ? "" : `round/${record}/`}${slot}` : `#/check/${key}`;
  const title = slot === "facts" ? t("page.facts") : stepNamed(step).title;
  return h("li", {}, h("a", { href, "data-testid": "half-filled" }, h("span", {}, title, stage ? h("small", {}, h("br"), t(`page.${stage}`)) : null), h("span", { class: "state" }, filter ? nameOf(filter) : "")));
}

/** How the last sending that a person asked for ended. @type {string} */
let ended = "done";

async function sendNow() {
  const done = await syncNow(true).catch((problem) => {
    throw problem.code === "page.book_full" ? Object.assign(problem, { code: "page.sync_full" }) : problem;
  });
  ended = done.state;
  say(done.state === "done" ? t("page.sync_done", done) : done.state === "offline" ? t("page.sync_offline") : done.state === "not_enrolled" ? t("page.status_shut") : t(`page.status_${done.state}`));
  if (location.hash === "#/waiting") await waitingScreen(); // else the person has gone on
}

/** Hands out a file of all that waits, and tells in the paragraph what is in it. @param {HTMLElement} told */
async function saveFile(told) {
  const { file, name, ...counts } = await exportFile();
  const address = URL.createObjectURL(file);
  h("a", { href: address, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(address), FREED_MS); // large: not until the page is closed
  told.replaceChildren(t("page.export_done", counts), counts.left ? h("b", {}, ` ${t("page.export_left", counts)}`) : "");
}

/** A part of the screen under its heading, nothing where there is nothing in it. @param {string} key @param {any[]} parts */
function part(key, parts) {
  const found = parts.filter(Boolean);
  return found.length ? [h("h2", {}, t(key)), ...found] : [];
}

export async function waitingScreen() {
  const lost = await lossCard(() => waitingScreen());
  const [now, me, listed, held, photos] = [await waiting(), await whoami(), await unsent(), await heldChanges(), await waitingPhotos()];
  const half = await Promise.all((await drafts()).map(halfLine));
  const [person, cards, lines] = [me.person ? await viewOf(me.person) : undefined, await Promise.all(held.map(heldCard)), await Promise.all(listed.slice(0, LISTED).map(line))];
  if (location.hash !== "#/waiting") return;
  const told = h("p", { role: "status", "data-testid": "exported" });
  const size = Math.ceil(photos.reduce((sum, photo) => sum + photo.bytes, 0) / 1000);
  show(h("a", { class: "back", href: "#/" }, t("page.back")), h("h1", {}, t("page.waiting")), lost,
    now.isShut ? h("div", { class: "card two", "data-testid": "shut" }, h("p", {}, t("page.shut_out")), h("a", { class: "button main", href: "#/enrol", "data-testid": "enrol-again" }, t("page.enrol_again"))) : null,
    now.clockOff ? h("p", { class: "card two", "data-testid": "clock" }, t("page.clock_off", { here: new Date().toLocaleString(), there: new Date(Date.now() - now.clockOff * 60000).toLocaleString() })) : null,
    h("button", { class: now.isShut ? "" : "main", "data-testid": "sync", onclick: sendNow }, t("page.sync")),
    h("button", { "data-testid": "export", onclick: () => saveFile(told) }, t("page.export")), told,
    t(`page.why_${ended}`) === `page.why_${ended}` ? null : h("p", { class: "card two", "data-testid": "why-not-sent" }, t(`page.why_${ended}`),
      ended === "offline" && navigator.onLine ? [" ", h("a", { href: rootAddress(), "data-testid": "trusted-root" }, t("page.untrusted_root"))] : null),
    ...part("page.kept_aside", cards),
    ...part("page.half_filled", half.length ? [h("ul", { class: "list" }, half)] : []),
    ...part("page.not_sent", [
      ...photos.filter((photo) => photo.refused).map((photo) => h("div", { class: "card two" }, t("page.photo_refused", { why: photo.refused ?? "" }))),
      photos.length ? h("p", { "data-testid": "photos-waiting" }, t("page.photos_waiting", { count: photos.length, size })) : null,
      ...lines, listed.length > LISTED ? h("p", { class: "soft" }, t("page.and_more", { count: listed.length - LISTED })) : null]),
  ...part("page.this_phone", [h("p", {}, t("page.confirmed", { at: now.confirmed ? new Date(now.confirmed).toLocaleString() : t("page.never") })),
      h("p", {}, t("page.person", { name: person ? nameOf(person) : "—" }), " ", h("a", { href: "#/people" }, t("page.change_person"))),
      h("p", { class: "soft" }, t(now.persistent ? "page.persistent" : "page.not_persistent"))]));
}
