"""Photos through the server's own doors: who may, what is served and how, lost ones, and what the report says of them."""

import hashlib
import io

import pypdfium2
import pytest

from sync import lookup
from sync.photos import LARGEST_BYTES
from tests.office.test_access import enrolled, office, token
from tests.sync.picturing import jpeg
from webform.checklist import photos as declared
from webform.checklist.check import refusal
from webform.photos import standing
from webform.shop import standing_ids

PHOTO = jpeg(300, 200)
NAME = hashlib.sha256(PHOTO).hexdigest()
OTHER = "0" * 64
VISUAL = {"outlet": "clean", "brick": "cracked", "can": "sound", "wet": "dry"}


def photo(name=NAME, size=len(PHOTO)):
    return {"sha256": name, "bytes": size, "taken_at": "2026-11-25T08:00:00.000Z"}


def read(app, *photos, job="job:demo1", slot="after.visual"):
    """A reading with photos, in the place of the one that stands."""
    shop = app.extensions["shop"]
    ids = standing_ids(lookup.view(shop.store, job), slot)
    receipt = shop.write(job, {slot: {**VISUAL, "brick": "sound", "photos": list(photos)}}, "person:kim", {slot: ids})
    assert receipt["status"] == "stored"


def put(client, photo=PHOTO, name=NAME, **more):
    headers = {"Content-Range": f"bytes 0-{len(photo) - 1}/{len(photo)}", **more.pop("headers", {})}
    return client.put(f"/sync/photos/{name}", data=photo, headers=headers,
                      **{"content_type": "application/octet-stream", **more})


def test_a_phone_sends_and_the_desk_sees_only_what_was_drawn_anew(app):
    phone, _device = enrolled(app)
    desk = office(app)
    assert phone.get(f"/sync/photos/{NAME}").json == {"sha256": NAME, "offset": 0, "complete": False}
    assert desk.get(f"/office/photos/{NAME}").status_code == 404
    assert put(phone).json == {"sha256": NAME, "offset": len(PHOTO), "complete": True}
    for client, path in ((desk, "/office"), (phone, "/sync")):
        answer = client.get(f"{path}/photos/{NAME}?size=small")
        assert answer.status_code == 200 and answer.mimetype == "image/jpeg" and answer.data != PHOTO
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"
    assert desk.get(f"/office/photos/{NAME}?size=original").status_code == 400
    assert desk.get(f"/office/photos/{NAME}?size=large").data != PHOTO


def test_nobody_else_comes_in(app):
    phone, device = enrolled(app)
    stranger, desk = app.test_client(), office(app)
    put(phone)
    for client in (stranger, desk):
        assert client.get(f"/sync/photos/{NAME}").status_code == 401
        assert put(client).status_code == 401
    for client in (stranger, phone):
        assert client.get(f"/office/photos/{NAME}").status_code == 302
        assert client.post(f"/office/photos/{NAME}", data={"reason": "x"}).status_code in (401, 403)
    app.extensions["doors"].revoke(device)
    for path in (f"/sync/photos/{NAME}", f"/sync/photos/{NAME}?size=small"):
        assert phone.get(path).status_code == 401
    assert put(phone).status_code == 401


@pytest.mark.parametrize(("more", "status", "code"), [
    ({"content_type": "text/plain"}, 415, "bad_type"),
    ({"headers": {"Origin": "https://elsewhere.example"}}, 403, "forbidden"),
    ({"headers": {"Sec-Fetch-Site": "cross-site"}}, 403, "forbidden"),
    ({"headers": {"Content-Range": "bytes 0-9/100"}}, 400, "body_cut"), ({"name": OTHER}, 422, "wrong_hash"),
    ({"name": "x"}, 400, "bad_photo"), ({"headers": {"Content-Range": ""}}, 400, "bad_range")])
def test_a_refusal_has_the_one_shape_of_errors(app, more, status, code):
    phone, _device = enrolled(app)
    answer = put(phone, **more)
    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)
    assert set(answer.json["error"]) == {"code", "text", "details"}


def test_a_photo_that_has_not_come_is_told_and_the_report_waits_for_it(app):
    desk, (phone, _device) = office(app), enrolled(app)
    sign(app)
    assert "Signed" in desk.get("/office/jobs/demo1/report").text
    read(app, photo())
    sign(app)
    page, paper = desk.get("/office/jobs/demo1/report").text, pdf(desk)
    for text in (page, paper):
        assert "Not arrived yet" in text and "Waits for photos" in text and "Photos that have not arrived yet: 1." in text
    assert 'class="status final"' not in page
    assert "not arrived yet" in desk.get("/office/jobs/demo1").text
    put(phone)
    page = desk.get("/office/jobs/demo1/report").text
    assert 'class="status final"' in page and f"/office/photos/{NAME}?size=small" in page and "Waits" not in pdf(desk)
    assert pictures_in(desk) == 1
    assert "not arrived yet" not in desk.get("/office/jobs/demo1").text
    assert desk.get("/office/jobs/demo1/report.pdf").data == desk.get("/office/jobs/demo1/report.pdf").data


