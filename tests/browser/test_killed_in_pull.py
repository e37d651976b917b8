"""kill -9 of Chromium in the middle of a pull of several pages: rows and cursor are always of one page. Names invented."""

import random

import pytest

from sync import change, exchange, lookup, merge
from tests.browser.link import Link
from tests.browser.shopwork import prepare
from tests.sync.making import made
from webform.shop import Shop

pytestmark = pytest.mark.browser

OWNERS = 5000
KILLS = 3
BOOK = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const stores = asked.result.transaction(["snapshots", "meta"]);
  stores.objectStore("meta").get("cursor").onsuccess = (cursor) => {
    stores.objectStore("snapshots").getAll().onsuccess = (all) => { asked.result.close();
      ok([cursor.target.result ?? null, all.target.result]); }; }; }; })"""
# Until the cursor has moved on from a position, or a quarter of a minute is over.
MOVED = """async (from) => { for (const end = performance.now() + 15000; performance.now() < end;) {
  const cursor = await new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
    asked.result.transaction("meta").objectStore("meta").get("cursor").onsuccess = ({ target }) => {
      asked.result.close(); ok(target.result); }; }; });
  if (cursor.position > from) return true; } return false; }"""


def fill(store):
    """Many owners, pushed as a phone would."""
    for start in range(0, OWNERS, 500):
        texts = [change.to_text(made(f"maker.{number + 1}", f"owner:o{number:05}",
                                     {"name": f"Haulage {number} (invented) " + "x" * 300}))
                 for number in range(start, start + 500)]
        receipts = exchange.push(store, "maker", texts, [change.content_hash(text) for text in texts])
        assert {receipt["status"] for receipt in receipts} == {"stored"}


def book_of(phone):
    """(cursor, record → its heads as one text), as they lie on the phone's disk."""
    cursor, snapshots = phone.page.evaluate(BOOK)
    return cursor, {entry["record"]: merge.canonical({field: heads for field, heads in entry["heads"].items() if heads})
                    for entry in snapshots}


def test_a_phone_killed_in_a_pull_goes_on_and_has_what_a_fresh_one_has(server, phone):
    prepare(server.data)
    link, draw = Link(server.port), random.Random(15)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    one.end()
    shop = Shop(server.data)
    began = shop.store.counter()["position"]
    fill(shop.store)
    placed = {entry["record"]: entry["position"] for entry in lookup.entries(shop.store, limit=OWNERS + 1000)}
    end, between = shop.store.counter()["position"], 0
    link.delay_s = 0.2  # the delay is what is asked for: a page takes it at least twice
    one.open()
    for _ in range(KILLS):
        here = book_of(one)[0]["position"]
        if here < end:
            assert one.page.evaluate(MOVED, here)
        one.page.wait_for_timeout(draw.randrange(150))  # the moment of the kill is the fault, not a wait for something
        one.kill()
        link.turn("refuse")
        one.open()
        cursor, rows = book_of(one)
        between += began < cursor["position"] < end
        assert rows.keys() == {record for record, position in placed.items() if position <= cursor["position"]}
        link.turn("up")
        one.page.evaluate("() => { dispatchEvent(new Event('online')); }")
    assert between >= 2, "too few kills fell into the pull"
    link.delay_s = 0
    one.sync()
    fresh = phone("fresh", url=link.url)
    fresh.enrol(server.code(), "Kim")
    served = {record: merge.canonical({field: heads for field, heads in snapshot["heads"].items() if heads})
              for record, snapshot in shop.store.snapshots(sorted(placed)).items()}
    for each in (one, fresh):
        cursor, rows = book_of(each)
        assert (cursor["position"], cursor["chain"]) == (end, shop.store.counter()["chain"])
        assert rows == served
    shop.store.close()
    link.close()
