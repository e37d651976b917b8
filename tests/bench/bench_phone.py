"""Measures the phone app in real Chromium, offline. python -m tests.bench.bench_phone [--runs 9]

Every run is a new browser process on the same profile with the server ended, so each start is a cold one. Told are
medians over the runs, each beside a baseline of the same run:
- cold start at 4x CPU throttle, from navigation to the first question of a form; baseline: the app's icon alone, from
  the same service worker's cache, at the same throttle;
- first verdict of a job, from navigation to the verdict on the screen, un-throttled; baseline: the icon again;
- later verdicts, from the request to the worker to its answer; baseline: the cheapest call of the same worker (`show`);
- saving a reading, from the tap to "saved" on the screen; baseline: one bare IndexedDB put with strict durability;
- refusing one on a full phone, from the tap to "NOT SAVED"; baseline: that put of the same run.
"""

import argparse
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from demo.shop import seed
from tests.browser.conftest import Phone, Server
from webform.shop import Shop

JOB = "job:demo5"
LIMITS = {"cold start at 4x, to a usable form": 2000.0,
          "first verdict": 1500.0, "later verdicts": 25.0, "saving a reading": 50.0, "refusing on a full phone": 2000.0}
LATER = 10

# Notes when things happen, inside the page, so that no driver's round trip is measured.
WATCH = """(() => {
  const seen = window.seen = {answers: {}};
  new MutationObserver(() => {
    const now = performance.now();
    if (document.querySelector("form.step [data-state]")) seen.form ??= now;
    if (document.querySelector("[data-testid=verdict]")) seen.verdict ??= now;
    if (document.getElementById("said")?.textContent.startsWith("Saved")) seen.saved ??= now;
    if (document.getElementById("said")?.textContent.startsWith("NOT SAVED")) seen.refused ??= now;
  }).observe(document, {subtree: true, childList: true, attributes: true, characterData: true});
  addEventListener("click", (event) => {
    if (event.target.closest("[data-testid=save]")) seen.tapped = performance.now();
  }, true);
  const Real = window.Worker;
  window.Worker = class extends Real {
    constructor(...given) { super(...given); window.theWorker = this; }
    postMessage(data, ...rest) {
      if (data.request) seen.answers[data.id] = {op: data.request.op, request: data.request};
      super.postMessage(data, ...rest);
    }
  };
})()"""

BARE_PUT = """async (text) => {
  const db = await new Promise((ok) => {
    const asked = indexedDB.open("bare", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("s", {autoIncrement: true});
    asked.onsuccess = () => ok(asked.result);
  });
  const once = () => new Promise((ok) => {
    const transaction = db.transaction("s", "readwrite", {durability: "strict"});
    transaction.objectStore("s").add(text);
    transaction.oncomplete = ok;
  });
  await once();
  const began = performance.now();
  await once();
  return performance.now() - began;
}"""

CALLS = """async ([op, times]) => {
  const known = Object.values(window.seen.answers).find((entry) => entry.op === op);
  if (!known) throw new Error("no call of " + op + " was seen");
  const found = [];
  for (let n = 0; n < times; n += 1) {
    const id = 1000000 + Math.floor(Math.random() * 1e9);
    const began = performance.now();
    await new Promise((ok) => {
      const hear = ({data}) => { if (data.id === id) { theWorker.removeEventListener("message", hear); ok(); } };
      theWorker.addEventListener("message", hear); theWorker.postMessage({id, request: known.request});
    });
    found.push(performance.now() - began);
  }
  return found; }"""

LOADED = "performance.getEntriesByType('navigation')[0].loadEventEnd || performance.now()"


class Cold:
    """One cold start: a new browser process on the phone's profile, with no server."""

    def __init__(self, phone, throttle=1):
        self.phone = phone
        self.context = phone.playwright.chromium.launch_persistent_context(str(phone.profile), **phone.launching())
        self.page = self.context.pages[0]
        self.context.add_init_script(WATCH)
        if throttle > 1:
            self.context.new_cdp_session(self.page).send("Emulation.setCPUThrottlingRate", {"rate": throttle})

    def fill_up(self):
        """From now on this site may keep nothing more."""
        session = self.context.new_cdp_session(self.page)
        session.send("Storage.overrideQuotaForOrigin", {"origin": self.phone.url, "quotaSize": 1})

    def at(self, path, what):
        self.page.goto(self.phone.url + path)
        self.page.wait_for_selector(what)
        return self.page.evaluate("window.seen")

    def end(self):
        self.context.close()


