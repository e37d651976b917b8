"""A change leaves the phone's outbox only on our server's own receipt, whatever the network answers. Readings invented."""

import pytest

from demo.shop import seed
from sync import lookup
from tests.browser.link import Link
from webform.shop import Shop

pytestmark = pytest.mark.browser

# mode of the link and the bytes of the answer that come through; 17 bytes are "HTTP/1.1 200 OK\r\n", 400 end in the headers
# or in the body
BAD = (("refuse", 0), ("portal", 0), ("cut", 0), ("cut", 17), ("cut", 400), ("swallow", 0))


@pytest.fixture
def link(server):
    made = Link(server.port)
    yield made
    made.close()


def try_to_sync(phone):
    """Taps "send now" and comes back when the phone has said how it went."""
    phone.go("#/waiting")
    phone.page.evaluate("document.getElementById('said').textContent = ''")
    phone.tap("sync")
    phone.page.locator("#said:not(:empty)").wait_for(timeout=60000, state="attached")


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
