"""No network at all: the phone saves its outbox as a file, the office takes it in, and later nothing is doubled."""

import pytest

from sync import lookup
from tests.browser.link import Link
from tests.browser.shopwork import prepare
from tests.browser.test_whole_job import TAG, check_in
from webform.shop import Shop

pytestmark = pytest.mark.browser


def test_a_file_carries_the_job_to_the_desk_and_the_phone_comes_back_to_an_empty_outbox(server, phone, office, tmp_path):
    prepare(server.data)
    link = Link(server.port)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    link.turn("refuse")
    one.go("#/type")
    one.fill("tag-code", TAG)
    one.tap("tag-go")
    check_in(one, "HL-S-7001")
    waiting = one.waiting()
    assert waiting >= 4  # filter, tag, owner, job
    one.go("#/waiting")
    with one.page.expect_download() as saved:
        one.tap("export")
    file = tmp_path / "carried.json"
    saved.value.save_as(file)
    assert one.waiting() == waiting  # a file is no receipt

    office.page.goto(server.url + "/office/phones")
    office.page.get_by_role("link", name="Take in a phone's file").click()
    for outcome in ("stored", "already"):  # brought twice, as happens
        office.page.get_by_label("The file from the phone").set_input_files(file)
        office.page.get_by_test_id("take-file").click()
        assert office.page.locator(f"[data-testid=receipt][data-outcome={outcome}]").count() == waiting
    office.page.goto(server.url + "/office/")
    assert office.page.get_by_test_id("job-row").filter(has_text="HL-S-7001").count() == 1

    link.turn("up")
    one.sync()
    assert one.waiting() == 0
    shop = Shop(server.data)
    assert len({entry["id"] for entry in lookup.entries(shop.store)}) == shop.store.counter()["position"]
    assert sum(entry["device"].startswith("phone-") for entry in lookup.entries(shop.store)) == waiting
    assert shop.two_answers() == [] and lookup.held_count(shop.store) == 0
    shop.store.close()
    one.go("#/")
    assert one.page.get_by_test_id("job-link").filter(has_text="HL-S-7001").count() == 1
    link.close()
