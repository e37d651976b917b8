"""An outbox that waits for more than a year, and one that passes through several hands: nothing expires, nobody is renamed.

The phone's clock is moved on for all that the app asks; its cookie is gone, as a browser drops one after 400 days.
Readings invented.
"""

import json

import pytest

from sync import lookup
from tests.browser.shopwork import prepare
from tests.browser.test_bad_link import try_to_sync
from tests.browser.test_photos import QUEUE, choose, open_visual, photos_waiting, picture
from webform.shop import Shop

pytestmark = pytest.mark.browser

DAYS = 430
LATER = """(() => { const True = Date, off = DAYS * 86400000;
  window.Date = class extends True { constructor(...given) { given.length ? super(...given) : super(True.now() + off); }
    static now() { return True.now() + off; } }; })();""".replace("DAYS", str(DAYS))
REFUSALS = 10
WRITTEN = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const got = asked.result.transaction("outbox").objectStore("outbox").getAll();
  got.onsuccess = () => { asked.result.close();
    ok(got.result.map((entry) => [entry.id, entry.hash, entry.change.by])); }; }; })"""


def open_later(phone):
    """The app is opened after all these days."""
    phone.end()
    phone.open(before=lambda one: one.context.add_init_script(LATER))


def change_person(phone, name):
    phone.go("#/people")
    phone.page.get_by_test_id("person").filter(has_text=name).click()
    phone.page.wait_for_selector("html[data-ready='#/']")


def stored(server):
    """id → (hash, who says to have written it) of what phones have sent; nothing of it is held."""
    shop = Shop(server.data)
    rows = shop.store.rows("SELECT id, hash, body FROM change_log WHERE device LIKE 'phone-%'")
    assert lookup.held_count(shop.store) == 0
    shop.store.close()
    return {name: (found, json.loads(text)["by"]) for name, found, text in rows}


def test_after_fourteen_months_and_without_a_credential_everything_goes_up_as_it_was_written(server, link, phone, tmp_path):
    prepare(server.data)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    link.turn("refuse")
    open_visual(one, "S-9001")
    choose(one, picture(tmp_path / "a.jpg", 61, 800, 600))
    one.save()
    photos_waiting(one, 1)
    job = one.page.evaluate("location.hash")
    one.tap("step-after.visual")  # half filled, with a photo of its own
    one.pick("field-outlet-clean", "field-brick-sound", "field-can-sound", "field-wet-dry")
    one.reach("photos")
    choose(one, picture(tmp_path / "b.jpg", 62, 800, 600))
    one.page.wait_for_selector("#status[data-drafts='1']")
    before, waiting, kept = one.page.evaluate(WRITTEN), one.waiting(), one.page.evaluate(QUEUE, "waiting")
    assert waiting >= 5 and len(kept) == 1
    for _ in range(2):  # opened, left again, opened once more
        open_later(one)
        one.page.wait_for_selector(f"#status[data-waiting='{waiting}'][data-photos='1'][data-drafts='1']")
        assert one.page.evaluate(WRITTEN) == before and one.page.evaluate(QUEUE, "waiting") == kept
    one.go(job + "/after.visual")
    one.page.get_by_test_id("restored").wait_for()
    one.reach("photos")
    assert one.page.get_by_test_id("photo-tile").count() == 1
    one.context.clear_cookies()
    link.turn("up")
    for _ in range(REFUSALS):  # each a 401 of our own server
        try_to_sync(one)
        assert one.waiting() == waiting
    one.page.get_by_test_id("shut").wait_for()
    assert one.page.evaluate(WRITTEN) == before
    one.tap("enrol-again")
    one.fill("enrol-code", server.code())
    one.tap("enrol-go")
    one.page.wait_for_selector("#status[data-waiting='0'][data-photos='0']")
    assert stored(server) == {name: (found, by) for name, found, by in before}
    assert {by for _name, _found, by in before} == {"person:kim"}
    one.go(job + "/after.visual")
    one.save()
    one.sync()
    photos_waiting(one, 0)
    assert len(list((server.data / "photos").glob("??/*"))) == 2


def test_whoever_holds_the_phone_next_sends_what_others_wrote_under_their_names_and_his_own_under_his(server, link, phone):
    prepare(server.data)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    link.turn("refuse")
    open_visual(one, "S-9002")
    one.save()
    job = one.page.evaluate("location.hash")
    kims = one.page.evaluate(WRITTEN)
    change_person(one, "Ravn")
    assert one.page.evaluate(WRITTEN) == kims  # another hand takes nothing out and renames nothing
    one.go(job + "/before.weight")
    one.fill("field-mass", "14480")
    one.pick("field-temperature-cold", "field-moisture-dry")
    one.save()
    both = one.page.evaluate(WRITTEN)
    assert both[:len(kims)] == kims and [by for _id, _hash, by in both[len(kims):]] == ["person:ravn"]
    one.context.clear_cookies()
    change_person(one, "Alex")
    link.turn("up")
    try_to_sync(one)  # 401, with the third one at it
    one.go("#/waiting")
    one.tap("enrol-again")
    one.fill("enrol-code", server.code())
    one.tap("enrol-go")
    one.page.wait_for_selector("#status[data-waiting='0']")
    assert stored(server) == {name: (found, by) for name, found, by in both}
