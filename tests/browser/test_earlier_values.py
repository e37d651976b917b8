"""What was read earlier stands under its field: before cleaning, and after this filter's last cleaning. Readings invented."""

import pytest

from demo.shop import number
from tests.browser.test_whole_job import ready
from webform.checklist.case import basis_of
from webform.shop import Shop

pytestmark = pytest.mark.browser


def weighed(grams):
    return {"mass": number(grams, "g"), "temperature": "cold", "moisture": "dry"}


def came_back(data):
    """A filter that was cleaned and signed off last year, and is here again."""
    shop = Shop(data)

    def write(record, answers, basis=None):
        assert shop.write(record, answers, "desk:office", {}, basis)["status"] == "stored", record

    write("filter:again", {"unit_kind": "wall_flow", "model": "model:window", "serial": "S-AGAIN"})
    write("job:lastyear", {"filter": "filter:again", "after.weight": weighed("13740"), "after.flow": {
        "bench": "good", "drop": number("1.78", "inH2O")}})
    signoff = {"decision": "hold", "reason": "seen", "person": "person:kim"}
    write("job:lastyear", {"signoff": signoff}, basis_of(shop.job_state("job:lastyear")))
    write("job:thisyear", {"filter": "filter:again", "before.weight": weighed("14480")})
    shop.store.close()


def test_the_last_value_of_this_filter_stands_under_its_field(server, phone):
    one = ready(server, phone)
    came_back(server.data)
    one.sync()
    one.go("#/job/job:thisyear/before.flow")
    one.pick("field-bench-good")
    one.reach("drop")
    assert one.page.locator("[data-field=drop] .hint").inner_text() == "Last time, after cleaning: 1.78 inH2O"
    one.go("#/job/job:thisyear/after.weight")
    one.reach("mass")
    assert one.page.locator("[data-field=mass] .hint").inner_text() == (
        "Before: 14480 g \u00b7 Last time, after cleaning: 13740 g")


def test_a_caked_face_is_one_tap_and_means_clean_it(server, phone):
    one = ready(server, phone)
    came_back(server.data)
    one.sync()
    one.go("#/job/job:thisyear/before.rod")
    one.reach("cells")
    one.page.get_by_test_id("cells-all").check()
    one.page.get_by_test_id("feel-caked").click()
    preview = one.page.get_by_test_id("preview")
    preview.get_by_text("caked over").wait_for()
    assert "Clean it first, then rod" in preview.inner_text()