def refusal(phone):
    """From the tap on Save to "NOT SAVED", in ms, where no more can be kept."""
    full = Cold(phone)
    full.fill_up()
    full.at(f"/phone/#/job/{JOB}/before.weight", "html[data-ready$='before.weight']")
    full.page.get_by_test_id("answer-mass").click()
    full.page.get_by_test_id("field-mass").fill("11800")
    full.page.wait_for_selector("#said:not(:empty)", state="attached")  # of the draft, at the first letter
    full.page.evaluate("() => { document.getElementById('said').textContent = ''; }")
    full.page.evaluate("() => { delete window.seen.refused; }")  # the watcher has seen the emptying
    full.page.get_by_test_id("save").click()
    full.page.wait_for_selector("#said:not(:empty)", state="attached")
    seen = full.page.evaluate("window.seen")
    full.end()
    return seen["refused"] - seen["tapped"]


def one_run(phone):
    """One figure for each quantity, in ms: {name: (measured, baseline)}."""
    found = {}
    start = Cold(phone, throttle=4)
    usable = start.at(f"/phone/#/job/{JOB}/after.weight", "form.step [data-state]")["form"]
    start.page.goto(phone.url + phone.icon)
    bare = start.page.evaluate(LOADED)
    found["cold start at 4x, to a usable form"] = (usable, bare)
    start.end()
    job = Cold(phone)
    first = job.at(f"/phone/#/job/{JOB}", "[data-testid=verdict]")["verdict"]
    later = job.page.evaluate(CALLS, ["job", LATER])
    cheap = job.page.evaluate(CALLS, ["show", LATER])
    found["later verdicts"] = (statistics.median(later), statistics.median(cheap))
    job.page.evaluate("path => { location.hash = path; }", f"#/job/{JOB}/before.weight")
    job.page.wait_for_selector("html[data-ready$='before.weight']")
    job.page.get_by_test_id("answer-mass").click()
    job.page.get_by_test_id("field-mass").fill(str(11900 + phone.runs))
    job.page.wait_for_selector("#status[data-drafts='1']")
    job.page.get_by_test_id("save").click()
    job.page.wait_for_selector("html[data-ready='#/job/" + JOB + "']")
    seen = job.page.evaluate("window.seen")
    bare_put = job.page.evaluate(BARE_PUT, "x" * 700)
    found["saving a reading"] = (seen["saved"] - seen["tapped"], bare_put)
    job.page.goto(phone.url + phone.icon)
    found["first verdict"] = (first, job.page.evaluate(LOADED))
    job.end()
    found["refusing on a full phone"] = (refusal(phone), bare_put)
    phone.runs += 1
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=9)
    runs = parser.parse_args().runs
    folder = Path(tempfile.mkdtemp(prefix="bench-phone-"))
    server = Server(folder / "shop")
    shop = Shop(server.data)
    seed(shop)
    shop.store.close()
    with sync_playwright() as playwright:
        (folder / "profile").mkdir()
        phone = Phone(playwright, folder / "profile", server.url)
        phone.enrol(server.code(), "Kim")
        phone.icon = phone.page.evaluate("new URL(document.querySelector('link[rel=icon]').href).pathname")
        phone.runs = 0
        phone.sync()
        phone.end()
        server.kill()
        measured = [one_run(phone) for _ in range(runs)]
    is_good = True
    for name, limit in LIMITS.items():
        figure = statistics.median(run[name][0] for run in measured)
        bare = statistics.median(run[name][1] for run in measured)
        is_good = is_good and figure <= limit
        spread = f"{min(run[name][0] for run in measured):.1f} to {max(run[name][0] for run in measured):.1f}"
        print(f"{name}: {figure:.1f} ms ({spread}; limit {limit:.0f}); baseline {bare:.1f} ms; ratio {figure / bare:.1f}")
    return 0 if is_good else 1


if __name__ == "__main__":
    sys.exit(main())
