"""A technician's first day: slips are put right, what is half done is found again, what is to be asked is asked. Invented."""

import pytest
from playwright.sync_api import expect

from demo.shop import number
from sync import lookup
from tests.browser.test_tapped_twice import TWICE
from tests.browser.test_whole_job import TAG, check_in, ready
from webform.shop import Shop

pytestmark = pytest.mark.browser


# Invented: 30 g are allowed at 20 kg.
SCALE = ("instrument:scale", {"name": "Scale", "type": "scale", "tolerance": "own", "own_limit": number("30", "g"),
                              "division": number("5", "g"), "capacity": number("50", "kg")})
BENCH = ("instrument:bench", {"name": "Bench", "type": "bench", "mode": "constant_volume", "altitude": number("0", "m"),
                              "plate": number("2.10", "inH2O")})


def records(server, *answers):
    """Writes into the shop's books: (record, fields)."""
    shop = Shop(server.data)
    for record, fields in answers:
        assert shop.write(record, fields, "desk:office", {})["status"] == "stored", record
    shop.store.close()


def view(server, record):
    shop = Shop(server.data)
    found = lookup.view(shop.store, record)
    shop.store.close()
    return found


def job_of(phone):
    return phone.page.evaluate("location.hash").split("/")[2]


def type_tag(phone, code=TAG):
    """Types a tag and touches the keyboard's own key, as a person does."""
    phone.go("#/type")
    phone.fill("tag-code", code)
    phone.page.keyboard.press("Enter")


def shown_in_turn(phone, path, wanted):
    phone.page.evaluate("path => { document.documentElement.removeAttribute('data-ready'); location.hash = path; }", path)
    phone.page.wait_for_selector(f"html[data-ready='{wanted}']")


def test_a_wrong_model_is_put_right_on_the_phone_and_nothing_else_is_written(server, phone):
    one = ready(server, phone)
    type_tag(one)
    one.tap("new-filter")
    one.choose("model", "HL-300")  # the wrong line of the list
    one.fill("field-serial", "S-9")
    one.fill("field-truck", "HL 42")
    one.save()
    job = job_of(one)
    one.tap("step-facts")
    one.choose("model", "HL-290")
    one.page.wait_for_selector("#status[data-drafts='1']")
    one.save()
    assert "HL-290" in one.page.locator("h1").inner_text()
    one.sync()
    here = view(server, job)
    model = view(server, here["fields"]["filter"]["used"])["fields"]["model"]
    assert (model["used"], model["open"]) == ("model:window", False)
    changes = {answer["id"] for answer in here["fields"]["truck"]["answers"]}
    assert changes == {answer["id"] for answer in here["fields"]["filter"]["answers"]}  # told at check-in, not written again


def test_what_was_told_can_be_taken_out_and_filled_in_later(server, phone):
    one = ready(server, phone)
    type_tag(one)
    check_in(one, "S-10")
    job = job_of(one)
    one.tap("step-facts")
    one.fill("field-truck", "")
    one.fill("field-work_order", "WO-7")
    one.save()
    one.sync()
    fields = view(server, job)["fields"]
    assert (fields["truck"]["used"], fields["work_order"]["used"]) == (None, "WO-7")


def test_a_filter_that_comes_again_shows_its_earlier_job_and_is_checked_in(server, phone):
    one = ready(server, phone)
    records(server, ("owner:fell", {"name": "Fell Haulage (invented)"}),
            ("filter:old", {"unit_kind": "wall_flow", "serial": "S-11"}),
            (f"tag:{TAG}", {"filter": "filter:old"}),
            ("job:old", {"filter": "filter:old", "truck": "TW 19", "owner": "owner:fell",
                         "signoff": {"decision": "replace", "person": "person:kim"}}))
    one.sync()
    type_tag(one)
    row = one.page.get_by_test_id("filter-job")
    row.get_by_text("signed").wait_for()
    assert "TW 19" in row.inner_text() and "job:" not in row.inner_text()
    one.tap("new-job")
    one.page.wait_for_selector("html[data-ready$='/facts']")
    job = job_of(one)
    for field in ("truck", "owner"):
        one.reach(field)
        one.tap(f"last-{field}")
    one.save()
    assert one.page.get_by_test_id("filter-job").count() == 1  # the earlier stay is one touch away
    shown_in_turn(one, "#/filter/filter:old", f"#/job/{job}")  # the open one opens at once
    one.sync()
    fields = view(server, job)["fields"]
    assert (fields["truck"]["used"], fields["owner"]["used"]) == ("TW 19", "owner:fell")


