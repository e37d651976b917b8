"""Owners' links: good for ninety days by the server's clock, withdrawn for good, whatever copy of the books is put back."""

import datetime
import shutil

import pytest

from tests.report.test_issued import MADE, app, form, issue, issued_at, link, seeded  # noqa: F401 fixtures
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform.owner_links import LINK_DAYS, until
from webform.report import issuing
from webform.shop import Shop


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def shop(request, tmp_path):
    url = None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()
    made = Shop(tmp_path / "shop", url)
    made.write("job:j", {"truck": "HL 1"}, "person:kim", {})
    yield made
    made.store.close()


def test_a_link_opens_its_report_for_ninety_days_to_the_second(shop):
    number = issued_at(shop.issued, MADE)
    secret = shop.issued.links.make(number, MADE)
    # 90 days after 1 January 2027 08:00:00 are 1 April: 30 days of January are left, 28 of February, 31 of March; by hand
    assert (LINK_DAYS, until(MADE)) == (90, "2027-04-01T08:00:00.000Z")
    for at, opened in (("2027-01-01T08:00:00.000Z", (number, False)), ("2027-04-01T07:59:59.000Z", (number, False)),
                       ("2027-04-01T07:59:59.999Z", (number, False)), ("2027-04-01T08:00:00.000Z", (number, True)),
                       ("2027-04-01T08:00:01.000Z", (number, True)), ("2099-01-01T00:00:00.000Z", (number, True))):
        assert shop.issued.links.opened(secret, at) == opened, at
    assert shop.issued.links.of(number) == [{"made_at": MADE, "until": "2027-04-01T08:00:00.000Z", "withdrawn_at": ""}]
    assert shop.issued.links.opened("A" * 43, MADE) == ("", False), "a guess is not told that it is over"


def test_a_link_whose_time_cannot_be_read_opens_nothing(shop):
    number = issued_at(shop.issued, MADE)
    secret = shop.issued.links.make(number, "broken")
    assert shop.issued.links.opened(secret, MADE) == (number, True)


def test_a_withdrawn_link_that_is_over_is_not_told_to_be_over(shop):
    secret = shop.issued.links.make(issued_at(shop.issued, MADE), MADE)
    assert shop.issued.links.withdraw(["2027-0001"], MADE) == 1 and shop.issued.links.withdraw(["2027-0001"], MADE) == 0
    assert shop.issued.links.opened(secret, "2028-01-01T00:00:00.000Z") == ("", False)


def test_page_pdf_and_photos_end_with_the_link_and_say_what_to_do(app, monkeypatch):  # noqa: F811
    desk, number = issue(app)
    ends = until(MADE)
    with monkeypatch.context() as clock:
        clock.setattr(issuing, "now", lambda: MADE)
        address, stranger = link(desk, number), app.test_client()
        page = desk.get(f"/office/issued/{number}").text
        assert f"Link of {issuing.when(MADE)}: open until {issuing.when(ends)}" in page
        assert "for 90 days" in desk.post(f"/office/issued/{number}/link", data=form(desk)).text
    last = datetime.datetime.fromisoformat(ends) - datetime.timedelta(seconds=1)
    for at, status in ((last.strftime("%Y-%m-%dT%H:%M:%S.000Z"), 200), (ends, 410)):
        with monkeypatch.context() as clock:
            clock.setattr(issuing, "now", lambda at=at: at)
            for path in (address, address + "/pdf"):
                answer = stranger.get(path)
                assert answer.status_code == status, (at, path)
                assert answer.headers["Cache-Control"] == "no-store" and "noindex" in answer.headers["X-Robots-Tag"]
            if status == 410:
                assert "Ask the shop for a new link" in answer.text and "Harbour Lane Filters" in answer.text
                assert number not in answer.text
                assert "/office" not in answer.text and stranger.get(f"{address}/photos/{'0' * 64}").status_code == 410
                page = desk.get(f"/office/issued/{number}").text
                assert f"its time ended {issuing.when(ends)}" in page and "Withdraw the links" not in page
                assert stranger.get(link(desk, number)).status_code == 200, "a new one opens it again"
    assert stranger.get(address).status_code == 200


def test_a_database_file_that_is_copied_back_opens_no_withdrawn_link_and_gives_no_number_again(tmp_path):
    data = tmp_path / "shop"
    shop = Shop(data)
    shop.write("job:j", {"truck": "HL 1"}, "person:kim", {})
    number = issued_at(shop.issued, MADE)
    secret = shop.issued.links.make(number, MADE)
    shop.store.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(data / "shop.db", tmp_path / "copy.db")
    shop.issued.links.withdraw([number], MADE)
    assert issued_at(shop.issued, MADE, answers="b") == "2027-0002"
    shop.store.close()
    for name in ("shop.db", "shop.db-wal", "shop.db-shm"):
        (data / name).unlink(missing_ok=True)
    shutil.copy(tmp_path / "copy.db", data / "shop.db")
    again = Shop(data)
    assert again.issued.links.opened(secret, MADE) == ("", False)
    assert again.issued.links.of(number)[0]["withdrawn_at"] != "", "and the books say so again"
    assert issued_at(again.issued, MADE, answers="c") == "2027-0003"
    again.store.close()
