/** The entry: routes by hash, the status strip that is always visible, and the exchange while the app is open. */
import { calc } from "./calc.js";
import { h, REDRAWN, say, sayFailed, show } from "./dom.js";
import { compareWithMark, mark, marked } from "./loss.js";
import { waiting, whoami } from "./outbox.js";
import { enrolScreen, peopleScreen } from "./screens/enrol.js";
import { checkScreen, checksScreen } from "./screens/check.js";
import { checkinScreen } from "./screens/checkin.js";
import { factsScreen } from "./screens/facts.js";
import { filterScreen, homeScreen, scanScreen, tagScreen, typeScreen } from "./screens/home.js";
import { jobScreen } from "./screens/job.js";
import { ovenScanScreen, ovenScreen } from "./screens/oven.js";
import { signoffScreen, stepScreen } from "./screens/step.js";
import { waitingScreen } from "./screens/waiting.js";
import { BookFailed, subscribe } from "./store.js";
import { keepSyncing } from "./transport.js";
import { distrust, noteRefusal, untrustedScreen } from "./trust.js";
import { watchUpdates } from "./update.js";
import { t } from "./words.js";

const PERSIST_IDLE_MS = 600;
/** @type {[RegExp, (...parts: string[]) => any][]} */
const ROUTES = [
  [/^#\/enrol$/, enrolScreen], [/^#\/people$/, peopleScreen], [/^#\/scan$/, scanScreen], [/^#\/type$/, typeScreen], [/^#\/waiting$/, () => waitingScreen()],
  [/^#\/checks$/, checksScreen], [/^#\/check\/(bench_check|scale_check)\/(instrument:[\w.-]+)$/, checkScreen],
  [/^#\/oven$/, ovenScreen], [/^#\/oven\/scan$/, ovenScanScreen],
  [/^#\/oven\/(job:[\w.-]+)\/(round:[\w.-]+)$/, (job, round) => stepScreen(job, round, "weight", "#/oven")],
  [/^#\/tag\/([0-9A-Z]{9})$/, tagScreen], [/^#\/checkin\/([0-9A-Z]{9})$/, checkinScreen], [/^#\/filter\/(filter:[\w.-]+)$/, filterScreen],
  [/^#\/job\/(job:[\w.-]+)$/, jobScreen], [/^#\/job\/(job:[\w.-]+)\/signoff$/, signoffScreen],
  [/^#\/job\/(job:[\w.-]+)\/facts$/, factsScreen],
  [/^#\/job\/(job:[\w.-]+)\/round\/(round:[\w.-]+)\/(treatment|weight)$/, stepScreen],
  [/^#\/job\/(job:[\w.-]+)\/((?:before|after)\.\w+|owner_answer)$/, (job, slot) => stepScreen(job, job, slot)],
];
/** @type {(() => void) | undefined} */
let leave;
let turn = 0;

async function route() {
  const mine = ++turn;
  leave?.();
  leave = undefined;
  const { device, person } = await whoami();
  let hash = location.hash || "#/";
  const why = distrust();
  if (why === "plain" || (why && !device)) {
    untrustedScreen(why);
    return ready(mine, "untrusted");
  }
  if (!device) hash = "#/enrol";
  else if (!person && hash !== "#/waiting") hash = "#/people";
  for (const [pattern, screen] of ROUTES) {
    const found = pattern.exec(hash);
    if (!found) continue;
    const done = await screen(...found.slice(1));
    if (mine === turn && typeof done === "function") leave = done;
    return ready(mine, hash);
  }
  await homeScreen();
  return ready(mine, hash);
}

/** Says that a screen stands, with the strip above it as of now. @param {number} mine @param {string} hash */
async function ready(mine, hash) {
  if (mine === turn) await status();
  if (mine !== turn) return;
  document.documentElement.dataset.ready = hash;
  if (isMissed) redrawSoon();
  isMissed = false;
}

async function status() {
  const strip = /** @type {HTMLElement} */ (document.getElementById("status"));
  const { device } = await whoami();
  const now = await waiting();
  const parts = [];
  if (!device) parts.push(t("page.status_not_enrolled"));
  if (distrust()) parts.push(t("page.status_untrusted"));
  if (now.isShut) parts.push(t("page.status_shut"));
  if (now.count) parts.push(t("page.status_waiting", { count: now.count, since: new Date(now.since ?? "").toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }) }), t("page.status_lose"));
  if (now.photos) parts.push(t(now.photos === 1 ? "page.status_photo" : "page.status_photos", now));
  if (now.photos && !now.count) parts.push(t("page.status_lose"));
  if (now.drafts) parts.push(t("page.status_drafts", now));
  if (now.held) parts.push(t("page.status_held", now));
  if (now.clockOff) parts.push(t("page.status_clock"));
  if (now.isLost) parts.unshift(t("page.status_lost"));
  strip.textContent = parts.length ? parts.join(" · ") : t("page.status_none");
  strip.classList.toggle("alarm", now.held > 0 || now.isShut || now.isLost || distrust() !== null);
  strip.dataset.waiting = String(now.count);
  strip.dataset.drafts = String(now.drafts);
  strip.dataset.photos = String(now.photos);
  strip.dataset.held = String(now.held);
  await mark(now.count);
}

let isQueued = false;
let isMissed = false; // the book changed while the person was on the way to another screen, which may have read it before
subscribe(() => {
  status(); // it moves the mark too
  redrawSoon();
});

function redrawSoon() {
  if (isQueued) return;
  isQueued = true;
  setTimeout(() => {
    isQueued = false;
    const drawn = document.documentElement.dataset.ready ?? ""; // lists only: a form is never redrawn
    isMissed = drawn !== "#/people" && drawn !== (location.hash || "#/");
    if (isMissed) return;
    if (drawn && REDRAWN.test(drawn)) route().catch(failed);
  }, PERSIST_IDLE_MS);
}

addEventListener("hashchange", () => { route().catch(failed); });
/** @param {any} problem */
function failed(problem) {
  console.error(problem);
  sayFailed(problem);
  if (problem instanceof BookFailed && !document.documentElement.dataset.ready) broken();
}

/** @param {() => void} apply */
function offerUpdate(apply) {
  document.querySelector("[data-testid=update]")?.remove();
  document.body.prepend(h("button", { onclick: apply, "data-testid": "update" }, t("page.update")));
}

/** What a person is told whose book cannot be opened at all: how much of it the office lacks, and the way out. */
function broken() {
  const last = marked();
  show(h("h1", {}, t("page.book_broken")), h("div", { class: "card two", "data-testid": "book-broken" },
    last ? h("p", {}, h("b", {}, t("page.loss_part_count", { count: last.count, at: new Date(last.at).toLocaleString() }))) : null,
    h("ol", { class: "steps" }, ...["1", "2", "3"].map((step) => h("li", {}, t(`page.book_broken_${step}`))))),
    h("button", { class: "main", onclick: () => location.reload() }, t("page.book_broken_again")));
  say(""); // the card tells it all, and the alarm something else
  document.documentElement.dataset.ready = "broken";
}
addEventListener("unhandledrejection", (event) => { // a tap whose work failed: never silent
  sayFailed(event.reason);
  if (event.reason instanceof BookFailed) event.preventDefault(); // it has been said; anything else is a fault of the program
});

compareWithMark().catch(() => undefined).then(route).then(() => {
  if (distrust() === "plain") return; // nothing is kept here and nothing is sent
  navigator.storage?.persist?.().catch(() => undefined);
  watchUpdates(offerUpdate).catch((problem) => { if (noteRefusal(problem)) { status(); route().catch(failed); } });
  keepSyncing();
  requestIdleCallback?.(() => { calc("show", { step: "light", values: { kind: "none" } }).catch(() => undefined); });
}, failed);
