"""The desk's search field: straight to the job, a list, or what to try. Invented; the demo's shop is demo/shop.py."""

import html
import re

import pytest

from tests.office.test_access import office
from webform import finding
from webform.office import find
from webform.trade.tag_code import complete


def ask(app, text):
    return office(app).get("/office/find", query_string={"text": text})


def text_of(answer):
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", answer.text.partition("<main")[2]).split()))


def rows(answer):
    """The serial numbers in the list, in their order."""
    return re.findall(r'<th scope="row">(?:<a[^>]*>)?([^<]+)<', answer.text)


@pytest.mark.parametrize("text", ["7K3M9QX07", "7k3m 9qx-07", "HL-S-1001", "1001", "WO-101", "HL 42", "hl42",
                                  " moorland 1001 "])
def test_one_hit_leads_straight_to_its_job(app, text):
    answer = ask(app, text)
    assert answer.status_code == 302 and answer.location == "/office/jobs/demo1"


def test_several_hits_are_a_list_the_newest_first_with_what_each_is_known_by(app):
    answer = ask(app, "moorland")
    assert answer.status_code == 200 and rows(answer) == ["HL-S-1005", "HL-S-1003", "HL-S-1001"]
    for told in ("“moorland” may mean each of these", "HL-300", "HL 42", "WO-101", "Moorland Haulage", "Hold"):
        assert told in text_of(answer)
    assert 'value="moorland"' in answer.text and 'href="/office/jobs/demo1"' in answer.text
    assert "begin like it" not in answer.text


def test_what_only_begins_so_is_told_as_that(app):
    answer = ask(app, "WO-10")
    assert answer.status_code == 200 and "Nothing reads just “WO-10”; these begin like it." in text_of(answer)
    assert len(rows(answer)) == 5


def test_a_filter_without_a_job_is_told_and_leads_nowhere(app):
    app.extensions["shop"].write("filter:bare", {"serial": "ZZ-7777", "model": "model:window"}, "person:kim", {})
    answer = ask(app, "7777")
    assert answer.status_code == 200 and rows(answer) == ["ZZ-7777"] and "No job yet" in text_of(answer)
    assert "HL-290" in text_of(answer)


def test_at_most_so_many_are_shown_and_how_many_more_there_are_is_told(app, monkeypatch):
    monkeypatch.setattr(find, "MOST_SHOWN", 2)
    answer = ask(app, "moorland")
    assert rows(answer) == ["HL-S-1005", "HL-S-1003"]
    assert "The newest 2 of 3 are shown. Type more of it" in text_of(answer)
    monkeypatch.setattr(finding, "MOST_READ", 1)
    assert "2 of more than 2 are shown. Type more of it" in text_of(ask(app, "moorland"))


@pytest.mark.parametrize(("text", "told"), [
    ("no such truck", "Nothing in the books reads “no such truck”"), ("{text}", "Nothing in the books reads “{text}”"),
    ("<b>7", "Nothing in the books reads “<b>7”"), (complete("ABCDEFG"), "is on no filter of this shop yet"),
    ("7K3M9QX08", "check"), ("\x00", "Nothing in the books"), ("x" * 5000, "Nothing in the books"), ("\ud800", "Nothing"),
    ("ASHBOOK-ENROL:" + complete("ABCDEFG"), "Nothing in the books")])
def test_where_nothing_is_found_it_says_so_and_what_to_try(app, text, told):
    answer = office(app).get("/office/find", query_string={"text": text.encode("utf-8", "surrogatepass")})
    assert answer.status_code == 404 and told in text_of(answer)
    assert "What finds a filter" in text_of(answer) and "last four" in text_of(answer)


def test_an_empty_field_tells_what_it_takes(app):
    for path in ("/office/find", "/office/find?text=+"):
        answer = office(app).get(path)
        assert answer.status_code == 200 and "What finds a filter" in text_of(answer) and "role=\"alert\"" not in answer.text


def test_while_the_words_are_still_being_read_that_is_told_and_no_single_hit_is_taken_for_the_only_one(app, monkeypatch):
    monkeypatch.setattr(finding, "MOST_UNREAD", 3)
    answer = ask(app, "HL-S-1001")
    assert "is still being made" in text_of(answer)
    app.extensions["shop"].write("job:new", {"filter": "filter:demo1", "truck": "QS 77"}, "person:kim", {})
    answer = ask(app, "qs 77")
    assert answer.status_code == 200 and "is still being made" in text_of(answer) and rows(answer) == ["HL-S-1001"]
    assert ask(app, "7K3M9QX07").status_code == 302, "a tag needs no index"
    app.extensions["shop"].judging.catch_up()
    assert ask(app, "qs 77").location == "/office/jobs/new"


def test_the_field_stands_on_every_page_of_the_desk_and_nowhere_before_it(app):
    desk = office(app)
    for path in ("/office/", "/office/questions", "/office/held", "/office/books", "/office/jobs/demo1"):
        assert desk.get(path).text.count('role="search"') == 1
    assert 'role="search"' not in app.test_client().get("/office/login").text