def test_a_check_of_the_day_hides_no_question_before_it(server, phone):
    one = ready(server, phone)
    records(server, SCALE, ("scale_check:today", {"reading": {
        "instrument": "instrument:scale", "weight": number("20", "kg"), "weight_class": "M1",
        "shown": number("20.01", "kg")}}))
    one.sync()
    type_tag(one)
    check_in(one, "S-12")
    one.tap("step-before.weight")
    one.fill("field-mass", "14480")
    one.tap("next-question")
    one.page.wait_for_selector("[data-field=fitted][data-state=open]")  # sensors and clamps weigh too


def test_a_slip_on_the_rod_takes_one_cell_with_it_and_a_killed_phone_goes_on_there(server, phone):
    one = ready(server, phone)
    type_tag(one)
    check_in(one, "S-13")
    one.tap("step-before.rod")
    assert "On file for its model: 290 mm" in one.page.locator("[data-field=full_depth]").inner_text()
    one.fill("cell-depth", "130")
    for _ in range(3):
        one.tap("feel-hard")
    count = one.page.get_by_test_id("cell-count")
    assert count.inner_text() == "3 cells so far. Last one: zone 2, hard, 130 mm"
    one.tap("feel-soft")
    one.tap("cells-undo")
    assert count.inner_text().startswith("3 cells so far")
    one.tap("cells-clear")
    assert count.inner_text().startswith("0 cells so far")
    one.tap("cells-undo")
    one.page.wait_for_selector("#status[data-drafts='1']")
    here = one.page.evaluate("location.hash")
    one.kill()
    one.open("/phone/" + here)
    one.page.wait_for_selector("[data-field=cells][data-state=open]")
    assert one.page.get_by_test_id("cell-depth").input_value() == "130"
    one.page.get_by_test_id("feel-hard").click()  # zone 2 had one cell: this is its second
    assert one.page.get_by_test_id("cell-count").inner_text() == "4 cells so far. Last one: zone 2, hard, 130 mm"


def test_what_is_half_filled_is_listed_and_one_touch_away(server, phone):
    one = ready(server, phone)
    type_tag(one)
    one.tap("new-filter")
    one.fill("field-serial", "S-14")
    one.page.wait_for_selector("#status[data-drafts='1']")
    one.page.go_back()
    one.tap("status")
    one.tap("half-filled")
    one.page.get_by_test_id("restored").wait_for()
    one.save()
    one.tap("step-before.weight")
    one.fill("field-mass", "14480")
    one.page.wait_for_selector("#status[data-drafts='1']")
    one.go("#/waiting")
    assert "S-14" in one.page.get_by_test_id("half-filled").inner_text()
    one.tap("half-filled")
    one.page.get_by_test_id("restored").wait_for()
    assert one.page.evaluate("location.hash").endswith("/before.weight")


def test_a_sign_off_that_is_tapped_twice_is_one_and_begins_with_who_is_signed_in(server, phone):
    one = ready(server, phone)
    type_tag(one)
    check_in(one, "S-15")
    one.tap("step-before.light")
    one.pick("field-kind-melted")
    one.save()
    waiting = one.waiting()
    one.tap("step-signoff")
    assert one.page.get_by_test_id("field-person").input_value() == "person:kim"
    one.fill("pin", "4711")
    one.page.evaluate("document.documentElement.removeAttribute('data-ready')")
    one.page.evaluate(TWICE, "save")
    one.page.wait_for_selector("html[data-ready^='#/job/']")
    one.page.get_by_test_id("step-signoff").get_by_text("Replace").wait_for()
    assert "Melted hole" in one.page.get_by_test_id("step-before.light").inner_text()
    assert one.waiting() == waiting + 1


