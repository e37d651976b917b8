"""The desk's label page: what it prints, and what it says to wrong entries."""

from pathlib import Path
from types import SimpleNamespace

import flask
import pypdfium2
import pytest
from markupsafe import escape

from sync import exchange
from sync.change import Pen
from sync.log import Store
from tests.labels.pictures import decoded, page_images, text_of
from webform import labels
from webform.checklist import lookup
from webform.labels import blueprint, printed
from webform.trade.tag_code import complete

GOOD = {"layout": "a4", "dpi": "203", "count": "24", "first": "1", "content": "code", "address": "", "code": ""}


@pytest.fixture
def store(tmp_path):
    opened = Store(f"sqlite:///{tmp_path}/book.db", policy_of=lookup.policy_of, ref_fields=lookup.ref_fields)
    yield opened
    opened.close()


@pytest.fixture
def client(store):
    app = flask.Flask("webform", root_path=str(Path(labels.__file__).parents[1]))
    app.register_blueprint(blueprint)
    app.extensions["shop"] = SimpleNamespace(store=store)
    return app.test_client()


def write(store, record, **answers):
    assert exchange.write(store, Pen("desk"), record, answers, "person:kim", replaces={})["status"] == "stored"


def post(client, **changed):
    return client.post("/office/labels", data={**GOOD, **changed})


def test_the_page_offers_paper_printer_and_number(client):
    page = client.get("/office/labels").text
    for piece in ('value="a4" checked', 'value="letter"', 'value="roll"', 'value="203" checked', 'value="300"',
                  "up to 35 cm away, the code alone up to 55 cm"):
        assert piece in page


def test_a_sheet_of_new_labels_holds_24_codes_that_are_written_down(client, store):
    answer = post(client)
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    texts = decoded(page_images(answer.data, 203)[0])
    assert len(set(texts)) == 24
    assert sorted(row[0] for row in store.rows("SELECT code FROM printed_tag")) == texts


def test_a_code_that_was_printed_or_bound_is_not_printed_again(store, monkeypatch):
    first, bound, fresh = complete("0000000"), complete("7K3M9QX"), complete("7K3M9QY")
    write(store, "tag:" + bound, filter="filter:f")
    drawn = iter([first, first, bound, fresh])
    monkeypatch.setattr(printed, "new_code", lambda: next(drawn))
    assert printed.new_codes(store, 1) == [first]
    assert printed.new_codes(store, 1) == [fresh]


def test_a_tag_is_printed_again_with_model_and_last_four_of_the_serial(client, store):
    write(store, "tag:7K3M9QX07", filter="filter:f")
    write(store, "filter:f", model="model:m", serial="AB-99-4821")
    write(store, "model:m", number="TEST-290")
    answer = post(client, code="7k3 m9qx 07", count="2", layout="roll")
    pages = page_images(answer.data, 203)
    assert [decoded(page) for page in pages] == [["7K3M9QX07"]] * 2
    assert "TEST-290" in text_of(answer.data)
    assert "Serial …4821" in text_of(answer.data)
    assert "AB-99" not in text_of(answer.data)


def test_a_link_from_a_filter_fills_in_its_code(client):
    assert 'value="7K3M9QX07"' in client.get("/office/labels?code=7K3M9QX07").text


def test_labels_with_the_address_hold_it(client):
    answer = post(client, content="address", address="https://ashbook.lan", layout="letter", count="1")
    texts = decoded(page_images(answer.data, 203)[0])
    assert len(texts) == 1
    assert texts[0].startswith("HTTPS://ASHBOOK.LAN/T/")


@pytest.mark.parametrize(("field", "typed", "sentence"), [
    ("count", "0", "Write a whole number from 1 to 480"), ("count", "", "Write a whole number from 1 to 480"),
    ("count", "2.5", "Write a whole number from 1 to 480"), ("count", "٣", "Write a whole number from 1 to 480"),
    ("count", "9" * 400, "Write a whole number from 1 to 480"),
    ("count", "<script>x</script>", "Write a whole number from 1 to 480"),
    ("first", "25", "This sheet has the places 1 to 24"), ("first", "-1", "This sheet has the places 1 to 24"),
    ("layout", "tape", "Pick one of the choices that are shown for: Paper"),
    ("dpi", "600", "Pick one of the choices that are shown for: Printer"),
    ("code", "7K3M9QX08", "is not a whole tag code"), ("code", "javascript:alert(1)", "is not a whole tag code"),
    ("code", "7K3M9QX07", "The tag 7K3M9QX07 is not on a filter of this shop"),
])
def test_a_wrong_entry_gets_a_sentence_and_is_kept(client, store, field, typed, sentence):
    answer = post(client, **{field: typed})
    assert answer.status_code == 422
    assert sentence in answer.text
    assert "<script>" not in answer.text
    if field in ("count", "first", "code"):
        assert f'value="{escape(typed)}"' in answer.text
    assert "printed_tag" not in str(store.rows("SELECT name FROM sqlite_master"))


@pytest.mark.parametrize("address", ["", "ashbook.lan", "https://ashbook.lan/path", "javascript:alert(1)"])
def test_an_address_that_cannot_be_printed_gets_a_sentence_and_uses_up_no_code(client, store, address):
    answer = post(client, content="address", address=address)
    assert answer.status_code == 422
    assert "cannot stand in front of a code" in answer.text
    assert "printed_tag" not in str(store.rows("SELECT name FROM sqlite_master"))


def test_an_address_whose_symbol_is_larger_than_the_label_gets_a_sentence(client):
    answer = post(client, content="address", address="https://a-rather-long-name-of-a-host.example.test", dpi="300")
    assert answer.status_code == 422
    assert "the symbol is larger than the label" in answer.text


def test_a_form_without_any_field_gets_a_sentence(client):
    assert client.post("/office/labels", data={}).status_code == 422


def test_a_started_sheet_is_filled_from_its_first_free_place(client):
    answer = post(client, first="24", count="2")
    assert len(pypdfium2.PdfDocument(answer.data)) == 2
