"""The phone's book is cleared, damaged or put back: the app says so, no id is used again, the office keeps what it had.

Cleared by the browser itself, damaged in the browser's own files while it is closed, put back by a copy of its whole
profile. Readings invented.
"""

import shutil

import pytest

from sync import lookup
from webform.shop import Shop

pytestmark = pytest.mark.browser

JOB = "#/job/job:demo5"
QUEUE = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const stores = asked.result.transaction(["outbox", "confirmed"]);
  stores.objectStore("outbox").getAll().onsuccess = (waiting) => {
    stores.objectStore("confirmed").getAll().onsuccess = (done) => { asked.result.close();
      ok([waiting.target.result, done.target.result].map((all) => all.map((entry) => entry.id))); }; }; }; })"""
CLEARED = "cache_storage,service_workers"


def weigh(phone, grams):
    phone.go(JOB + "/after.weight")
    phone.fill("field-mass", str(grams))
    phone.save()


def work(phone, server, first):
    """Two weights that the office confirms and two that it does not: ids of the former, of the latter. The server is down."""
    before = set(phone.page.evaluate(QUEUE)[1])
    weigh(phone, first)
    weigh(phone, first + 1)
    phone.sync()
    confirmed = set(phone.page.evaluate(QUEUE)[1]) - before
    server.kill()
    weigh(phone, first + 2)
    weigh(phone, first + 3)
    waiting = set(phone.page.evaluate(QUEUE)[0])
    phone.page.wait_for_function("count => JSON.parse(localStorage.getItem('ashbook-book')).count === count", arg=2)
    assert (len(confirmed), len(waiting)) == (2, 2)
    return confirmed, waiting


def weights(server):
    """Every weight that the office has from a phone, by the id of its change."""
    shop = Shop(server.data)
    found = {entry["id"]: entry["change"]["set"]["after.weight"]["mass"]["n"]
             for entry in lookup.history(shop.store, "job:demo5") if entry["device"].startswith("phone-")}
    shop.store.close()
    return found


def loss(phone):
    """What the app tells of a loss, and of how many changes."""
    card = phone.page.get_by_test_id("loss")
    card.wait_for()
    phone.page.get_by_test_id("status").filter(has_text="Work may be missing").wait_for()
    return card.get_attribute("data-what"), phone.page.get_by_test_id("loss-count").all_inner_texts()


def enrol_again(phone, server):
    phone.enrol(server.code(), "Kim")
    phone.go("#/waiting")
    phone.tap("loss-read")
    phone.page.get_by_test_id("loss").wait_for(state="detached")
    phone.page.get_by_test_id("status").filter(has_not_text="may be missing").wait_for()


def reloaded(phone):
    phone.page.goto("about:blank")
    phone.page.goto(phone.url + "/phone/")
    phone.page.wait_for_selector("html[data-ready]")


def test_a_cleared_book_is_told_and_no_id_is_used_again(server, demo_phone):
    used = set()
    for number, more in enumerate(("indexeddb", "indexeddb,local_storage")):
        confirmed, waiting = work(demo_phone, server, 14000 + 10 * number)
        assert not used & (confirmed | waiting)
        used |= confirmed | waiting
        demo_phone.page.goto("about:blank")
        demo_phone.context.new_cdp_session(demo_phone.page).send(
            "Storage.clearDataForOrigin", {"origin": demo_phone.url, "storageTypes": f"{CLEARED},{more}"})
        server.start()
        reloaded(demo_phone)
        what, counted = loss(demo_phone)
        assert what == "all"
        # with nothing left beside the book only the server's word tells, and nobody knows how much waited
        assert ["2 not yet confirmed" in text for text in counted] == ([True] if more == "indexeddb" else [])
        enrol_again(demo_phone, server)
        assert confirmed <= set(weights(server))
    weigh(demo_phone, 14500)
    demo_phone.sync()
    found = weights(server)
    assert sorted(found.values()) == ["14000", "14001", "14010", "14011", "14500"]
    assert len({one.split(".")[0] for one in found}) == 3  # a name of its own after each loss


def damage(folder, way):
    """Deletes or cuts files of a closed database, in one of several ways."""
    files = sorted(path for path in folder.iterdir() if path.is_file())
    if way == "all gone":
        shutil.rmtree(folder)
    elif way == "journal cut":
        journal = max((path for path in files if path.suffix == ".log"), key=lambda path: path.stat().st_size)
        journal.write_bytes(journal.read_bytes()[:journal.stat().st_size // 2])
    else:
        for path in files:
            if path.name.startswith(way) or path.suffix == way:
                path.unlink()


def test_a_damaged_book_is_whole_or_the_loss_is_told(server, demo_phone):
    told, used = [], set()
    for number, way in enumerate(("all gone", "CURRENT", ".log", "journal cut")):
        confirmed, waiting = work(demo_phone, server, 15000 + 10 * number)
        assert not used & (confirmed | waiting)
        used |= confirmed | waiting
        demo_phone.end()
        damage(next(demo_phone.profile.rglob("*.indexeddb.leveldb")), way)
        demo_phone.open()
        is_whole = set(demo_phone.page.evaluate(QUEUE)[0]) == waiting
        is_empty = demo_phone.page.get_by_test_id("enrol-go").count() == 1
        if not is_whole:
            if not is_empty:
                demo_phone.go("#/waiting")
            what, counted = loss(demo_phone)
            assert what == ("all" if is_empty else "part") and "2 not yet confirmed" in counted[0], way
            told.append((way, what))
        server.start()
        if is_empty:
            enrol_again(demo_phone, server)
        elif not is_whole:
            demo_phone.tap("loss-read")
        demo_phone.sync()
        assert not is_whole or waiting <= set(weights(server)), way
        demo_phone.page.evaluate("location.hash = '#/'")
        demo_phone.page.wait_for_selector("html[data-ready='#/'], html[data-ready='#/people']")
        if demo_phone.page.get_by_test_id("person").count():  # who holds the phone was lost too
            demo_phone.page.get_by_test_id("person").filter(has_text="Kim").click()
        assert confirmed <= set(weights(server)), way
    assert len(told) >= 2, told
    # Chromium opens a database that has lost its manifest never again: the app tells what is missing and what to do
    work(demo_phone, server, 15900)
    demo_phone.end()
    damage(next(demo_phone.profile.rglob("*.indexeddb.leveldb")), "MANIFEST")
    demo_phone.open()
    broken = demo_phone.page.get_by_test_id("book-broken").inner_text()
    assert "2 not yet confirmed" in broken and "Ask the office" in broken
    assert demo_phone.page.get_by_test_id("said").inner_text() == "", "no alarm above it that says something else"
    demo_phone.page.get_by_role("button", name="Try again").wait_for()
    server.start()


def test_a_phone_whose_storage_was_put_back_is_told_what_the_office_knows_of_it(server, demo_phone, tmp_path):
    weigh(demo_phone, 16000)
    demo_phone.sync()
    demo_phone.end()
    shutil.copytree(demo_phone.profile, tmp_path / "kept")
    demo_phone.open()
    confirmed, waiting = work(demo_phone, server, 16010)
    demo_phone.end()
    shutil.rmtree(demo_phone.profile)
    shutil.copytree(tmp_path / "kept", demo_phone.profile)
    server.start()
    demo_phone.open()
    demo_phone.sync()
    demo_phone.go("#/waiting")
    # the older of the two that were sent had been replaced by the newer one; what was never sent nobody knows of
    assert loss(demo_phone)[0] == "back" and "knew nothing of: 1," in loss(demo_phone)[1][0]
    demo_phone.tap("loss-read")
    weigh(demo_phone, 16020)
    demo_phone.sync()
    found = weights(server)
    assert sorted(found.values()) == ["16000", "16010", "16011", "16020"]
    assert not waiting & set(found) and confirmed < set(found)
    demo_phone.go("#/waiting")
    assert demo_phone.page.get_by_test_id("loss").count() == 0  # told once; what it writes now is its own