def test_the_arithmetic_of_the_bench_stands_behind_a_touch_and_what_to_do_before_what_is_missing(server, phone):
    one = ready(server, phone)
    records(server, BENCH, ("bench_check:today", {"reading": {
        "instrument": "instrument:bench", "temperature": number("20", "°C"), "plate": number("2.10", "inH2O")}}))
    one.sync()
    type_tag(one)
    check_in(one, "S-16")
    one.tap("step-before.visual")
    one.pick("field-outlet-black", "field-brick-sound", "field-can-sound", "field-wet-dry")
    one.save()
    one.tap("step-before.flow")
    one.fill("field-drop", "1.10")  # worked filter D: a leak is suspected
    one.save()
    card = one.page.get_by_test_id("verdict-card")
    card.get_by_text("Tell the owner").wait_for()
    said = card.inner_text()
    assert said.index("Tell the owner") < said.index("Still to do")
    assert "The bench showed" not in said
    one.page.get_by_test_id("arithmetic").locator("summary").click()
    card.get_by_text("The bench showed 1.10 inH2O").wait_for()


def test_a_check_that_was_put_right_is_marked_no_more_and_its_outcome_is_in_the_list(server, phone):
    one = ready(server, phone)
    records(server, SCALE)
    one.sync()
    one.go("#/checks")
    one.tap("instrument")
    one.fill("field-weight", "20")
    one.pick("field-weight_class-M1")
    one.fill("field-shown", "20020")
    one.tap("save")
    one.page.get_by_test_id("problem-shown").wait_for()
    one.pick("unit-shown-1")
    one.page.locator("[data-testid=check-verdict][data-ok=true]").wait_for()
    assert not one.page.get_by_test_id("problem-shown").is_visible()
    one.page.evaluate("document.documentElement.removeAttribute('data-ready')")
    one.tap("save")
    one.page.wait_for_selector("html[data-ready='#/checks']")
    assert "good" in one.page.get_by_test_id("instrument").inner_text()


def test_a_one_box_leads_to_its_bricks_and_asks_for_no_rod(server, phone):
    one = ready(server, phone)
    records(server, ("filter:plain", {"unit_kind": "wall_flow", "serial": "S-17"}))
    one.sync()
    type_tag(one)
    one.tap("new-filter")
    assert one.page.locator("[data-field=box]").is_hidden()  # there is no one-box yet, so nothing to pick from
    one.reach("unit_kind")
    one.pick("field-unit_kind-one_box")
    one.fill("field-serial", "OB-1")
    one.save()
    box = view_id(one)
    assert one.page.get_by_test_id("step-before.rod").count() == 0
    assert one.page.get_by_test_id("step-before.flow").count() == 1
    one.sync()
    records(server, ("filter:brick", {"unit_kind": "wall_flow", "serial": "OB-1-A", "box": box}))
    one.sync()
    one.page.get_by_test_id("brick").get_by_text("OB-1-A").wait_for()
    one.go("#/checkin/" + TAG[:-2] + "00")
    one.reach("box")
    assert one.page.get_by_test_id("field-box").locator("option").all_inner_texts() == ["—", "OB-1"]


def view_id(phone):
    """The filter of the job that is open, as this phone has it."""
    return phone.page.evaluate("""async job => { const request = indexedDB.open('ashbook');
      const book = await new Promise((ok) => { request.onsuccess = () => ok(request.result); });
      const asked = book.transaction('views').objectStore('views').get(job);
      const found = await new Promise((ok) => { asked.onsuccess = () => ok(asked.result); });
      book.close(); return found.fields.filter.used; }""", job_of(phone))


def test_a_turned_screen_still_shows_the_question(server, phone):
    one = ready(server, phone)
    type_tag(one)
    one.tap("new-filter")
    one.fill("field-serial", "S-18")
    one.fill("field-truck", "HL 42")
    one.page.set_viewport_size({"width": 740, "height": 360})
    expect(one.page.get_by_test_id("field-truck")).to_be_in_viewport(ratio=0.9)