def test_a_lost_photo_needs_a_reason_which_the_report_prints_and_arriving_after_all_it_is_shown(app):
    desk, (phone, _device) = office(app), enrolled(app)
    read(app, photo(), photo(OTHER))
    sign(app)
    form = {"csrf_token": token(desk, "/office/jobs/demo1"), "job": "demo1"}
    assert "missing=reason" in desk.post(f"/office/photos/{NAME}", data={**form, "reason": " "}).location
    assert "Say why" in desk.get("/office/jobs/demo1?missing=reason").text
    for name in (NAME, OTHER):
        answer = desk.post(f"/office/photos/{name}", data={**form, "reason": "phone <b>fell</b> in the dock"})
        assert answer.status_code == 302
    text = pdf(desk)
    assert "fell" in text and "(Office, " in text and "Photos that are lost: 2." in text and "Waits" not in text
    page = desk.get("/office/jobs/demo1/report").text
    assert "&lt;b&gt;fell" in page and 'class="status final"' in page
    assert "&lt;b&gt;fell" in desk.get("/office/jobs/demo1").text
    put(phone)
    assert standing(app.extensions["shop"], [NAME])[NAME]["state"] == "here"
    assert desk.post(f"/office/photos/{NAME}", data={**form, "reason": "again"}).status_code == 409
    for name, more in (("x", {}), (OTHER, {"reason": "r" * 301}), (OTHER, {"job": ""})):
        assert desk.post(f"/office/photos/{name}", data={**form, "reason": "again", **more}).status_code == 400


def test_two_answers_that_differ_in_their_photos_are_shown_with_them(app):
    desk, (phone, _device) = office(app), enrolled(app)
    put(phone)
    shop = app.extensions["shop"]
    for one in (NAME, OTHER):
        shop.write("job:demo2", {"after.visual": {**VISUAL, "photos": [photo(one)]}}, "person:kim", {"after.visual": []})
    page = desk.get("/office/questions").text
    assert f"/office/photos/{NAME}?size=small" in page and "not arrived yet" in page
    assert 'class="differs"><dt>Photos' in page


GOOD = photo()
WRONG = {
    "answer.no_photos": (["x"], "x", {}, [{**GOOD, "sha256": "A" * 64}], [{**GOOD, "bytes": 0}], [{**GOOD, "bytes": True}],
                         [{**GOOD, "bytes": LARGEST_BYTES + 1}], [{**GOOD, "taken_at": "<b>now</b>"}],
                         [{**GOOD, "more": 1}], [{"sha256": NAME}]),
    "answer.photo_twice": ([GOOD, GOOD],),
    "answer.too_many_photos": ([{**GOOD, "sha256": f"{n:064x}"} for n in range(13)],)}


def test_the_check_takes_photos_and_nothing_that_only_looks_like_them():
    change = {"schema": 1, "kind": "job", "set": {"before.light": {"kind": "none", "photos": [GOOD], "note": "far face"}}}
    assert refusal(change) is None
    for code, values in WRONG.items():
        for value in values:
            change["set"]["before.light"]["photos"] = value
            assert refusal(change) == code, value
    assert declared.LARGEST_BYTES == LARGEST_BYTES


def sign(app):
    """Kim's OK on what stands now."""
    shop = app.extensions["shop"]
    state = shop.job_state("job:demo1")
    from webform.checklist.case import basis_of
    ids = standing_ids(lookup.view(shop.store, "job:demo1"), "signoff")
    shop.write("job:demo1", {"signoff": {"decision": state["calculated"], "person": "person:kim"}}, "person:kim",
               {"signoff": ids}, basis_of({**state, "verdict": state["calculated"]}))


def pdf(desk):
    document = pypdfium2.PdfDocument(io.BytesIO(desk.get("/office/jobs/demo1/report.pdf").data))
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def pictures_in(desk):
    """How many pictures the PDF holds; 3 is FPDF_PAGEOBJ_IMAGE of PDFium's fpdf_edit.h, read from pypdfium2.raw."""
    document = pypdfium2.PdfDocument(io.BytesIO(desk.get("/office/jobs/demo1/report.pdf").data))
    return sum(found.type == pypdfium2.raw.FPDF_PAGEOBJ_IMAGE for page in document for found in page.get_objects())
