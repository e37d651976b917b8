"""The desk takes in a file that a phone saved: receipts for what it knows, a sentence for what it does not."""

import io
import json
import re

import pytest

from sync import by_hand, change, lookup
from sync.photo_client import with_photos
from tests.office.test_access import enrolled, office, token
from tests.sync.making import made
from tests.sync.picturing import jpeg, name_of


@pytest.fixture
def app(bare_app):
    return bare_app


def file_of(device, *changes, **more):
    texts = [one if isinstance(one, str) else change.to_text(one) for one in changes]
    return json.dumps({"ashbook_outbox": 1, "device": device, "schema": 1, "changes": texts,
                       "hashes": [change.content_hash(text) for text in texts], **more}).encode()


def hand_in(desk, body, name="ashbook-outbox.json"):
    data = {"csrf_token": token(desk, "/office/phones/file"), "file": (io.BytesIO(body), name)}
    answer = desk.post("/office/phones/file", data=data, content_type="multipart/form-data")
    answer.request.environ["wsgi.input"].close()  # the test client leaves the temporary file of a large body open
    return answer


def outcomes(answer):
    return re.findall(r'data-outcome="(\w+)"', answer.text)


def test_each_change_of_an_enrolled_phone_gets_its_receipt_once(app):
    desk, (phone, device) = office(app), enrolled(app)
    first, second = made("a.1", "filter:f", {"serial": "S-1"}), made("a.2", "filter:f", {"serial": 7})
    answer = hand_in(desk, file_of(device, first, second, "{"))
    assert answer.status_code == 200 and outcomes(answer) == ["stored", "held", "held"]
    assert "1 stored, 0 already there, 2 held." in answer.text and "does not fit" in answer.text
    assert "cannot be read as an entry" in answer.text and "not_json" not in answer.text
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
    assert "Not all of it counts yet." in answer.text and 'class="button" href="/office/held"' in answer.text
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
    (b"{}", "not saved by a phone"), (file_of("van", ashbook_outbox=3), "newer app"),
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
    for stranger in (desk, app.test_client()):  # who is not signed in may not even send what others may
        most = 200 if stranger is desk else 20
        told = {"CONTENT_LENGTH": str((most + 2) * 2**20)}
        assert stranger.post("/office/phones/file", data=data, environ_overrides=told).status_code == 413
    answer = desk.post("/office/phones/file", data={"csrf_token": token(desk, "/office/phones/file")})
    assert answer.status_code == 422 and "Choose the file first" in answer.text


PICTURES = [jpeg(seed=number) for number in (1, 2)]
TAKEN = "2026-11-25T17:40:00.000Z"


def with_pictures(device, pictures=PICTURES):
    """A file of one change that names these photos, and their bytes behind it."""
    photos = [{"sha256": name_of(one), "bytes": len(one), "taken_at": TAKEN} for one in pictures]
    look = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry", "photos": photos}
    return with_photos(file_of(device, made("a.1", "job:j", {"before.visual": look})).decode(), pictures)


def photo_outcomes(answer):
    return re.findall(r'data-testid="photo-receipt" data-outcome="(\w+)"', answer.text)


def test_each_photo_of_a_file_gets_its_receipt_and_is_shown_at_once(app):
    desk, (phone, device) = office(app), enrolled(app)
    answer = hand_in(desk, with_pictures(device), "ashbook-outbox.ashbook")
    assert outcomes(answer) == ["stored"] * 3 and photo_outcomes(answer) == ["stored"] * 2
    assert "All of this file is in the books." in answer.text and 'role="status"' in answer.text
    assert "Photos: 2 stored, 0 already there, 0 not taken." in answer.text
    for one in PICTURES:
        assert desk.get(f"/office/photos/{name_of(one)}?size=small").mimetype == "image/jpeg"
        assert phone.get(f"/sync/photos/{name_of(one)}").json["complete"]  # so the phone need not send it
    assert photo_outcomes(hand_in(desk, with_pictures(device))) == ["already"] * 2


def test_a_file_that_was_cut_or_damaged_says_so_and_gives_up_only_the_photo_it_hit(app):
    desk, (_phone, device) = office(app), enrolled(app)
    body = with_pictures(device)
    answer = hand_in(desk, body[:-10])
    assert photo_outcomes(answer) == ["refused", "stored"] and "damaged or cut on the way" in answer.text
    assert "A part of this file did not arrive." in answer.text and "in the books." not in answer.text
    assert "ends before this photo does" in answer.text and "Photos: 1 stored, 0 already there, 1 not taken." in answer.text
    damaged = body[:-10] + bytes(10)
    answer = hand_in(desk, damaged)
    assert photo_outcomes(answer) == ["refused", "already"] and "It was damaged on the way." in answer.text
    assert app.extensions["shop"].store.counter()["position"] == 1
    assert sorted(photo_outcomes(hand_in(desk, body))) == ["already", "stored"]


@pytest.mark.parametrize("is_known", [True, False])
def test_photos_of_a_phone_that_was_shut_out_wait_with_its_changes_until_a_person_lets_them_in(app, is_known):
    desk, device = office(app), "phone-gone"
    if is_known:
        _phone, device = enrolled(app)
        app.extensions["doors"].revoke(device)
    answer = hand_in(desk, with_pictures(device))
    assert outcomes(answer)[-1] == "held" and photo_outcomes(answer) == ["stored"] * 2
    assert lookup.view(app.extensions["shop"].store, "job:j") is None
    let_in = {"csrf_token": token(desk, "/office/held"), "reason": "device_revoked" if is_known else "device_unknown"}
    assert desk.post("/office/held", data=let_in).status_code == 302
    assert desk.get("/office/jobs/j").text.count('data-testid="photo"') == 2 * 2  # of the reading, in the history


def test_a_full_quota_is_said_and_every_change_is_stored(app):
    desk, (_phone, device) = office(app), enrolled(app)
    app.extensions["shop"].photos.quota_bytes = 1_000
    answer = hand_in(desk, with_pictures(device))
    assert photo_outcomes(answer) == ["refused"] * 2 and "Bring the file again tomorrow" in answer.text
    assert "Some photos were not taken" in answer.text
    assert app.extensions["shop"].store.counter()["position"] == 1


def test_a_file_larger_than_any_other_request_is_taken(app):
    desk, (_phone, device) = office(app), enrolled(app)
    pictures = [jpeg(1800, 1400, seed=number) for number in range(13)]
    body = with_photos(file_of(device).decode(), pictures)
    assert len(body) > 20 * 2**20
    assert photo_outcomes(hand_in(desk, body)) == ["stored"] * 13


def test_what_a_hostile_text_says_is_shown_as_text(app):
    desk, (_phone, device) = office(app), enrolled(app)
    answer = hand_in(desk, file_of(device, "<script>alert(1)</script>",
                                   made("a.1", "filter:f", {"serial": "S"}, by="<b>me</b>")))
    assert "<script>alert" not in answer.text and "<b>me</b>" not in answer.text
