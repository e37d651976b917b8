"""Half of a character, as a program leaves it that cuts a text between two units: held, and the desk's pages still open."""

import json

import pytest

from sync import change
from tests.office.test_access import enrolled, office
from tests.office.test_outbox_file import file_of, hand_in
from tests.sync.making import made

HALF = "\ud83d"  # what is left of a picture character that was cut
GOOD = made("p.1", "job:x", {"truck": "HL 1"})


@pytest.fixture
def app(bare_app):
    return bare_app


@pytest.mark.parametrize("spoilt", [
    {"set": {"truck": HALF}}, {"set": {HALF: "x"}}, {"by": HALF}, {"at": HALF}, {"record": "job:" + HALF}, {"kind": HALF},
    {"id": HALF}, {HALF: 1}], ids=ascii)
def test_a_held_change_with_half_a_character_is_shown_like_any_other(app, spoilt):
    phone, device = enrolled(app)
    text = json.dumps({**GOOD, **spoilt})
    sent = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert sent.json["receipts"][0]["reason"] == "bad_character"
    desk = office(app)
    page = desk.get("/office/held")
    assert page.status_code == 200 and page.text.count('data-testid="held-change"') == 1
    assert hand_in(desk, file_of(device, text, HALF + text)).status_code == 200


def test_a_phone_whose_name_holds_half_a_character_is_listed(app):
    sent = app.test_client().post("/sync/enrol", json={"code": app.extensions["doors"].new_code(), "name": "Van " + HALF})
    assert sent.status_code == 200
    page = office(app).get("/office/phones")
    assert page.status_code == 200 and "Van ?" in page.text


def test_a_file_of_a_device_that_cannot_be_is_refused_with_a_sentence(app):
    assert hand_in(office(app), file_of(HALF, GOOD)).status_code == 422
