"""A sign-off whose evidence changed elsewhere reads hold on the phone and at the desk. Readings invented."""

import pytest

pytestmark = pytest.mark.browser


def test_an_ok_whose_evidence_changed_elsewhere_reads_hold(server, two_phones, office):
    one, two = two_phones
    one.go("#/job/job:demo1/signoff")
    one.page.locator("[data-testid=verdict][data-verdict=ok_to_reinstall]").wait_for()
    one.choose("person", "Kim")
    one.fill("pin", "0000")
    one.tap("save")
    one.page.locator("[data-testid=sign-problem]:not([hidden])").wait_for()  # a wrong PIN signs nothing
    one.fill("pin", "4711")
    one.save()
    two.go("#/job/job:demo1/after.weight")  # Ravn, who has not seen the sign-off, corrects the weight
    two.fill("field-mass", "13790")
    two.save()
    one.sync()
    two.sync()
    one.sync()
    for each in (one, two):
        each.go("#/job/job:demo1")
        each.page.locator("[data-testid=verdict][data-verdict=hold]").wait_for()
    office.page.goto(server.url + "/office/jobs/demo1")
    assert "Hold" in office.page.get_by_test_id("verdict").inner_text()
    assert "changed after the sign-off" in office.page.content()
    decided = office.page.locator("section").filter(has=office.page.get_by_role("heading", name="Decided")).inner_text()
    assert "OK to reinstall" in decided and "Signed by" in decided and "Kim" in decided
    assert "person:kim" not in decided and "ok_to_reinstall" not in decided
