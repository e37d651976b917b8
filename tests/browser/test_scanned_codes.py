"""Codes before a phone's camera: enrolment by scan, a camera that is refused, a tag that is bound to two filters."""

import pytest

from sync import change, exchange
from tests.browser.shopwork import prepare
from tests.browser.test_whole_job import TAG, ready
from tests.sync.making import made
from webform.shop import Shop
from webform.trade.tag_code import ENROL

pytestmark = pytest.mark.browser

DENIED = ("--use-fake-ui-for-media-stream=deny", "--use-fake-device-for-media-stream")


def scan(phone):
    phone.page.get_by_role("button", name="Scan the code").click()


def test_a_phone_is_enrolled_by_the_code_before_its_camera(server, phone):
    prepare(server.data)
    code = server.code()
    one = phone("one", camera=ENROL + code)
    scan(one)
    one.page.wait_for_function("() => document.querySelector('[data-testid=enrol-code]').value.length > 8")
    assert one.page.get_by_test_id("enrol-code").input_value() == code.replace("-", "")
    one.tap("enrol-go")
    one.page.get_by_test_id("person").filter(has_text="Kim").click()
    one.page.wait_for_selector("html[data-ready='#/']")


def test_a_tag_before_the_camera_enrols_nobody_and_a_refused_camera_leaves_the_typed_code(server, phone):
    prepare(server.data)
    one = phone("one", camera=TAG)
    scan(one)
    one.page.locator("[data-testid=enrol-problem]:not([hidden])").wait_for()
    assert one.page.get_by_test_id("enrol-code").input_value() == ""
    two = phone("two", more=DENIED)
    scan(two)
    problem = two.page.locator("[data-testid=enrol-problem]:not([hidden])")
    problem.wait_for()
    assert "camera" in problem.inner_text().lower()
    two.enrol(server.code(), "Kim")  # the very same screen takes the code by hand
    two.go("#/scan")
    two.page.locator("[data-testid=scan-problem]:not([hidden])").wait_for()
    two.page.get_by_role("link", name="Type").click()
    two.page.wait_for_selector("html[data-ready='#/type']")


def test_a_scanned_tag_that_is_bound_to_two_filters_asks_and_never_picks(server, phone):
    prepare(server.data)
    shop = Shop(server.data)
    for device, serial in (("a", "S-1"), ("b", "S-2")):  # two phones bound it, neither having seen the other's
        texts = [change.to_text(made(f"{device}.1", f"filter:{device}", {"serial": serial, "unit_kind": "wall_flow"})),
                 change.to_text(made(f"{device}.2", f"tag:{TAG}", {"filter": f"filter:{device}"}))]
        receipts = exchange.push(shop.store, device, texts, [change.content_hash(text) for text in texts])
        assert [receipt["status"] for receipt in receipts] == ["stored", "stored"]
    shop.store.close()
    one = ready(server, phone, TAG)
    one.go("#/scan")
    one.page.wait_for_selector(f"html[data-ready='#/tag/{TAG}']")
    assert one.page.evaluate("location.hash") == f"#/tag/{TAG}"
    screen = one.page.locator("#screen").inner_text()
    assert "two filters" in screen.lower() and "S-1" not in screen and "S-2" not in screen
    assert one.page.locator("#screen button").count() == 0  # nothing to tap that would choose one
    assert one.page.locator("#screen a").all_inner_texts() == ["Back"]  # and no dead end
    assert one.waiting() == 0
