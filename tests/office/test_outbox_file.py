"""The desk takes in a file that a phone saved: receipts for what it knows, a sentence for what it does not."""

import io
import json
import re

import pytest

from sync import by_hand, change, lookup
from tests.office.test_access import enrolled, office, token
from tests.sync.making import made
from webform import create_app


@pytest.fixture
def app(tmp_path):
    made_one = create_app(tmp_path / "shop")
    made_one.extensions["doors"].ensure_office("harbour")
    yield made_one
    made_one.extensions["shop"].store.close()


def file_of(device, *changes, **more):
    texts = [one if isinstance(one, str) else change.to_text(one) for one in changes]
    return json.dumps({"ashbook_outbox": 1, "device": device, "schema": 1, "changes": texts,
                       "hashes": [change.content_hash(text) for text in texts], **more}).encode()


def hand_in(desk, body, name="ashbook-outbox.json"):
    data = {"csrf_token": token(desk, "/office/phones/file"), "file": (io.BytesIO(body), name)}
    return desk.post("/office/phones/file", data=data, content_type="multipart/form-data")


def outcomes(answer):
    return re.findall(r'data-outcome="(\w+)"', answer.text)


def test_each_change_of_an_enrolled_phone_gets_its_receipt_once(app):
    desk, (phone, device) = office(app), enrolled(app)
    first, second = made("a.1", "filter:f", {"serial": "S-1"}), made("a.2", "filter:f", {"serial": 7})
    answer = hand_in(desk, file_of(device, first, second, "{"))
    assert answer.status_code == 200 and outcomes(answer) == ["stored", "held", "held"]
    assert "1 stored, 0 already there, 2 held." in answer.text and "does not fit" in answer.text
    assert outcomes(hand_in(desk, file_of(device, first))) == ["already"]
    texts = [change.to_text(first)]
    sent = phone.post("/sync/push", json={"schema": 1, "changes": texts, "hashes": [change.content_hash(texts[0])]})
    assert sent.json["receipts"][0]["status"] == "stored"
    [entry] = lookup.history(app.extensions["shop"].store, "filter:f")
    assert entry["device"] == device


def test_a_phone_that_nobody_knows_is_held_and_can_be_let_in(app):
    desk = office(app)
    answer = hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", {"serial": "S-1"})))
    assert outcomes(answer) == ["held"] and "not enrolled here" in answer.text
    store = app.extensions["shop"].store
    assert lookup.view(store, "filter:f") is None and lookup.held(store)[0]["reason"] == "device_unknown"
    desk.post("/office/held", data={"csrf_token": token(desk, "/office/held")})
    assert lookup.held_count(store) == 1
    page = desk.get("/office/held").text
    assert "device_unknown" in page and "device_revoked" not in page
    let_in = {"csrf_token": token(desk, "/office/held"), "reason": "device_unknown"}
    assert desk.post("/office/held", data={**let_in, "reason": "other_content"}).status_code == 400
    assert desk.post("/office/held", data=let_in).status_code == 302
    assert lookup.held_count(store) == 0 and lookup.view(store, "filter:f")["fields"]["serial"]["used"] == "S-1"


def test_what_a_shut_out_phone_saved_is_held(app):
    desk, (_phone, device) = office(app), enrolled(app)
    app.extensions["doors"].revoke(device)
    answer = hand_in(desk, file_of(device, made("a.1", "filter:f", {"serial": "S-1"})))
    assert outcomes(answer) == ["held"] and "shut out" in answer.text


@pytest.mark.parametrize(("body", "sentence"), [
    (b"", "cut on the way"), (b"<html>", "cut on the way"), (b"[" * 100_000, "cut on the way"),
    (b"{}", "not saved by a phone"), (file_of("van", ashbook_outbox=2), "newer app"),
    (file_of("van", hashes=["x"]), "lost a part"), (b" " * 200_001, "larger than 16 MB"),
])
def test_a_hostile_file_gets_a_sentence_and_stores_nothing(app, body, sentence, monkeypatch):
    monkeypatch.setattr(by_hand, "LARGEST_BODY", 200_000)
    answer = hand_in(office(app), body)
    assert answer.status_code == 422 and sentence in answer.text
    store = app.extensions["shop"].store
    assert store.counter()["position"] == 0 and lookup.held_count(store) == 0


def test_a_file_beyond_all_bounds_is_refused_before_it_is_read_and_none_at_all_is_said(app):
    desk = office(app)
    data = {"csrf_token": token(desk, "/office/phones/file")}
    told = {"CONTENT_LENGTH": str(21 * 2**20)}
    assert desk.post("/office/phones/file", data=data, environ_overrides=told).status_code == 413
    answer = desk.post("/office/phones/file", data={"csrf_token": token(desk, "/office/phones/file")})
    assert answer.status_code == 422 and "Choose the file first" in answer.text


def test_what_a_hostile_text_says_is_shown_as_text(app):
    desk, (_phone, device) = office(app), enrolled(app)
    answer = hand_in(desk, file_of(device, "<script>alert(1)</script>",
                                   made("a.1", "filter:f", {"serial": "S"}, by="<b>me</b>")))
    assert "<script>alert" not in answer.text and "<b>me</b>" not in answer.text
