"""A phone without room: what was typed stays on the screen, NOT SAVED stands there, and nothing is half there.

Chromium with a real quota for this site (CDP Storage.overrideQuotaForOrigin); readings invented.
"""

import pytest

from tests.browser.test_photos import choose, open_visual, photos_waiting, picture
from tests.browser.test_whole_job import TAG, check_in, ready
from webform.shop import Shop
from webform.trade.tag_code import complete

pytestmark = pytest.mark.browser

TRIES = 5
OTHER_TAG = complete("2N8PQ4T")
# All that the book holds, as text: a save that is refused must leave no trace of it.
BOOK = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const names = ["outbox", "drafts", "views", "photos", "held", "confirmed"], found = {};
  const open = asked.result.transaction(names);
  for (const name of names) open.objectStore(name).getAll().onsuccess = (event) => { found[name] = event.target.result; };
  open.oncomplete = () => { asked.result.close(); ok(JSON.stringify(found)); }; }; })"""


class Quota:
    """What this site may keep on this phone."""

    def __init__(self, phone, server):
        self.phone, self.origin = phone, server.url

    def leave(self, room_bytes, path):
        """Opens the app with so much room beyond what it uses: Chromium asks for the quota when a book is opened."""
        used = self.phone.page.evaluate("navigator.storage.estimate().then((found) => found.usage)")
        self.phone.end()
        self.phone.open("/phone/" + path, lambda phone: self._limit(phone, max(1, used + room_bytes)))

    def _limit(self, phone, most_bytes):
        self.session = phone.context.new_cdp_session(phone.page)
        self.session.send("Storage.overrideQuotaForOrigin", {"origin": self.origin, "quotaSize": most_bytes})

    def free(self):
        """The person has made room; the app stays open."""
        self.session.send("Storage.overrideQuotaForOrigin", {"origin": self.origin})


def refused(phone, do):
    """What the app says to that; how soon it does is measured in tests/bench/bench_phone.py."""
    phone.hush()
    do()
    phone.heard()
    phone.page.wait_for_timeout(100)  # a "Saved" that came behind it would be the fault looked for
    return phone.heard()


def weigh(phone, grams):
    phone.fill("field-mass", grams)
    if phone.page.get_by_test_id("save").is_hidden():
        phone.pick("field-temperature-cold", "field-moisture-dry")


def on_screen(phone, field):
    """The value of a field or, where its question is folded, the line that it is folded to."""
    box = phone.page.locator(f"[data-field='{field}']")
    return phone.page.get_by_test_id(f"answer-{field}").inner_text() if box.get_attribute("data-state") == "folded" \
        else phone.page.get_by_test_id(f"field-{field}").input_value()


def test_what_finds_no_room_is_told_stays_on_the_screen_and_is_saved_once_there_is_room(server, phone):
    """A reading, a check-in of four records, a skipped step, and sending: on one full phone, one after the other."""
    one = ready(server, phone)
    one.go("#/type")
    one.fill("tag-code", TAG)
    one.tap("tag-go")
    check_in(one, "S-5101")
    job = one.page.evaluate("location.hash")
    one.sync()
    server.kill()
    one.go(job + "/before.light")
    one.pick("field-kind-none")
    one.save()
    quota = Quota(one, server)
    quota.leave(-1_000_000, job + "/before.weight")
    before = one.page.evaluate(BOOK)
    assert one.waiting() == 1

    for number in range(TRIES):
        grams = str(14100 + number)
        said = refused(one, lambda grams=grams: weigh(one, grams))
        assert said.startswith("NOT SAVED"), said  # at the first letter, not at the end of the step
        said = refused(one, lambda: one.tap("save"))
        assert said.startswith("NOT SAVED") and "full" in said and "still on the screen" in said
        assert grams in on_screen(one, "mass") and one.page.evaluate("location.hash") == job + "/before.weight"
        assert one.page.get_by_test_id("save").is_enabled()
    assert one.page.evaluate(BOOK) == before

    one.go(f"#/checkin/{OTHER_TAG}")
    one.choose("model", "HL-290")
    one.fill("field-serial", "S-5103")
    one.fill("field-truck", "HL 43")
    one.fill("new-owner", "Moorland Haulage (invented)")
    one.pick("field-complaint-high_restriction")
    for _ in range(2):
        assert refused(one, lambda: one.tap("save")).startswith("NOT SAVED")
    assert "S-5103" in on_screen(one, "serial") and one.page.evaluate(BOOK) == before  # not one of its four records

    one.go(job + "/before.rod")
    one.tap("skip")
    assert refused(one, lambda: one.tap("skip-no_access")).startswith("NOT SAVED")
    assert one.page.evaluate("location.hash") == job + "/before.rod" and one.page.evaluate(BOOK) == before

    server.start()
    one.go("#/waiting")
    for _ in range(2):
        assert refused(one, lambda: one.tap("sync")).startswith("This phone is full") and one.waiting() == 1

    one.go(job + "/before.weight")
    assert str(14100 + TRIES - 1) in on_screen(one, "mass")  # what the book refused is here again, and nowhere else yet
    assert one.page.evaluate(BOOK) == before
    refused(one, lambda: weigh(one, "14199"))
    quota.free()
    one.save()  # the same tap once more, on the same screen
    assert one.waiting() == 2
    one.go(job + "/before.weight")
    assert one.page.get_by_test_id("restored").count() == 0  # it is an answer now, no draft
    one.sync()
    shop = Shop(server.data)
    name = "job:" + job.partition("job:")[2]
    fields = shop.read_job(name)[0][name]["fields"]
    assert fields["before.weight"]["used"]["mass"] == {"n": "14199", "u": "g"} and shop.two_answers() == []
    assert [len(fields[slot]["answers"]) for slot in ("before.weight", "before.light")] == [1, 1]
    shop.store.close()


def test_photo_after_photo_is_refused_on_a_full_phone_and_the_step_goes_on_with_those_it_has(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5104")
    choose(one, picture(tmp_path / "a.jpg", 41, 800, 600))
    here = one.page.evaluate("location.hash")
    quota = Quota(one, server)
    quota.leave(60_000, here)
    one.page.get_by_test_id("restored").wait_for()
    one.reach("photos")
    for number in range(TRIES):
        file = picture(tmp_path / f"{number}.jpg", 50 + number)  # some 500 kB each once it is scaled
        one.hush()
        one.page.get_by_test_id("choose-photos").set_input_files(str(file))
        one.heard("no room")
        assert one.page.get_by_test_id("photo-tile").count() == 1
        one.page.get_by_test_id("photo-working-photos").wait_for(state="hidden")
    assert one.page.evaluate(BOOK).count('"sha256"') == 2  # of the photo, and of the draft that names it
    quota.free()
    one.save()
    one.sync()
    photos_waiting(one, 0)
    assert len(list((server.data / "photos").glob("??/*"))) == 1


# The book takes no drafts, and the next photo only once room was made for it; the photo that is there is two hours old.
FULL_FOR_DRAFTS = """() => { const put = IDBObjectStore.prototype.put; window.isFull = true; let tries = 0;
  IDBObjectStore.prototype.put = function (...given) {
    if (window.isFull && (this.name === "drafts" || (this.name === "photo_bytes" && (tries += 1) === 2))) {
      throw new DOMException("full", "QuotaExceededError"); }
    return put.apply(this, given); }; }"""
TWO_HOURS_AGO = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const open = asked.result.transaction("photos", "readwrite"), photos = open.objectStore("photos");
  photos.getAll().onsuccess = ({ target }) => { for (const kept of target.result) {
    photos.put({ ...kept, since: new Date(Date.now() - 2 * 3600000).toISOString() }); } };
  open.oncomplete = () => { asked.result.close(); ok(); }; }; })"""


def test_making_room_for_a_photo_drops_none_that_a_refused_draft_names(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5105")
    one.page.evaluate(FULL_FOR_DRAFTS)
    choose(one, picture(tmp_path / "a.jpg", 61, 800, 600))
    one.page.evaluate(TWO_HOURS_AGO)
    choose(one, picture(tmp_path / "b.jpg", 62, 800, 600))
    assert one.page.get_by_test_id("photo-tile").count() == 2
    one.page.evaluate("window.isFull = false")
    one.save()
    photos_waiting(one, 2)
