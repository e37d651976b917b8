"""Whether the browser may clear the book is said, as the browser has it; a file as large as one may be is carried whole."""

import base64

import pytest

from tests.browser.shopwork import prepare
from tests.browser.test_by_hand import hand_in, save_file
from tests.browser.test_photos import QUEUE, open_visual, photos_waiting
from tests.browser.test_whole_job import ready
from tests.sync.picturing import jpeg

pytestmark = pytest.mark.browser

MOST_BYTES = 200 * 2**20  # of one file; sync/PROTOCOL.md, section 7
PHOTO_BYTES = 9_900_000  # the server takes 10 MiB a photo
PHOTOS = 23  # 228 MB: more than one file holds
# A photo in the queue as photos.js leaves it there; the bytes come as a small picture and how many follow behind it.
KEEP = """async ([head, size, seed]) => {
  const bytes = new Uint8Array(size), small = Uint8Array.from(atob(head), (one) => one.charCodeAt(0));
  bytes.set(small);
  new DataView(bytes.buffer).setUint32(size - 4, seed);
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const hash = [...digest].map((one) => one.toString(16).padStart(2, "0")).join("");
  await new Promise((ok, no) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
    const open = asked.result.transaction(["photos", "photo_bytes"], "readwrite");
    open.objectStore("photos").put({sha256: hash, bytes: size, taken_at: "2026-11-25T08:00:00.000Z", state: "waiting",
      since: new Date().toISOString()});
    open.objectStore("photo_bytes").put(bytes.buffer, hash);
    open.oncomplete = () => { asked.result.close(); ok(); }; open.onabort = () => no(open.error); }; });
  return hash; }"""

ASKS = """(() => { window.asks = 0; const asking = StorageManager.prototype.persist;
  StorageManager.prototype.persist = function () { window.asks += 1; return asking.call(this); }; })();"""


def test_whether_the_browser_may_clear_the_book_is_said_as_the_browser_has_it(server, phone):
    one = ready(server, phone)
    one.go("#/waiting")
    assert one.page.evaluate("navigator.storage.persisted()") is False  # Chromium gives it to sites in much use only
    assert "may clear this book when space runs out" in one.page.get_by_role("main").inner_text()
    session = one.context.new_cdp_session(one.page)
    session.send("Browser.grantPermissions", {"origin": server.url, "permissions": ["durableStorage"]})
    one.context.add_init_script(ASKS)
    one.page.reload()
    one.page.wait_for_selector("html[data-ready='#/waiting']")
    one.page.wait_for_function("() => window.asks === 1")  # at each start
    assert one.page.evaluate("navigator.storage.persisted()") is True
    one.go("#/waiting")
    told = one.page.get_by_role("main").inner_text()
    assert "keeps this book until you remove it" in told and "may clear" not in told
    session.send("Browser.resetPermissions")


def test_more_photos_than_one_file_holds_leave_in_two_and_the_desk_has_every_byte(server, phone, office, tmp_path):
    prepare(server.data)
    one = phone("one")
    one.enrol(server.code(), "Kim")
    one.context.set_offline(True)
    open_visual(one, "HL-S-7100")
    one.save()
    waiting = one.waiting()
    head = base64.b64encode(jpeg(64, 48)).decode()
    names = {one.page.evaluate(KEEP, [head, PHOTO_BYTES, number]) for number in range(PHOTOS)}
    assert len(names) == PHOTOS
    one.page.reload()
    photos_waiting(one, PHOTOS)
    file = tmp_path / "ashbook-outbox.ashbook"
    told = save_file(one, file)
    fitting = (MOST_BYTES - 1_000_000) // PHOTO_BYTES  # the first line keeps some room for itself
    assert f"{waiting} changes, {fitting} photos" in told and f"{PHOTOS - fitting} more photos did not fit" in told
    assert MOST_BYTES - PHOTO_BYTES - 1_000_000 < file.stat().st_size <= MOST_BYTES
    hand_in(office, file)
    assert office.page.locator("[data-testid=receipt][data-outcome=stored]").count() == waiting
    assert office.page.locator("[data-testid=photo-receipt][data-outcome=stored]").count() == fitting
    told = save_file(one, file)  # those first that no file has carried
    assert "did not fit" in told
    hand_in(office, file)
    assert office.page.locator("[data-testid=photo-receipt][data-outcome=stored]").count() == PHOTOS - fitting
    kept = {path.name: path.stat().st_size for path in (server.data / "photos").glob("??/*")}
    assert kept == dict.fromkeys(names, PHOTO_BYTES)
    one.context.set_offline(False)
    one.sync()
    photos_waiting(one, 0)
    assert len(one.page.evaluate(QUEUE, "confirmed")) == PHOTOS
