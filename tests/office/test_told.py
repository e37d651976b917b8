"""What the desk says of a change that is held: whose filter, which answers, as far as it can be read. Readings invented."""

import re

import pytest

from tests.office.test_access import office
from tests.office.test_outbox_file import TAKEN, file_of, hand_in
from tests.sync.making import made

DEVICE = "phone-nobody"  # not enrolled: all that it brings is held


def held(app, *changes):
    """The page of held changes, without its raw texts."""
    desk = office(app)
    receipts = hand_in(desk, file_of(DEVICE, *changes)).text
    page = desk.get("/office/held").text
    assert page.count('data-testid="held-change"') == len(changes)
    return receipts, re.sub(r"<details>.*?</details>", "", page, flags=re.DOTALL)


def weight(grams):
    return {"after.weight": {"mass": {"n": grams, "u": "g"}, "temperature": "cold", "moisture": "dry"}}


@pytest.mark.parametrize(("record", "fields", "pieces"), [
    ("job:demo5", weight("144800000"), ("HL-S-1005", "HL 19", "/office/jobs/demo5", "144800000 g",
                                        "Weigh it, after cleaning")),
    ("round:new", {"job": "job:demo5", "treatment": {"method": "wash"}}, ("HL-S-1005", "/office/jobs/demo5", "Wash")),
    ("round:demo5-1", {"weight": weight("11460")["after.weight"]}, ("HL-S-1005", "11460 g")),
    ("filter:demo5", {"serial": "HL-S-9999"}, ("HL-S-1005", "HL-S-9999")),
    ("tag:7K3M9QX07", {"filter": "filter:demo2"}, ("7K3M9QX07", "HL-S-1002")),
    ("job:new", {"truck": "HL 77"}, ("Not in the books yet", "HL 77")),
    ("job:demo5", {"after.weight": {"check": "scale_check:demo1"}}, ("Check of the scale",)),
])
def test_a_held_change_says_of_which_filter_it_is_and_what_was_answered(app, record, fields, pieces):
    receipts, page = held(app, made("a.1", record, fields))
    for piece in pieces:
        assert piece in page, piece
    assert pieces[0] in receipts or record == "job:demo5"
    assert ">scale_check:" not in page and ">filter:" not in page


@pytest.mark.parametrize("fields", [
    {"after.weight": 7}, {"after.weight": {"mass": "heavy"}}, {"after.weight": {"mass": {}}}, {"truck": {"n": []}},
    {"after.rod": {"cells": [7]}}, {"brand_new": {"deep": ["<i>"] * 100}}, {"job": 7}, {"after.visual": {"photos": [7]}}])
def test_what_is_malformed_is_shown_as_it_arrived_and_breaks_no_page(app, fields):
    _receipts, page = held(app, made("a.1", "job:demo5", fields))
    assert "HL-S-1005" in page and "<i>" not in page


def test_control_characters_of_what_cannot_be_read_are_shown_by_their_pictures(app):
    # HTML Standard, 3.2.5 and 13.1.4 (from memory): text holds no U+0000 and no other control characters but white space
    desk = office(app)
    hand_in(desk, file_of(DEVICE, "{\x00\x1b[2J\x7f\tthe rest\n"))
    page = desk.get("/office/held").text
    assert "{\u2400\u241b[2J\u2421\tthe rest" in page and not set(page) & {"\x00", "\x1b", "\x7f"}


def test_photos_of_a_held_change_are_counted_and_not_drawn(app):
    photo = {"sha256": "0" * 64, "bytes": 1000, "taken_at": TAKEN}
    _receipts, page = held(app, made("a.1", "job:demo5", {"after.visual": {"outlet": "clean", "photos": [photo]}}))
    assert "1 photo" in page and "<img" not in page


def test_an_answer_that_names_a_check_shows_its_time_at_the_desk(app):
    shop = app.extensions["shop"]
    read = {"check": "bench_check:demo1", "drop": {"n": "3.10", "u": "inH2O"}}
    shop.write("job:demo5", {"before.flow": read}, "person:kim", {})
    page = office(app).get("/office/jobs/demo5").text
    assert "bench_check:" not in page and re.search(r"<dt>Check of the bench</dt><dd>(today|\d)", page)
