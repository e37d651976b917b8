"""What a phone that begins from nothing is given, what it is told afterwards, and what it has to fetch."""

import pytest

from demo.shop import VISUAL, flow
from sync import change
from tests.office.test_access import enrolled
from webform import carrying, create_app
from webform.trade.tag_code import complete

SIGNED = {"decision": "ok_to_reinstall", "person": "person:kim"}
TAG = "tag:" + complete("7K3M9QX")


@pytest.fixture
def app(tmp_path, monkeypatch):
    """An old, signed job with a round; after it an open one, and a signed one that is recent."""
    monkeypatch.setattr(carrying, "RECENT_JOBS", 1)
    monkeypatch.setattr(carrying, "RECENT_FILTERS", 1)
    made = create_app(tmp_path / "shop")
    shop = made.extensions["shop"]
    for record, answers in (
            ("person:kim", {"name": "Kim"}), ("model:m", {"number": "TEST-290"}), ("owner:o", {"name": "Invented Haulage"}),
            ("filter:old", {"serial": "S-1"}), (TAG, {"filter": "filter:old"}),
            ("job:old", {"filter": "filter:old", "before.visual": VISUAL, "after.flow": flow("1.78"), "signoff": SIGNED}),
            ("round:old", {"job": "job:old"}),
            ("filter:open", {"serial": "S-2"}), ("job:open", {"filter": "filter:open"}), ("round:open", {"job": "job:open"}),
            ("filter:new", {"serial": "S-3"}), ("job:new", {"filter": "filter:new", "signoff": SIGNED})):
        assert shop.write(record, answers, "person:kim", {})["status"] == "stored", record
    yield made
    shop.store.close()


def pulled(phone, cursor=None):
    page = phone.post("/sync/pull", json={"cursor": cursor}).json
    return {entry["record"]: entry for entry in page["records"]}, page["cursor"]


def test_an_old_jobs_readings_are_not_sent_but_its_tag_is_and_fetch_brings_them(app):
    phone, _device = enrolled(app)
    records, _cursor = pulled(phone)
    assert sorted(records) == sorted(["person:kim", "model:m", "owner:o", TAG, "filter:open", "job:open", "round:open",
                                      "filter:new", "job:new"])
    assert records[TAG]["heads"]["filter"][0]["value"] == "filter:old"
    fetched = phone.post("/sync/fetch", json={"records": [], "around": ["filter:old"]}).json["records"]
    assert {entry["record"] for entry in fetched} == {"filter:old", TAG, "job:old", "round:old"}
    [job] = [entry for entry in fetched if entry["record"] == "job:old"]
    assert job["heads"]["after.flow"][0]["value"] == flow("1.78") and "before.visual" in job["heads"]


def test_what_changes_later_is_told_of_every_record_and_whether_it_is_the_whole_of_it(app):
    phone, _device = enrolled(app)
    _records, cursor = pulled(phone)
    shop = app.extensions["shop"]
    shop.write("job:old", {"truck": "HL 42"}, "person:kim", {})
    shop.write("job:later", {"filter": "filter:old"}, "person:kim", {})
    records, _cursor = pulled(phone, cursor)
    assert list(records["job:old"]["heads"]) == ["truck"] and records["job:old"]["whole"] is False
    assert records["job:later"]["whole"] is True


def test_a_job_whose_sign_off_was_taken_back_or_is_disputed_is_open_again(app):
    shop = app.extensions["shop"]
    shop.write("job:old", {"signoff": {**SIGNED, "decision": "hold"}}, "person:kim", {})
    shop.write("job:new", {"truck": "HL 1"}, "person:kim", {})  # the recent one is another
    records, _cursor = pulled(enrolled(app)[0])
    assert {"job:old", "round:old", "filter:old"} <= set(records)


def test_a_round_of_a_job_that_nobody_knows_is_carried(app):
    shop = app.extensions["shop"]
    shop.write("round:stray", {"job": "job:nowhere"}, "person:kim", {})
    assert "round:stray" in pulled(enrolled(app)[0])[0]


def test_a_sign_off_reaches_the_phone_that_carries_the_job(app):
    phone, _device = enrolled(app)
    _records, cursor = pulled(phone)
    text = change.to_text(change.make_change("x.r.1", "job:open", {"signoff": SIGNED}, lamport=99, by="person:kim",
                                             at="2026-11-25T17:40:00.000Z"))
    phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    records, _cursor = pulled(phone, cursor)
    assert list(records["job:open"]["heads"]) == ["signoff"]
