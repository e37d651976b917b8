"""The desk's first page: what a new shop does first, and whom a recall concerns. Everything is invented."""

import re

import pytest

from tests.office.test_access import office
from webform.office.books import pin_value


@pytest.fixture
def app(bare_app):
    return bare_app


def steps(desk):
    """Text → whether it is done, of what a new shop is told to do first."""
    rows = re.findall(r'<li[^>]*data-testid="begin"><a href="([^"]+)">([^<]+)</a>(.*?)</li>', desk.get("/office/").text)
    return {text: ("<b>done</b>" in done, href) for href, text, done in rows}


def test_a_new_shop_is_told_what_comes_before_the_first_job_and_where(app):
    found = steps(office(app))
    assert [href for _done, href in found.values()] == [
        "/office/books?kind=shop", "/office/books?kind=model", "/office/books?kind=instrument", "/office/books?kind=person",
        "/office/labels", "/office/phones"]
    assert not any(is_done for is_done, _href in found.values())


def test_what_is_there_already_is_marked_as_done(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write("shop:rules", {"name": "Tarn Filter Works"}, "desk:office", {})
    shop.write("model:m", {"number": "TK-290"}, "desk:office", {})
    shop.write("instrument:s", {"name": "Scale", "type": "scale"}, "desk:office", {})
    shop.write("person:ole", {"name": "Ole", "may_sign": "no", "pin": pin_value("2580")}, "desk:office", {})
    assert [is_done for is_done, _href in steps(desk).values()] == [True, True, False, False, False, False]
    shop.write("instrument:b", {"name": "Bench", "type": "bench"}, "desk:office", {})
    shop.write("person:signe", {"name": "Signe", "may_sign": "yes", "pin": pin_value("2580")}, "desk:office", {})
    doors = app.extensions["doors"]
    assert doors.redeem(doors.new_code(), "Van 1")
    assert [is_done for is_done, _href in steps(desk).values()] == [True, True, True, True, False, True]


def test_once_there_is_a_job_the_list_is_gone(app):
    shop, desk = app.extensions["shop"], office(app)
    shop.write("filter:f", {"serial": "E-3301"}, "desk:office", {})
    shop.write("job:j", {"filter": "filter:f"}, "desk:office", {})
    assert steps(desk) == {}
