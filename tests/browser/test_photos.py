"""Photos from a real phone: taken offline, kept through the browser's death, sent in pieces, shown at the desk and on paper.

The pictures are noise made here; the readings are invented.
"""

import io
import random

import pypdfium2
import pytest
from PIL import Image

from tests.browser.link import Link
from tests.browser.test_bad_link import try_to_sync
from tests.browser.test_whole_job import check_in as check_in_filter
from tests.browser.test_whole_job import ready

pytestmark = pytest.mark.browser

GPS = 0x8825  # the EXIF tag that leads to the position; EXIF 2.32, from memory
QUEUE = """(state) => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const got = asked.result.transaction("photos").objectStore("photos").index("state").getAll(state);
  got.onsuccess = () => { asked.result.close(); ok(got.result); }; }; })"""


def picture(path, seed, width=2400, height=1800):
    """A file as a camera makes it: large, turned, with a position. Coarse noise, so that it stays noise when scaled."""
    noise = Image.frombytes("RGB", (width // 4, height // 4), random.Random(seed).randbytes(width * height // 16 * 3))
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned by 90 degrees
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (54.0, 30.0, 0.0)
    noise.resize((width, height), Image.Resampling.BICUBIC).save(path, "JPEG", quality=85, exif=exif.tobytes())
    assert opened(path)[2].get_ifd(GPS)
    return path


def opened(path):
    """Format, size and EXIF of a picture in a file."""
    with Image.open(path) as found:
        return found.format, found.size, found.getexif()


def open_visual(phone, serial):
    phone.go("#/type")
    phone.fill("tag-code", "7K3M9QX07")
    phone.tap("tag-go")
    check_in_filter(phone, serial)
    job = phone.page.evaluate("location.hash")
    phone.tap("step-before.visual")
    phone.pick("field-outlet-clean", "field-brick-cracked", "field-can-sound", "field-wet-dry")
    phone.reach("photos")
    return job


def choose(phone, *files):
    """Chooses photos as the phone's picker does and waits until each is drawn."""
    before = phone.page.get_by_test_id("photo-tile").count()
    phone.page.get_by_test_id("choose-photos").set_input_files([str(file) for file in files])
    phone.page.wait_for_function(f"""() => {{ const all = [...document.querySelectorAll('[data-testid=photo-tile]')];
      return all.length === {before + len(files)} && all.every((one) => one.complete && one.naturalWidth > 0); }}""")


def photos_waiting(phone, count):
    phone.page.wait_for_selector(f"#status[data-photos='{count}']")


def open_job(office, serial):
    office.page.goto(office.url + "/office/")
    office.page.get_by_test_id("job-row").filter(has_text=serial).get_by_role("link", name="Open").click()
    return office.page.url


def pictures_in(office, address):
    document = pypdfium2.PdfDocument(io.BytesIO(office.page.request.get(address).body()))
    return sum(found.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for page in document for found in page.get_objects())


def is_drawn(office, test_id):
    image = office.page.get_by_test_id(test_id).first
    image.scroll_into_view_if_needed()
    handle = image.element_handle()
    office.page.wait_for_function("one => one.complete && one.naturalWidth > 0", arg=handle)
    return True


def test_photos_taken_offline_outlive_the_browser_and_reach_desk_and_paper(server, phone, office, tmp_path):
    one = ready(server, phone)
    server.kill()
    one.end()
    one.open()  # Chromium writes cookies within half a minute, or when it is ended in peace
    open_visual(one, "S-5001")
    choose(one, picture(tmp_path / "a.jpg", 1), picture(tmp_path / "b.jpg", 2))
    choose(one, picture(tmp_path / "c.jpg", 3))
    one.page.get_by_test_id("photo-out").nth(1).click()  # the second one is taken out again
    assert one.page.get_by_test_id("photo-tile").count() == 2
    one.page.wait_for_selector("#status[data-drafts='1'][data-photos='0']")  # named by a draft only: not in the queue
    here = one.page.evaluate("location.hash")
    one.kill()
    one.open("/phone/" + here)  # killed with a half-filled step: the photos are still in it
    one.page.get_by_test_id("restored").wait_for()
    one.reach("photos")
    assert one.page.get_by_test_id("photo-tile").count() == 2
    one.save()
    photos_waiting(one, 2)
    assert "2 photos wait" in one.page.get_by_test_id("status").inner_text()
    kept = {entry["sha256"] for entry in one.page.evaluate(QUEUE, "waiting")}
    one.kill()
    one.open()
    photos_waiting(one, 2)
    server.start()
    one.sync()
    photos_waiting(one, 0)
    assert {entry["sha256"] for entry in one.page.evaluate(QUEUE, "confirmed")} == kept
    stored = {path.name: path for path in (server.data / "photos").glob("??/*")}
    assert set(stored) == kept
    for path in stored.values():  # what left the phone is small, upright and without its position
        kind, size, exif = opened(path)
        assert (kind, size) == ("JPEG", (1200, 1600)) and not exif
    job = open_job(office, "S-5001")
    assert office.page.get_by_test_id("photo").count() >= 2 and is_drawn(office, "photo")
    assert pictures_in(office, job + "/report.pdf") == 2
    office.page.goto(job + "/report")
    assert office.page.get_by_test_id("report-photos").locator("img").count() == 2


def test_an_upload_cut_in_the_middle_goes_on_where_it_was_and_the_report_waits_meanwhile(server, phone, office, tmp_path):
    link = Link(server.port)
    try:
        one = ready_behind(link, server, phone)
        open_visual(one, "S-5002")
        one.sync()
        link.turn("refuse")
        one.go(one.page.evaluate("location.hash.split('/before')[0]"))
        one.tap("step-before.visual")
        one.page.get_by_test_id("restored").wait_for()
        one.reach("photos")
        choose(one, picture(tmp_path / "a.jpg", 4))
        one.save()
        photos_waiting(one, 1)
        name, size = (one.page.evaluate(QUEUE, "waiting")[0][key] for key in ("sha256", "bytes"))
        assert size > 250_000, size
        link.turn("cut_up", 180_000)  # the changes and the first pieces get through
        try_to_sync(one)
        photos_waiting(one, 1)
        assert one.waiting() == 0  # the changes went first
        partial = next((server.data / "photos" / "partial").glob(f"*/{name}")).stat().st_size
        assert 0 < partial < size
        job = open_job(office, "S-5002")
        assert "not arrived yet" in office.page.get_by_test_id("photo-absent").first.inner_text()
        assert office.page.get_by_test_id("absent-photos").get_by_text("Look at it, before cleaning").count() == 1
        office.page.goto(job + "/report")
        assert "Photos that have not arrived yet: 1" in office.page.get_by_test_id("report").inner_text()
        server.kill()  # kill -9: what was confirmed is on its disk
        server.start()
        link.turn("up")
        link.sent_up = 0
        one.sync()
        photos_waiting(one, 0)
        assert link.sent_up < size - partial + 20_000, (link.sent_up, size, partial)
        office.page.goto(job)
        assert office.page.get_by_test_id("absent-photos").count() == 0 and is_drawn(office, "photo")
    finally:
        link.close()


def ready_behind(link, server, phone):
    """A phone that reaches the server through the link only."""
    one = ready(server, lambda name, camera, more: phone(name, camera, url=link.url, more=more))
    return one


# what a network may answer for our server: status, body; SHA stands for the photo's own hash
ANSWERS = (
    (200, "<html>Welcome, please sign in"), (200, ""), (200, "null"), (200, "[]"), (200, '"complete"'), (200, "{}"),
    (200, '{"sha256": "SHA", "offset": 0, "comple'), (200, '{"sha256": "0000", "offset": 9, "complete": true}'),
    (200, '{"sha256": "SHA", "complete": true}'), (200, '{"sha256": "SHA", "offset": "9", "complete": true}'),
    (200, '{"sha256": "SHA", "offset": 0, "complete": "true"}'), (500, "<html>"), (503, '{"error": {"code": "unavailable"}}'),
    (429, '{"error": {"code": "photo_quota", "text": "x"}}'), (401, '{"error": {"code": "not_enrolled"}}'))


def test_only_the_servers_word_takes_a_photo_out_of_the_queue(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5003")
    one.context.set_offline(True)
    choose(one, picture(tmp_path / "a.jpg", 5, 400, 300))
    one.save()
    photos_waiting(one, 1)
    name = one.page.evaluate(QUEUE, "waiting")[0]["sha256"]
    one.context.set_offline(False)
    given = []

    def strange(route):
        given.append(1)
        route.fulfill(status=now[0], body=now[1].replace("SHA", name), content_type="text/html")

    one.context.route("**/sync/photos/*", strange)
    for number, now in enumerate(ANSWERS):
        before = len(given)
        try_to_sync(one)
        photos_waiting(one, 1)
        assert len(given) > before, (number, now)  # it did ask
        assert one.page.evaluate(QUEUE, "waiting")[0].get("refused") is None, now
    one.context.unroute("**/sync/photos/*")
    one.sync()
    photos_waiting(one, 0)
    assert (server.data / "photos" / name[:2] / name).is_file()


def test_a_photo_the_server_refuses_stays_and_is_told_and_stops_nothing(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5004")
    server.kill()
    choose(one, picture(tmp_path / "a.jpg", 6, 400, 300), picture(tmp_path / "b.jpg", 7, 400, 300))
    one.save()
    # the first one's bytes are damaged in the phone's store, as a failing flash memory would
    damaged = min(one.page.evaluate(QUEUE, "waiting"), key=lambda entry: (entry["since"], entry["sha256"]))["sha256"]
    one.page.evaluate("""(name) => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
      const open = asked.result.transaction("photo_bytes", "readwrite"); open.objectStore("photo_bytes").delete(name);
      open.oncomplete = () => { asked.result.close(); ok(); }; }; })""", damaged)
    server.start()
    one.go("#/waiting")
    one.tap("sync")
    photos_waiting(one, 1)
    assert "did not take this photo" in one.page.locator(".card.two").inner_text()
    assert len(list((server.data / "photos").glob("??/*"))) == 1 and one.waiting() == 0


def test_what_is_no_picture_gets_a_sentence_and_what_was_typed_stays(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5005")
    (tmp_path / "x.jpg").write_bytes(b"no picture")
    one.hush()
    one.page.get_by_test_id("choose-photos").set_input_files(str(tmp_path / "x.jpg"))
    assert "cannot be read" in one.heard()
    assert one.page.get_by_test_id("photo-tile").count() == 0
    one.save()
    one.sync()
    assert one.waiting() == 0


def test_a_book_of_the_first_version_is_kept_and_extended(server, phone, tmp_path):
    """The stores as version 1 of the phone app made them, read from webform/phone/js/store.js at commit 1017562."""
    one = phone("old", url=server.url)
    one.page.goto(server.url + "/health")
    one.page.evaluate("""() => new Promise((ok, no) => { const gone = indexedDB.deleteDatabase("ashbook"); gone.onerror = no;
      gone.onsuccess = () => { const asked = indexedDB.open("ashbook", 1); asked.onerror = no; asked.onupgradeneeded = () => {
        const db = asked.result; db.createObjectStore("drafts", {keyPath: "key"});
        db.createObjectStore("outbox", {keyPath: "n", autoIncrement: true});
        db.createObjectStore("confirmed", {keyPath: "id"});
        db.createObjectStore("held", {keyPath: "id"}); db.createObjectStore("snapshots", {keyPath: "record"});
        const views = db.createObjectStore("views", {keyPath: "record"}); views.createIndex("kind", "kind");
        views.createIndex("links", "links", {multiEntry: true}); db.createObjectStore("meta"); };
      asked.onsuccess = () => { const open = asked.result.transaction(["outbox", "drafts"], "readwrite");
        open.objectStore("outbox").add({id: "a.b.1", hash: "0", text: "{}",
          change: {at: "2026-11-25T08:00:00.000Z", record: "job:x", set: {}}});
        open.objectStore("drafts").add({key: "job:x/before.flow", values: {}});
        open.oncomplete = () => { asked.result.close(); ok(); }; }; }; })""")
    one.page.goto(server.url + "/phone/")
    one.page.wait_for_selector("#status[data-waiting='1'][data-drafts='1'][data-photos='0']")
    assert one.page.evaluate(QUEUE, "waiting") == []


def test_nothing_of_the_photos_is_cut_off_on_a_narrow_phone(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5006")
    choose(one, *(picture(tmp_path / f"{width}.jpg", width, width, height)
                  for width, height in ((2400, 1800), (600, 1800), (1800, 300))))
    assert one.page.evaluate("document.documentElement.scrollWidth") == 360
    for button in one.page.locator(".field[data-field=photos] button:visible").all():
        box = button.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= 360 and box["height"] >= 48
        assert button.evaluate("one => one.scrollWidth <= one.clientWidth && one.scrollHeight <= one.clientHeight")
    one.page.screenshot(path=str(tmp_path / "photos.png"), full_page=True)


def test_a_full_phone_says_so_and_keeps_what_was_typed_and_taken(server, phone, tmp_path):
    one = ready(server, phone)
    open_visual(one, "S-5007")
    choose(one, picture(tmp_path / "a.jpg", 11))
    here = one.page.evaluate("location.hash")
    used = one.page.evaluate("navigator.storage.estimate().then((found) => found.usage)")
    one.end()
    # Chromium asks for the quota when a book is opened and remembers it, so it is set before
    one.context = one.playwright.chromium.launch_persistent_context(str(one.profile), **one.launching())
    one.page = one.context.pages[0]
    quota = one.context.new_cdp_session(one.page)
    quota.send("Storage.overrideQuotaForOrigin", {"origin": server.url, "quotaSize": used + 300_000})
    one.page.goto(server.url + "/phone/" + here)
    one.page.get_by_test_id("restored").wait_for()
    one.reach("photos")
    one.hush()
    one.page.get_by_test_id("choose-photos").set_input_files(str(picture(tmp_path / "b.jpg", 12)))
    one.heard("no room")
    assert one.page.get_by_test_id("photo-tile").count() == 1
    one.page.get_by_test_id("photo-working-photos").wait_for(state="hidden")
    one.save()
    one.sync()
    photos_waiting(one, 0)
    assert len(list((server.data / "photos").glob("??/*"))) == 1
