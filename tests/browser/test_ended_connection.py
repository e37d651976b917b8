"""The browser ends the app's connection to its database, as phones do in the background; then a person saves.

Chromium's own page for developers, chrome://indexeddb-internals, ends connections as the browser itself does when its
database fails: with the event `close`, and in the middle of a transaction with an abort. Readings invented.
"""

import random

import pytest

pytestmark = pytest.mark.browser

JOB = "#/job/job:demo5"
ENDED = 5
IN_FLIGHT = 10
# A connection of the test's own, which is told as the app's is.
WITNESS = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook");
  asked.onsuccess = () => { window.ended = new Promise((told) => { asked.result.onclose = told; }); ok(); }; })"""
# Holds the outbox with a transaction of the test's own, so that the app's next write waits; tells when that has begun.
HOLD = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const held = asked.result.transaction("outbox", "readwrite").objectStore("outbox");
  const again = () => { held.count().onsuccess = again; }; again();
  const begin = IDBDatabase.prototype.transaction;
  window.begun = new Promise((told) => { IDBDatabase.prototype.transaction = function (names, mode, ...more) {
    const made = begin.call(this, names, mode, ...more);
    if (mode === "readwrite" && names.includes("drafts") && names.includes("outbox")) told();
    return made; }; });
  ok(); }; })"""


class Ending:
    """Ends every connection of this phone's browser to its databases."""

    def __init__(self, phone):
        self.phone, self.page = phone, phone.context.new_page()
        self.page.goto("chrome://indexeddb-internals/")
        self.page.locator(".force-close").wait_for()
        phone.page.bring_to_front()

    def begin(self):
        """Asks the browser to end them."""
        self.page.locator(".force-close").dispatch_event("click")

    def end(self):
        """Ends them and waits until the page has been told."""
        self.phone.page.evaluate(WITNESS)
        self.begin()
        self.phone.page.evaluate("() => window.ended.then(() => undefined)")


def weigh(phone, grams):
    phone.go(JOB + "/after.weight")
    phone.fill("field-mass", str(grams))
    phone.page.wait_for_selector("#status[data-drafts='1']")
    phone.listen()


def saved_weights(phone):
    """What lies in the outbox on disk, after a kill."""
    phone.kill()
    phone.open("/phone/" + JOB)
    return phone.page.evaluate("""() => new Promise((ok) => { const asked = indexedDB.open("ashbook");
      asked.onsuccess = () => { const outbox = asked.result.transaction("outbox").objectStore("outbox");
        outbox.getAll().onsuccess = ({ target }) => { asked.result.close();
          ok(target.result.map((entry) => entry.change.set["after.weight"].mass.n)); }; }; })""")


def test_a_connection_that_the_browser_ended_is_opened_again_and_the_save_is_kept(server, demo_phone):
    server.kill()
    ending, expected = Ending(demo_phone), [str(14000 + number) for number in range(ENDED)]
    for grams in expected:
        weigh(demo_phone, grams)
        demo_phone.page.wait_for_selector("#status[data-drafts='1']")
        ending.end()
        demo_phone.save()
        assert "Saved on this phone" in demo_phone.answer()
    assert saved_weights(demo_phone) == expected


def test_a_connection_ended_in_the_middle_of_a_save_is_saved_or_said_and_never_silent(server, demo_phone):
    server.kill()
    ending, draw, heard = Ending(demo_phone), random.Random(4), []
    for number in range(IN_FLIGHT):
        weigh(demo_phone, 15000 + number)
        demo_phone.page.evaluate("() => { document.querySelector('[data-testid=save]').click(); }")
        demo_phone.page.wait_for_timeout(draw.randrange(30))  # the moment of the fault, not a wait for something
        ending.begin()
        answer = demo_phone.answer()
        heard.append(answer.split(":")[0])
        if answer.startswith("NOT SAVED"):  # what was typed is still there, and the next tap keeps it
            assert demo_phone.page.get_by_test_id("field-mass").input_value() == str(15000 + number)
            demo_phone.save()
        demo_phone.page.wait_for_selector(f"#status[data-waiting='{number + 1}']")
    weigh(demo_phone, 15000 + IN_FLIGHT)
    demo_phone.page.wait_for_selector("#status[data-drafts='1']")
    demo_phone.page.evaluate(HOLD)
    demo_phone.tap("save")
    demo_phone.page.evaluate("() => window.begun")
    ending.begin()  # its transaction is there and cannot be complete
    assert demo_phone.answer().startswith("NOT SAVED")
    assert demo_phone.page.get_by_test_id("field-mass").input_value() == str(15000 + IN_FLIGHT)
    demo_phone.save()
    assert saved_weights(demo_phone) == [str(15000 + number) for number in range(IN_FLIGHT + 1)], heard
