"""The books' forms: what stands where answers differ is on the page that replaces it. Everything is invented."""

import html
import re
from pathlib import Path

import pytest
from werkzeug.datastructures import MultiDict

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
    ids = re.findall(r'name="model:ids.number" value="([^"]+)"', page)
    given = {"csrf_token": token(desk, "/office/phones"), "step": "model", "record": MODEL, "value.number": "WEST-3",
             "was.number": "", "ids.number": ids}
    assert len(ids) == 2 and desk.post("/office/books", data=given).status_code == 302
    assert lookup.view(shop.store, MODEL)["fields"]["number"]["used"] == "WEST-3"


def page_form(desk, record):
    """All that the form of one record sends when nothing is typed, and its address."""
    page = desk.get(f"/office/books?kind={record.partition(':')[0]}&open={record}").text
    form = next(part for part in re.findall(r"<form.*?</form>", page, re.S) if f'name="record" value="{record}"' in part)
    inputs = re.findall(r'<input [^>]*?name="([^"]+)"[^>]*? value="([^"]*)"', form)
    sent = [(name, html.unescape(text)) for name, text in inputs]
    for name, options in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form, re.S):
        option = r'<option(?: value="([^"]*)")?'
        chosen = re.search(option + " selected>([^<]*)", options) or re.search(option + ">([^<]*)", options)
        sent.append((name, chosen[1] if chosen[1] is not None else chosen[2]))
    return sent


def press_save(desk, record, **typed):
    """Presses a Save of a record with these texts typed: step_and_field="text"."""
    wanted = {name.replace("__", ":value."): text for name, text in typed.items()}
    sent = MultiDict((name, text) for name, text in page_form(desk, record) if name not in wanted)
    for name, text in wanted.items():
        sent.add(name, text)
    return desk.post("/office/books", data=sent)


def test_what_is_typed_in_two_steps_of_a_record_is_stored_by_any_of_its_buttons(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write(MODEL, {"number": "TK-290"}, "desk:office", {})
    done = press_save(desk, MODEL, model__depth="290", brick__cells_per_in2="200", spec__low="1,60", spec__high="2.00",
                      spec__uncertainty="0.05", spec__origin="invented", spec__revision="1")
    assert done.status_code == 302 and "saved=1" in done.location
    fields = lookup.view(shop.store, MODEL)["fields"]
    assert (fields["depth"]["used"]["n"], fields["brick"]["used"]["cells_per_in2"]["n"]) == ("290", "200")
    assert fields["spec"]["used"]["low"] == {"n": "1,60", "u": "inH2O"}
    assert "own" not in fields
    assert [answer["id"] for answer in fields["depth"]["answers"]] == [answer["id"] for answer in fields["spec"]["answers"]]
    assert ">Saved.<" in desk.get(done.location).text


def test_a_wrong_entry_brings_back_what_was_typed_beside_it_and_stores_nothing(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write(MODEL, {"number": "TK-290"}, "desk:office", {})
    back = press_save(desk, MODEL, model__cross="ABC 7", spec__low="1.60")
    assert back.status_code == 422 and 'value="ABC 7"' in back.text and 'value="1.60"' in back.text
    assert "Where the limits come from is still empty." in back.text and "skip the step" not in back.text
    assert set(lookup.view(shop.store, MODEL)["fields"]) == {"number"}


def test_saving_what_nobody_changed_writes_nothing(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write("person:ole", {"name": "Ole", "may_sign": "no"}, "desk:office", {})
    before = shop.store.counter()["position"]
    assert press_save(desk, "person:ole").status_code == 302
    assert shop.store.counter()["position"] == before
    page = desk.get("/office/books?kind=person").text
    assert "May sign off No" in page


def test_a_scale_and_a_bench_are_asked_what_is_theirs(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write("instrument:s", {"name": "Scale 1", "type": "scale", "tolerance": "own"}, "desk:office", {})
    page = desk.get("/office/books?kind=instrument&open=instrument:s").text
    style = (Path(desk.application.static_folder) / "desk.css").read_text()
    for kind in ("bench", "scale"):
        assert f'data-only="type-{kind}"' in page and f"[data-only=type-{kind}]" in style
