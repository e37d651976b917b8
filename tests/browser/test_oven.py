"""The oven load: what goes in together gets one round each, and is weighed one after the other. All readings invented."""

import pytest

from demo.shop import number
from tests.browser.test_whole_job import TAG
from webform.shop import Shop

pytestmark = pytest.mark.browser

DRY = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"}


def three_waiting(server, phone, camera=None):
    """A phone that carries three open jobs, the third of a brick that is wet with oil; without a server from then on."""
    shop = Shop(server.data)
    shop.write("person:kim", {"name": "Kim", "may_sign": "yes"}, "desk:office", {})
    for name, wet in (("one", "dry"), ("two", "dry"), ("oily", "oil")):
        shop.write(f"filter:{name}", {"unit_kind": "wall_flow", "serial": f"S-{name}"}, "desk:office", {})
        shop.write(f"job:{name}", {"filter": f"filter:{name}", "truck": f"TEST {name}",
                                   "before.visual": {**DRY, "wet": wet}}, "person:kim", {})
    shop.write(f"tag:{TAG}", {"filter": "filter:two"}, "desk:office", {})
    shop.store.close()
    one = phone(camera=camera)
    one.enrol(server.code(), "Kim")
    one.sync()
    server.kill()
    return one


def row(phone, serial):
    return phone.page.locator(".load label", has_text=serial)


def names(phone, test_id):
    return [text.split("\n")[0] for text in phone.page.get_by_test_id(test_id).all_inner_texts()]


def burn(phone):
    """Says how long and how hot, and saves what is ticked."""
    phone.tap("oven-next")
    phone.fill("field-minutes", "480")
    phone.fill("field-temperature", "600")
    phone.tap("save")
    phone.page.get_by_test_id("weigh-next").wait_for()


def test_a_load_is_one_round_for_each_filter_and_they_are_weighed_in_their_order(server, phone):
    one = three_waiting(server, phone)
    one.go("#/oven")
    row(one, "S-one").click()
    row(one, "S-two").click()
    burn(one)
    assert names(one, "oven-weigh") == ["S-one", "S-two"]
    one.tap("weigh-next")
    one.page.wait_for_selector("html[data-ready^='#/oven/job:one/']")
    assert "S-one" in one.page.get_by_role("heading", level=1).inner_text()  # which one is on the scale
    one.fill("field-mass", "13890")
    one.pick("field-temperature-cold", "field-moisture-dry")
    one.tap("save")
    one.page.wait_for_selector("html[data-ready='#/oven']")
    assert names(one, "oven-weigh") == ["S-two"] and one.page.get_by_test_id("weigh-next").inner_text() == "Weigh S-two"
    one.go("#/")
    assert "1 to weigh" in one.page.get_by_test_id("oven").inner_text()
    server.start()
    one.sync()
    shop = Shop(server.data)
    rounds = {job: [entry for entry in shop.read_job(f"job:{job}")[0].values() if entry["kind"] == "round"]
              for job in ("one", "two", "oily")}
    shop.store.close()
    baked = {"method": "oven", "minutes": number("480", "min"), "temperature": number("600", "°C")}
    assert [len(found) for found in rounds.values()] == [1, 1, 0]
    assert [found[0]["fields"]["treatment"]["used"] for found in (rounds["one"], rounds["two"])] == [baked, baked]
    assert rounds["one"][0]["fields"]["weight"]["used"]["mass"] == number("13890", "g")
    assert "weight" not in rounds["two"][0]["fields"]


def test_a_brick_that_is_wet_with_oil_is_not_put_in(server, phone):
    one = three_waiting(server, phone)
    one.go("#/oven")
    assert not row(one, "S-oily").get_by_test_id("oven-pick").is_enabled()
    assert "not into the oven" in row(one, "S-oily").inner_text()
    one.page.get_by_test_id("oven-find").fill("TWO")  # of three the one whose serial or truck says so
    assert [entry.is_visible() for entry in one.page.locator(".load label").all()].count(True) == 1
    assert row(one, "S-two").is_visible()


def test_a_load_that_was_being_put_together_is_there_after_a_kill(server, phone):
    one = three_waiting(server, phone)
    one.go("#/oven")
    row(one, "S-one").click()
    one.tap("oven-next")
    one.fill("field-minutes", "300")
    one.go("#/waiting")  # it reads the drafts, after what was typed is on disk
    one.page.get_by_test_id("half-filled").wait_for()
    one.kill()
    one.open()
    one.go("#/waiting")
    one.page.get_by_test_id("half-filled").click()
    one.page.wait_for_selector("html[data-ready='#/oven']")
    assert "S-one" in one.page.get_by_test_id("oven-chosen").inner_text()
    assert one.page.get_by_test_id("field-minutes").input_value() == "300"


def test_a_scanned_tag_goes_in_and_out_of_the_oven_to_the_scale(server, phone):
    one = three_waiting(server, phone, camera=TAG)
    one.go("#/oven")
    one.tap("oven-scan")
    one.page.wait_for_selector("html[data-ready='#/oven']")
    assert row(one, "S-two").get_by_test_id("oven-pick").is_checked()
    burn(one)
    one.tap("oven-scan")
    one.page.wait_for_selector("html[data-ready^='#/oven/job:two/']")
    one.fill("field-mass", "13890")
    assert one.page.get_by_role("heading", name="Weight after this round").is_visible()
