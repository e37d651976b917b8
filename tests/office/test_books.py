"""The books' forms: what stands where answers differ is on the page that replaces it. Everything is invented."""

import re

import pytest

from sync import lookup
from tests.office.test_access import office, token

MODEL = "model:m"
SPEC = {
    "high": {"n": "2.00", "u": "inH2O"}, "uncertainty": {"n": "0.05", "u": "inH2O"}, "origin": "invented",
    "revision": "1"}


@pytest.fixture
def app(bare_app):
    return bare_app


def test_two_answers_stand_beside_the_field_that_settles_them(app):
    shop, desk = app.extensions["shop"], office(app)
    for number, low in (("NORTH-1", "1.60"), ("SOUTH-2", "1.20")):
        shop.write(MODEL, {"number": number, "spec": {**SPEC, "low": {"n": low, "u": "inH2O"}}}, "desk:office", {})
    page = desk.get("/office/books?kind=model&open=model:m").text
    assert "NORTH-1 · SOUTH-2" in page and "1.60 inH2O · 1.20 inH2O" in page and "2.00 inH2O · 2.00 inH2O" in page
    ids = re.findall(r'name="ids.number" value="([^"]+)"', page)
    given = {"csrf_token": token(desk, "/office/phones"), "step": "model", "record": MODEL, "value.number": "WEST-3",
             "was.number": "", "ids.number": ids}
    assert len(ids) == 2 and desk.post("/office/books", data=given).status_code == 302
    assert lookup.view(shop.store, MODEL)["fields"]["number"]["used"] == "WEST-3"
