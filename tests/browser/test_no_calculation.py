"""Where WebAssembly cannot start, everything is still saved and the screens say that the verdict comes after sync."""

import pytest

from tests.browser.test_whole_job import TAG, check_in, ready, visual

pytestmark = pytest.mark.browser


def test_without_webassembly_everything_is_saved_and_the_office_judges(server, phone, office):
    one = ready(server, phone, more=["--js-flags=--jitless"])
    assert one.page.evaluate("typeof WebAssembly") == "undefined"
    one.tap("scan")
    one.page.locator("[data-testid=scan-problem]:not([hidden])").wait_for()  # no decoder either: type the tag
    one.go("#/type")
    one.fill("tag-code", TAG)
    one.tap("tag-go")
    check_in(one, "S-3001")
    one.page.get_by_test_id("no-verdict").wait_for()
    visual(one, "before")
    one.tap("step-before.rod")
    one.fill("cell-depth", "130")
    one.page.locator("label", has=one.page.get_by_test_id("cells-all")).click()
    one.tap("feel-hard")
    one.hush()
    one.save()
    assert "after sync" in one.heard()
    one.sync()
    office.page.reload()
    # 24 cells hard at 130 of 290 mm: average blockage 0.55, above one third, so replace
    assert "Replace" in office.page.get_by_test_id("job-row").filter(has_text="S-3001").inner_text()


def test_without_webassembly_a_value_that_does_not_fit_is_held_and_shown_until_the_office_has_looked(server, phone, office):
    one = ready(server, phone, more=["--js-flags=--jitless"])
    one.go("#/type")
    one.fill("tag-code", TAG)
    one.tap("tag-go")
    check_in(one, "S-3002")
    one.tap("step-before.flow")
    one.pick("field-bench-good")
    one.fill("field-drop", "9e99")  # nothing on this phone can refuse it; the server must
    one.save()
    one.sync()
    one.go("#/waiting")
    one.page.get_by_test_id("held").wait_for()
    assert one.page.get_by_test_id("status").get_attribute("data-held") == "1"
    told = one.page.get_by_test_id("held").inner_text()
    assert "Flow, before cleaning" in told and "does not fit" in told and "{" not in told
    assert "alarm" in one.page.get_by_test_id("status").get_attribute("class")
    office.page.goto(server.url + "/office/held")
    office.page.get_by_text("Nothing more to do").click()
    office.page.get_by_label("What came of it").fill("Kim blew it again")
    office.page.get_by_test_id("looked-at").click()
    office.page.get_by_text("Nothing is left to look at.").wait_for()
    one.sync()
    one.page.wait_for_selector("#status[data-held='0']:not(.alarm)")
    one.go("#/waiting")
    assert "The office has looked at it: Kim blew it again" in one.page.get_by_test_id("held").inner_text()
