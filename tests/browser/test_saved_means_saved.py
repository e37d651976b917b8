"""kill -9 of the whole browser in the moment after "saved": the change is on disk. Readings invented."""

import random

import pytest

from tests.browser.test_whole_job import check_in as check_in_filter
from tests.browser.test_whole_job import ready

pytestmark = pytest.mark.browser

KILLS = 8
# Before the app starts: notes every writing transaction, what durability it really has, when it is complete, and every
# word that the app says, in one count of turns.
RECORD = """(() => { window.turn = 0; window.writes = []; window.words = [];
  const begin = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, ...more) {
    const made = begin.call(this, names, mode, ...more);
    if (mode === "readwrite") {
      const seen = { names: [...made.objectStoreNames], durability: made.durability, begun: ++window.turn, complete: null };
      window.writes.push(seen);
      made.addEventListener("complete", () => { seen.complete = ++window.turn; });
    }
    return made; };
  addEventListener("DOMContentLoaded", () => new MutationObserver(() => {
    window.words.push({ text: document.getElementById("said").textContent, at: ++window.turn }); })
    .observe(document.getElementById("said"), { childList: true, characterData: true, subtree: true })); })();"""


def test_every_write_asks_for_strict_durability_and_the_word_comes_after_it_is_complete(server, phone):
    one = ready(server, phone)
    one.context.add_init_script(RECORD)
    one.page.reload()
    one.page.wait_for_selector("html[data-ready]")
    one.go("#/type")
    one.fill("tag-code", "7K3M9QX07")
    one.tap("tag-go")
    check_in_filter(one, "S-4003")
    job = one.page.evaluate("location.hash")
    one.go(job + "/before.weight")
    one.fill("field-mass", "14000")
    one.pick("field-temperature-cold", "field-moisture-dry")
    one.save()
    one.sync()
    writes, words = one.page.evaluate("() => [window.writes, window.words]")
    assert {store for write in writes for store in write["names"]} >= {"drafts", "outbox", "confirmed", "snapshots", "meta"}
    assert [write for write in writes if write["durability"] != "strict"] == []
    saved = [word["at"] for word in words if word["text"].startswith("Saved")]
    kept = [write for write in writes if {"outbox", "drafts"} <= set(write["names"])]
    assert len(saved) == len(kept) == 2  # the check-in and the weight: each word after its own transaction
    for at, write in zip(saved, kept, strict=True):
        assert write["complete"] is not None and write["begun"] < write["complete"] < at


def test_what_a_person_saw_as_saved_survives_the_browsers_death(server, phone):
    one = ready(server, phone)
    server.kill()
    one.end()
    one.open()  # Chromium writes cookies within half a minute, or when it is ended in peace
    one.go("#/type")
    one.fill("tag-code", "7K3M9QX07")
    one.tap("tag-go")
    check_in_filter(one, "S-4001")
    job = one.page.evaluate("location.hash")
    draw = random.Random(4711)
    for number in range(KILLS):
        waiting = one.waiting()
        one.go(job + "/before.weight")
        one.fill("field-mass", str(14000 + number))
        if number == 0:
            one.pick("field-temperature-cold", "field-moisture-dry")
        # watched inside the page, so that nothing but the app's own word is waited for
        one.page.evaluate("""() => { window.saved = new Promise((ok) => new MutationObserver(() => {
          if (document.getElementById("said").textContent.startsWith("Saved")) ok(true); })
          .observe(document.getElementById("said"), {childList: true, characterData: true, subtree: true})); }""")
        one.tap("save")
        one.page.evaluate("() => window.saved")
        one.page.wait_for_timeout(draw.randrange(50))  # the moment of the kill is the fault, not a wait for something
        one.kill()
        one.open("/phone/" + job)
        one.page.wait_for_selector("#status[data-waiting]")
        assert one.waiting() == waiting + 1, (number, one.page.locator("body").inner_text())
        one.go(job + "/before.weight")
        assert str(14000 + number) in one.page.get_by_test_id("answer-mass").inner_text()
    server.start()
    one.sync()
    assert one.waiting() == 0


def test_a_phone_whose_cookie_is_lost_says_so_and_after_a_new_code_sends_everything(server, phone, office):
    one = ready(server, phone)
    one.go("#/type")
    one.fill("tag-code", "7K3M9QX07")
    one.tap("tag-go")
    one.context.clear_cookies()
    check_in_filter(one, "S-4002")
    one.go("#/waiting")
    one.tap("sync")
    one.page.get_by_test_id("shut").wait_for()
    assert one.waiting() > 0
    one.tap("enrol-again")
    one.fill("enrol-code", server.code())
    one.tap("enrol-go")
    one.page.wait_for_selector("#status[data-waiting='0']")
    office.page.reload()
    assert office.page.get_by_test_id("job-row").filter(has_text="S-4002").count() == 1
