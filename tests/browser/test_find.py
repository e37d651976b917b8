"""The desk's one search field and its menu in Chromium, as wide as a telephone and as a screen. Everything is invented."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.test_accessible import RULES
from webform.shop import Shop

pytestmark = pytest.mark.browser

WIDTHS = (320, 390, 1280)  # the narrowest that WCAG 1.4.10 (Reflow) names, a telephone, a screen
TARGET_PX = 48
TRUCKS = ("Grey tractor, KX 471", "Red tipper, KX 472", "White van, LM 9")


@pytest.fixture
def desk(server, office):
    """A shop with three filters of two owners, and one that has no job yet."""
    shop = Shop(server.data)
    shop.write("model:m", {"number": "TK-290", "cross": "88-1204, 7 551 300"}, "desk:office", {})
    shop.write("owner:o0", {"name": "Birchwood Hauling"}, "desk:office", {})
    shop.write("owner:o1", {"name": "Ærøskov Transport"}, "desk:office", {})
    for n, truck in enumerate(TRUCKS):
        shop.write(f"filter:f{n}", {"serial": f"E-33{n}7-421{n}", "model": "model:m"}, "person:kim", {})
        shop.write(f"job:j{n}", {"filter": f"filter:f{n}", "owner": f"owner:o{n // 2}", "truck": truck,
                                 "work_order": f"WO-{80 + n}"}, "person:kim", {})
    shop.write("filter:bare", {"serial": "E-9999-0001", "model": "model:m"}, "person:kim", {})
    shop.write("job:j2", {"work_order": "WO-99"}, "person:ravn", {})
    shop.judging.catch_up()
    shop.store.close()
    return office


def search(page, text):
    field = page.get_by_role("searchbox")
    field.fill(text)
    field.press("Enter")


@pytest.mark.parametrize("width", WIDTHS)
def test_the_last_four_of_a_serial_lead_to_the_job_and_an_owner_to_a_list(desk, width):
    page = desk.page
    page.set_viewport_size({"width": width, "height": 844})
    search(page, "4211")
    page.wait_for_url("**/office/jobs/j1")
    search(page, "birch")
    page.wait_for_url("**/office/find?*")
    rows = page.get_by_test_id("job-row")
    assert [re.search(r"E-33\d7", row.inner_text()).group() for row in rows.all()] == ["E-3317", "E-3307"]
    assert page.get_by_role("searchbox").input_value() == "birch"
    rows.nth(1).get_by_role("link").click()
    page.wait_for_url("**/office/jobs/j0")
    search(page, "birch tipper")
    page.wait_for_url("**/office/jobs/j1")
    search(page, "tk290")
    page.get_by_text("No job yet").wait_for()
    assert page.get_by_test_id("job-row").count() == 4
    search(page, "no such truck")
    page.get_by_test_id("found-none").wait_for()


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_of_the_desk_scrolls_sideways_and_what_is_touched_is_large_enough(desk, width):
    page = desk.page
    page.set_viewport_size({"width": width, "height": 844})
    for path in ("/office/", "/office/find?text=tk290", "/office/find?text=nothing", "/office/questions", "/office/books",
                 "/office/phones", "/office/checks", "/office/held", "/office/jobs/j0", "/office/rules"):
        page.goto(desk.url + path)
        wide = page.evaluate("[document.documentElement.scrollWidth, document.querySelector('.top nav').scrollWidth - "
                             "document.querySelector('.top nav').clientWidth]")
        assert wide[0] <= width and wide[1] <= 0, (path, wide)
        boxes = [(found.inner_text(), found.bounding_box()) for found in page.locator(".top nav a, .top nav button").all()]
        assert len(boxes) == 8
        for name, box in boxes:
            assert box["x"] >= 0 and box["x"] + box["width"] <= width, (path, name, box)
            assert width >= 760 or box["height"] >= TARGET_PX, (path, name, box)


def test_the_field_is_reached_and_used_with_the_keyboard_alone(desk):
    page = desk.page
    page.goto(desk.url + "/office/")
    for _ in range(3):  # past the skip link and the name of the house
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "text"
    page.keyboard.type("KX-471")
    page.keyboard.press("Enter")
    page.wait_for_url("**/office/jobs/j0")


def test_lists_and_advice_keep_the_rules_of_accessibility(desk):
    for width in WIDTHS:
        desk.page.set_viewport_size({"width": width, "height": 844})
        for scheme in ("light", "dark"):
            desk.page.emulate_media(color_scheme=scheme)
            for text in ("tk290", "nothing at all", ""):
                desk.page.goto(f"{desk.url}/office/find?text={text}")
                found = Axe().run(desk.page, options=RULES).response["violations"]
                assert [(entry["id"], entry["nodes"][0]["target"]) for entry in found] == [], (width, text)
