"""No network at all: the phone saves its outbox as a file, the office takes it in, and later nothing is doubled."""

import pytest

from sync import lookup
from tests.browser.link import Link
from tests.browser.shopwork import prepare
from tests.browser.test_photos import QUEUE, choose, is_drawn, open_job, open_visual, photos_waiting, picture, pictures_in
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
        office.page.wait_for_load_state()
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


def save_file(phone, path):
    """What a person carries: the file that the phone saves."""
    phone.go("#/waiting")
    with phone.page.expect_download() as saved:
        phone.tap("export")
    assert saved.value.suggested_filename == path.name
    saved.value.save_as(path)
    return phone.page.get_by_test_id("exported").inner_text()


def hand_in(office, path):
    office.page.goto(office.url + "/office/phones/file")
    office.page.get_by_label("The file from the phone").set_input_files(path)
    office.page.get_by_test_id("take-file").click(no_wait_after=True)
    office.page.get_by_test_id("taken").wait_for(timeout=120_000)  # as much as 200 MiB, and each picture is looked at
    office.page.wait_for_load_state()  # the list below it is whole


def test_photos_go_by_file_to_desk_and_report_and_the_phone_later_sends_none_of_their_bytes(server, phone, office, tmp_path):
    prepare(server.data)
    link = Link(server.port)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    link.turn("refuse")
    open_visual(one, "HL-S-7002")
    choose(one, picture(tmp_path / "a.jpg", 21), picture(tmp_path / "b.jpg", 22))
    one.save()
    photos_waiting(one, 2)
    names = {entry["sha256"]: entry["bytes"] for entry in one.page.evaluate(QUEUE, "waiting")}
    waiting, file = one.waiting(), tmp_path / "ashbook-outbox.ashbook"
    told = save_file(one, file)
    assert f"{waiting} changes, 2 photos" in told
    listed = one.page.get_by_role("main").inner_text()
    assert "Look at it, before cleaning" in listed and "unit_kind" not in listed  # in words, not as fields are stored
    photos_waiting(one, 2)  # a file is no receipt

    hand_in(office, file)
    assert office.page.locator("[data-testid=receipt][data-outcome=stored]").count() == waiting
    assert office.page.locator("[data-testid=photo-receipt][data-outcome=stored]").count() == 2
    job = open_job(office, "HL-S-7002")
    assert is_drawn(office, "photo") and office.page.get_by_test_id("absent-photos").count() == 0
    assert pictures_in(office, job + "/report.pdf") == 2
    hand_in(office, file)
    assert office.page.locator("[data-outcome=already]").count() == waiting + 2

    link.turn("up")
    link.sent_up = 0
    one.sync()
    photos_waiting(one, 0)
    assert {entry["sha256"] for entry in one.page.evaluate(QUEUE, "confirmed")} == set(names)
    assert link.sent_up < min(names.values()) / 4, link.sent_up  # the changes again and what is asked, no photo
    link.close()


def test_a_file_that_was_cut_on_the_way_is_said_and_the_next_one_brings_the_rest(server, phone, office, tmp_path):
    prepare(server.data)
    one = phone("one")
    one.enrol(server.code(), "Kim")
    one.context.set_offline(True)
    open_visual(one, "HL-S-7003")
    choose(one, picture(tmp_path / "a.jpg", 23, 800, 600), picture(tmp_path / "b.jpg", 24, 800, 600))
    one.save()
    photos_waiting(one, 2)
    file = tmp_path / "ashbook-outbox.ashbook"
    save_file(one, file)
    cut = tmp_path / "cut.ashbook"
    cut.write_bytes(file.read_bytes()[:-1])
    hand_in(office, cut)
    assert "damaged or cut on the way" in office.page.get_by_test_id("taken").inner_text()
    assert office.page.locator("[data-testid=photo-receipt][data-outcome=refused]").count() == 1
    hand_in(office, file)
    assert office.page.locator("[data-testid=photo-receipt][data-outcome=refused]").count() == 0
    assert len(list((server.data / "photos").glob("??/*"))) == 2
    one.context.set_offline(False)
    one.sync()
    photos_waiting(one, 0)
