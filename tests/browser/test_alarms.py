"""What a person is told when something went wrong on the phone, as it stands on the screen: whole, and with what to do next.

Readings invented.
"""

import itertools

import pytest

pytestmark = pytest.mark.browser

WEIGH = "#/job/job:demo5/after.weight"
# Another book of the same origin takes all the room there is, down to less than any change needs.
FILL = """async () => {
  const junk = await new Promise((ok, no) => { const asked = indexedDB.open("junk", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("junk", { autoIncrement: true });
    asked.onsuccess = () => ok(asked.result); asked.onerror = () => no(asked.error); });
  const put = (size) => new Promise((ok) => { const work = junk.transaction("junk", "readwrite");
    work.objectStore("junk").add(Array.from({ length: Math.ceil(size / 65000) }, () =>
      crypto.getRandomValues(new Uint8Array(Math.min(size, 65000)))));
    work.oncomplete = () => ok(true); work.onabort = () => ok(false); });
  for (let size = 200000; size >= 50;) if (!await put(size)) size = size >> 1;
  junk.close(); }"""
MAKE_ROOM = """() => new Promise((ok) => { const asked = indexedDB.deleteDatabase("junk"); asked.onsuccess = ok; })"""


def with_room_for(phone, more_bytes):
    """Opens the phone again with no more room than this; Chromium asks for the quota when a book is opened."""
    used = phone.page.evaluate("navigator.storage.estimate().then((found) => found.usage)")
    phone.end()
    phone.context = phone.playwright.chromium.launch_persistent_context(str(phone.profile), **phone.launching())
    phone.page = phone.context.pages[0]
    phone.page.set_default_timeout(15000)
    quota = phone.context.new_cdp_session(phone.page)
    quota.send("Storage.overrideQuotaForOrigin", {"origin": phone.url, "quotaSize": used + more_bytes})
    phone.page.goto(phone.url + "/phone/" + WEIGH)
    phone.page.wait_for_selector(f"html[data-ready='{WEIGH}']")


def box(phone, selector):
    found = phone.page.locator(selector).bounding_box()
    return found["y"], found["y"] + found["height"]


def test_a_full_phone_says_not_saved_and_what_to_do_and_saves_once_there_is_room(demo_phone):
    one = demo_phone
    with_room_for(one, 1_500_000)
    one.fill("field-mass", "14000")
    one.page.wait_for_selector("#status[data-drafts='1']")
    one.page.evaluate(FILL)
    one.listen()
    one.tap("save")
    said = one.answer()
    assert said.startswith("NOT SAVED: this phone is full.") and "Keep this page open" in said and "Save again" in said
    one.page.locator("#said.alarm").wait_for()
    # the alarm takes room of its own: strip, heading and what was typed stand whole below it, and Save is in reach
    boxes = [box(one, selector) for selector in (
        "#said", "#status", "main h1", "[data-testid=field-mass]", "[data-testid=save]")]
    assert boxes[0][0] == 0 and all(above[1] <= below[0] for above, below in itertools.pairwise(boxes)), boxes
    assert boxes[-1][1] <= 740
    assert one.page.get_by_test_id("field-mass").input_value() == "14000"
    one.page.evaluate(MAKE_ROOM)
    one.save()
    assert "alarm" not in (one.page.get_by_test_id("said").get_attribute("class") or "")
    one.sync()
    assert one.waiting() == 0


def test_a_phone_that_was_shut_out_says_what_is_kept_aside_and_leads_to_a_new_code_and_back(server, demo_phone, office):
    one = demo_phone
    office.page.goto(server.url + "/office/phones")
    row = office.page.get_by_test_id("phone")
    row.locator("summary").click()
    row.get_by_role("button").click()
    office.page.wait_for_load_state()
    one.go(WEIGH)
    one.fill("field-mass", "14100")
    one.save()
    one.go("#/waiting")
    one.hush()
    one.tap("sync")
    assert one.heard() == "The office does not know this phone any more"
    one.page.wait_for_selector("#status[data-held='1']")
    told = one.page.get_by_test_id("held").inner_text()
    assert "HL-S-1005: Weigh it, after cleaning" in told and "ask the office to let it in" in told
    assert "1 kept aside" in one.page.get_by_test_id("status").inner_text()
    one.page.evaluate("document.documentElement.removeAttribute('data-ready')")
    one.tap("enrol-again")
    one.page.wait_for_selector("html[data-ready='#/enrol']")
    one.page.get_by_role("link", name="Back").click()  # the code is not at hand yet
    one.page.get_by_test_id("held-job").click()
    one.page.wait_for_selector("html[data-ready='#/job/job:demo5']")
    office.page.goto(server.url + "/office/held")
    shown = office.page.get_by_test_id("held-change").inner_text()
    assert "HL-S-1005" in shown and "14100 g" in shown and "The office can let it in" in shown
    office.page.get_by_test_id("let-in").click()
    office.page.get_by_text("Nothing is held.").wait_for()


def test_what_waits_says_of_which_filter_it_is_and_why_it_was_not_sent(server, demo_phone):
    one = demo_phone
    server.kill()
    one.go(WEIGH)
    one.fill("field-mass", "14200")
    one.save()
    one.go("#/waiting")
    assert "HL-S-1005: Weigh it, after cleaning" in one.page.get_by_role("main").inner_text()
    assert one.page.get_by_test_id("why-not-sent").count() == 0
    one.tap("sync")
    why = one.page.get_by_test_id("why-not-sent")
    why.wait_for()
    assert "Nothing is lost" in why.inner_text() and "certificate" in why.inner_text()
    server.start()
    one.tap("sync")
    why.wait_for(state="detached")


def test_a_new_phone_has_no_way_back_from_enrolment(phone):
    assert phone("new").page.get_by_role("link", name="Back").count() == 0
