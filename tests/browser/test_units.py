"""Units as a technician meets them: a gauge that shows another inch of water, a shop that reads in millibar and pounds,
parts that hang on the filter while it is weighed. Readings invented, figures by hand.

NIST SP 811 (2008), Appendix B.8 (read in a public transcription): inch of water at 60 °F 248.84 Pa. So 2.75 of them are
684.31 Pa = 6.84 mbar, and the window's 2.00 conventional inches (249.08891 Pa each) 498.2 Pa = 4.98 mbar.
"""

import pytest

from demo.shop import number
from tests.browser.test_whole_job import TAG, check_in, flow, ready
from webform.shop import Shop

pytestmark = pytest.mark.browser

IN_60F = "inH2O (60 °F)"


def shop_with(data, records):
    """Written at the desk, once the shop of the other tests is there."""
    shop = Shop(data)
    for record, answers in records.items():
        assert shop.write(record, answers, "desk:office", {})["status"] == "stored", record
    shop.store.close()


def offered(phone, field):
    """The unit that is picked, and those that stand in the open, by the name on the button."""
    row = phone.page.locator(f"[data-field='{field}'] .units")
    seen = [text for text in row.locator("label:visible").all_inner_texts()]
    return row.locator("input:checked").get_attribute("value"), seen


def at_the_filter(phone, serial):
    phone.go("#/type")
    phone.fill("tag-code", TAG)
    phone.tap("tag-go")
    check_in(phone, serial)


def test_another_inch_is_typed_and_the_sentences_are_in_the_shop_s_unit(server, phone, office):
    one = ready(server, phone)
    shop_with(server.data, {"shop:rules": {"units": {"pressure": "mbar", "mass": "lb", "length": "in"}}})
    one.sync()
    at_the_filter(one, "S-U1")
    one.tap("step-before.flow")
    one.pick("field-bench-good")
    one.reach("drop")
    assert offered(one, "drop") == ("mbar", ["mbar", "inH2O", "kPa", "Pa"])
    one.tap("more-units-drop")
    assert len(offered(one, "drop")[1]) == 8
    one.pick("unit-drop-7")
    one.fill("field-drop", "2.75")
    said = one.page.get_by_test_id("preview").locator("[data-verdict=clean]")
    said.wait_for()
    assert "Restriction 6.84 mbar is 1.86 mbar above the window's upper end of 4.98 mbar" in \
        one.page.get_by_test_id("preview").inner_text()
    one.save()
    one.tap("step-before.flow")
    assert one.page.get_by_test_id("answer-drop").inner_text().endswith("2.75 " + IN_60F)
    one.sync()
    office.page.reload()
    office.page.get_by_test_id("job-row").filter(has_text="S-U1").get_by_role("link", name="Open").click()
    page = office.page.content()
    assert "2.75 " + IN_60F in page and "Restriction 6.84 mbar" in page and "684.3" in page  # typed, read, and in SI


def test_a_bench_whose_display_is_named_offers_its_inch_first(server, phone):
    one = ready(server, phone)
    shop_with(server.data, {
        "shop:rules": {"units": {"pressure": "kPa", "temperature": "°F"}},
        "instrument:bench": {"name": "Bench", "type": "bench", "mode": "constant_volume", "plate": number("2.10", IN_60F),
                             "display": {"pressure": IN_60F}}})
    one.sync()
    one.go("#/checks")
    one.page.get_by_test_id("instrument").filter(has_text="Bench").click()
    assert offered(one, "temperature")[0] == "°F"
    one.fill("field-temperature", "68")
    one.fill("field-plate", "2.10")
    assert offered(one, "plate") == (IN_60F, [IN_60F, "mbar", "kPa", "Pa"])
    one.page.get_by_test_id("check-verdict").filter(has_text="0.523 kPa").wait_for()  # 2.10 x 248.84 = 522.6 Pa
    one.page.evaluate("document.documentElement.removeAttribute('data-ready')")
    one.tap("save")
    one.page.wait_for_selector("html[data-ready='#/checks']")
    at_the_filter(one, "S-U2")
    one.tap("step-before.flow")
    one.reach("drop")
    assert offered(one, "drop")[0] == IN_60F  # today's check of that bench is named already
    one.choose("check", "—")  # read elsewhere
    one.pick("field-bench-good")
    one.reach("drop")
    one.page.wait_for_selector("[data-field=drop] .units input[value=kPa]:checked", state="attached")


def test_parts_are_asked_one_by_one_and_their_last_weight_is_offered(server, phone):
    one = ready(server, phone)
    at_the_filter(one, "S-U3")
    one.tap("step-before.weight")
    one.fill("field-mass", "15680")
    one.pick("field-fitted-adapter", "field-fitted-clamps")
    one.reach("adapter_mass")
    assert one.page.get_by_test_id("last-adapter_mass").count() == 0
    one.fill("field-adapter_mass", "1.2")
    one.pick("unit-adapter_mass-1")
    one.reach("clamps_mass")
    assert one.page.locator("[data-field=sensors_mass], [data-field=fitted_mass]").evaluate_all(
        "all => all.every((box) => box.hidden)")
    one.pick("field-temperature-cold", "field-moisture-dry")
    one.save()
    flow(one, "before", "2.75")
    one.tap("step-after.weight")
    one.fill("field-mass", "14980")
    one.pick("field-fitted-adapter")
    one.reach("adapter_mass")
    one.tap("last-adapter_mass")  # "As last time: 1.2 kg"
    one.pick("field-temperature-cold", "field-moisture-dry")
    card = one.page.get_by_test_id("preview")
    card.filter(has_text="Other things were fitted than before cleaning").wait_for()  # the clamps, and nobody weighed them
    one.pick("field-fitted-clamps")
    # net 15,680 - 1,200 = 14,480 g and 14,980 - 1,200 = 13,780 g; the clamps stayed on, unweighed both times
    card.filter(has_text="700 g (± 14.1 g) came off (14480 g to 13780 g)").wait_for()
    one.save()


def test_a_weight_typed_before_the_parts_keeps_what_was_fitted(server, phone):
    one = ready(server, phone)
    at_the_filter(one, "S-U4")
    job = one.page.evaluate("location.hash").partition("job:")[2]
    one.sync()
    shop_with(server.data, {"job:" + job: {"before.weight": {
        "mass": number("15680", "g"), "fitted": ["adapter", "clamps"], "fitted_mass": number("1200", "g"),
        "temperature": "cold", "moisture": "dry"}}})
    one.sync()
    one.go(f"#/job/job:{job}/before.weight")
    one.fill("field-mass", "15690")
    assert "1200 g" in one.page.get_by_test_id("answer-fitted_mass").inner_text()
    one.save()
    shown = one.page.evaluate("""(job) => new Promise((resolve) => { const asked = indexedDB.open("ashbook");
      asked.onsuccess = () => { const got = asked.result.transaction("views").objectStore("views").get("job:" + job);
        got.onsuccess = () => resolve(got.result.fields["before.weight"].used); }; })""", job)
    assert (shown["mass"], shown["fitted_mass"]) == (number("15690", "g"), number("1200", "g"))
