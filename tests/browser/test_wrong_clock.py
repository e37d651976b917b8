"""A phone whose clock is years off: it says so, and what it writes counts as anybody's. Readings invented."""

import datetime

import pytest

from sync import lookup
from webform.shop import Shop

pytestmark = pytest.mark.browser

# Ten years ahead, for all that the app asks.
AHEAD = """(() => { const True = Date, off = 10 * 365 * 86400000;
  window.Date = class extends True { constructor(...given) { given.length ? super(...given) : super(True.now() + off); }
    static now() { return True.now() + off; } }; })();"""


def test_a_phone_ten_years_ahead_is_told_and_its_time_decides_nothing(server, two_phones):
    one, two = two_phones
    one.context.add_init_script(AHEAD)
    one.page.reload()
    one.page.wait_for_selector("html[data-ready]")
    for phone, grams in ((one, "14000"), (two, "14001")):  # two, whose clock is true, has seen the other's answer
        phone.sync()
        phone.go("#/job/job:demo5/after.weight")
        phone.fill("field-mass", grams)
        phone.save()
        phone.sync()
    one.sync()
    one.go("#/waiting")
    today = datetime.datetime.now(datetime.UTC).date()
    told = one.page.get_by_test_id("clock").inner_text()
    assert str((today + datetime.timedelta(days=3650)).year) in told and str(today.year) in told
    assert "the clock is wrong" in one.page.get_by_test_id("status").inner_text()
    assert two.page.get_by_test_id("clock").count() == 0
    shop = Shop(server.data)
    written = {entry["change"]["set"]["after.weight"]["mass"]["n"]: entry["change"]["at"][:3]
               for entry in lookup.history(shop.store, "job:demo5") if entry["device"].startswith("phone-")}
    assert written["14000"] == "203" and written["14001"] == "202"
    assert lookup.view(shop.store, "job:demo5")["fields"]["after.weight"]["used"]["mass"]["n"] == "14001"
    shop.store.close()
    one.go("#/job/job:demo5/after.weight")
    assert "14001" in one.page.get_by_test_id("answer-mass").inner_text()
