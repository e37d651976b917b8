"""A change leaves the phone's outbox only on our server's own receipt, whatever the network answers. Readings invented."""

import pytest

from demo.shop import seed
from sync import lookup
from sync.client import Client, http_post
from tests.browser.shopwork import prepare
from tests.keeping.test_served import enrolled
from webform.shop import Shop

pytestmark = pytest.mark.browser

# mode of the link and the bytes of the answer that come through; 17 bytes are "HTTP/1.1 200 OK\r\n", 400 end in the headers
# or in the body
BAD = (("refuse", 0), ("portal", 0), ("cut", 0), ("cut", 17), ("cut", 400), ("swallow", 0))

FILTERS = 400
SHORT = 5_000  # bytes of answers on one connection: a page of all filters takes 8,000, one of half of them 4,100
TRIES = 12
COUNTED = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const counted = asked.result.transaction("snapshots").objectStore("snapshots").getAllKeys();
  counted.onsuccess = () => { asked.result.close();
    ok(counted.result.filter((key) => /^filter:far/.test(key)).length); }; }; })"""


def try_to_sync(phone):
    """Taps "send now" and comes back when the phone has said how it went."""
    phone.go("#/waiting")
    phone.hush()
    phone.tap("sync")
    phone.heard(timeout=60000)
    phone.go("#/waiting")  # the strip above it is true as of now


def push_filters(server, folder):
    """Another device brings them, over a good link."""
    device, headers = enrolled(server)
    van = Client(f"{folder}/van.db", device, http_post(server.url + "/sync", headers))
    for number in range(FILTERS):
        van.write(f"filter:far{number}", {"serial": f"{number * 7919 % 99991}-{number * 104729 % 99989}"}, "person:kim")
    van.push()
    assert van.waiting() == []
    van.close()


def test_only_our_servers_receipt_takes_a_change_out_of_the_outbox(server, link, phone):
    shop = Shop(server.data)
    seed(shop)
    before = shop.store.counter()["position"]
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    for number, (mode, bytes_through) in enumerate(BAD, 1):
        link.turn(mode, bytes_through)
        taken = link.taken
        one.go("#/job/job:demo5/after.weight")
        one.fill("field-mass", str(11452 + number))
        one.save()
        try_to_sync(one)
        assert one.waiting() == number, mode
        assert link.taken > taken, mode  # it did try
    link.turn("up")
    one.sync()
    # whatever was sent again and again is there once, and nothing else is
    stored = [entry for entry in lookup.history(shop.store, "job:demo5") if entry["device"].startswith("phone-")]
    assert [entry["change"]["set"]["after.weight"]["mass"]["n"] for entry in sorted(stored, key=lambda e: e["position"])] \
        == [str(11452 + number) for number in range(1, len(BAD) + 1)]
    assert shop.store.counter()["position"] == before + len(BAD)
    assert shop.two_answers() == []
    shop.store.close()


def test_what_changed_comes_through_a_link_that_breaks_off_again_and_again(server, link, phone, tmp_path):
    """A page that is asked for whole again and again would never come over it."""
    prepare(server.data)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    push_filters(server, tmp_path)
    link.turn("short", SHORT)
    for _ in range(TRIES):
        try_to_sync(one)
        if one.page.evaluate(COUNTED) == FILTERS:
            break
    assert one.page.evaluate(COUNTED) == FILTERS
