"""What phones learn of an issued report: one change on its job, stored together with the report, and nothing of it moves."""

import pytest

from sync import exchange, lookup
from sync.log import Unavailable
from tests.report.test_issued import WORSE_FLOW, app, change, form, issue, seeded, sign  # noqa: F401 fixtures among them


def given(shop):
    """The reports that the job's history tells of, oldest first."""
    changes = [entry["change"]["set"] for entry in lookup.history(shop.store, "job:demo1")]
    return [found["report"] for found in changes if "report" in found]


def test_issuing_tells_phones_the_number_and_what_it_says_once(app):  # noqa: F811
    shop = app.extensions["shop"]
    before = len(given(shop))
    desk, number = issue(app)
    at = shop.issued.find(number)["issued_at"]
    assert given(shop)[before:] == [{"number": number, "at": at, "verdict": "ok_to_reinstall"}]
    assert desk.post("/office/jobs/demo1/report", data=form(desk)).location.endswith(number)  # pressed twice
    assert len(given(shop)) == before + 1
    assert shop.job_state("job:demo1")["report"] == {
        **given(shop)[-1], "is_recalled": False, "text": f"Report {number} was given to the owner: OK to reinstall."}
    record = next(one for one in exchange.pull(shop.store, None)["records"] if one["record"] == "job:demo1")
    assert [answer["value"]["number"] for answer in record["heads"]["report"]] == [number]  # the newest alone stands


def test_a_late_change_recalls_on_phones_too_and_the_frozen_report_stays(app):  # noqa: F811
    shop, (desk, number) = app.extensions["shop"], issue(app)
    paper = desk.get(f"/office/issued/{number}").text
    assert "Recalled" not in paper
    change(shop, "after.flow", WORSE_FLOW)
    told = shop.job_state("job:demo1")["report"]
    assert told["is_recalled"] and told["text"].startswith(f"Report {number}, given to the owner, no longer stands")
    assert shop.issued.find(number)["content"]["may_issue"] is True
    sign(shop)
    assert desk.post("/office/jobs/demo1/report", data=form(desk)).status_code == 302  # a new report says what is true now
    assert not shop.job_state("job:demo1")["report"]["is_recalled"]


def test_a_report_and_what_phones_are_told_of_it_are_stored_together_or_not_at_all(app, monkeypatch):  # noqa: F811
    from tests.office.test_access import office
    shop, desk = app.extensions["shop"], office(app)
    change(shop, "note", "moved")  # so that this report is a new one
    told, reports = given(shop), shop.issued.of_job("job:demo1")
    asked = form(desk)

    def broken(*_):
        raise Unavailable("the disk is full")

    with monkeypatch.context() as patched:
        patched.setattr(exchange, "_merge", broken)
        assert desk.post("/office/jobs/demo1/report", data=asked).status_code == 503
    assert (given(shop), shop.issued.of_job("job:demo1")) == (told, reports)
    assert desk.post("/office/jobs/demo1/report", data=asked).status_code == 302
    assert len(given(shop)) == len(told) + 1 and len(shop.issued.of_job("job:demo1")) == len(reports) + 1


@pytest.mark.parametrize("wrong", [{"number": 7}, {"verdict": "fine"}, {"at": ""}])
def test_what_is_no_report_is_held(app, wrong):  # noqa: F811
    shop = app.extensions["shop"]
    report = {"number": "2026-0001", "at": "2026-11-25T08:00:00.000Z", "verdict": "replace", **wrong}
    assert shop.write("job:demo2", {"report": report}, "person:kim", {})["status"] == "held"
