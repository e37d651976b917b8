"""The desk voids, takes a void back, links two filters and takes them apart; a page that is no longer true is refused."""

import re

import pytest

from sync import lookup
from tests.office.test_access import office, token

JOB = "/office/jobs/demo1"


def form_of(desk, record, path=JOB):
    """The hidden fields of a record's void form."""
    page = desk.get(path).text
    [form] = re.findall(rf'data-record="{re.escape(record)}">(.*?)</form>', page, re.DOTALL)
    fields = re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form)
    return {**{name: text for name, text in fields if name != "ids"}, "ids": [text for name, text in fields if name == "ids"]}


def send(desk, record, state, reason="entered twice", path=JOB, **more):
    return desk.post("/office/void", data={**form_of(desk, record, path), "state": state, "reason": reason, **more})


def verdict(desk, path=JOB):
    return re.search(r'data-verdict="(\w+)"', desk.get(path).text).group(1)


def test_a_job_is_voided_with_a_reason_and_that_is_taken_back(app):
    desk = office(app)
    assert verdict(desk) == "ok_to_reinstall"
    assert send(desk, "job:demo1", "void").status_code == 302
    page = desk.get(JOB).text
    assert verdict(desk) == "hold" and "This job is void: entered twice." in page
    assert "Void" in desk.get("/office/").text
    assert send(desk, "job:demo1", "stands", "it was another").status_code == 302
    assert verdict(desk) == "ok_to_reinstall"
    store = app.extensions["shop"].store
    assert sum("void" in (entry["change"]["set"]) for entry in lookup.history(store, "job:demo1")) == 2


def test_a_void_beside_a_phones_edit_is_said_and_the_desk_decides(app):
    desk, shop = office(app), app.extensions["shop"]
    send(desk, "job:demo1", "void")
    shop.write("round:demo1-1", {"weight": {"mass": {"n": "14530", "u": "g"}, "temperature": "warm", "moisture": "wet"}},
               "person:kim", {"weight": [lookup.history(shop.store, "round:demo1-1")[0]["id"]]})  # as a phone that was away
    page = desk.get(JOB).text
    assert verdict(desk) == "hold" and "did not see" in page and "decide" in desk.get("/office/").text
    assert send(desk, "job:demo1", "void", "still twice").status_code == 302
    assert "This job is void: still twice." in desk.get(JOB).text


def test_a_round_is_voided_by_itself(app):
    desk = office(app)
    assert send(desk, "round:demo1-1", "void", "other filter").status_code == 302
    state = app.extensions["shop"].job_state("job:demo1")
    assert not any(name.startswith("round:demo1-1/") for name in state["evidence"]) and state["void"] is None


@pytest.mark.parametrize("more", [{"seen": "0" * 16}, {"ids": ["desk.r.1"]}])
def test_what_moved_since_the_page_was_shown_is_refused(app, more):
    desk = office(app)
    position = app.extensions["shop"].store.counter()["position"]
    assert send(desk, "job:demo1", "void", **more).status_code == 409
    assert app.extensions["shop"].store.counter()["position"] == position


@pytest.mark.parametrize("more", [{"reason": " "}, {"reason": "x" * 201}, {"state": "gone"}, {"record": "owner:moorland"},
                                  {"record": "job:nobody"}])
def test_a_void_without_a_reason_or_of_nothing_is_refused(app, more):
    desk = office(app)
    data = {**form_of(desk, "job:demo1"), "state": "void", "reason": "x", **more}
    assert desk.post("/office/void", data=data).status_code == 400


def test_two_filters_are_linked_by_a_tag_and_taken_apart_again(app):
    desk, shop = office(app), app.extensions["shop"]
    tag = lookup.records(shop.store, "tag")[-2]["record"].removeprefix("tag:")  # the second filter that was checked in
    data = {"csrf_token": token(desk, JOB), "filter": "filter:demo1", "job": "demo1", "tag": tag}
    assert desk.post("/office/link", data={**data, "tag": "nonsense"}).status_code == 422
    assert desk.post("/office/link", data={**data, "filter": "filter:nobody"}).status_code == 400
    assert desk.post("/office/link", data={**data, "filter": "job:demo1"}).status_code == 400
    assert desk.post("/office/link", data={**data, "reason": "same can"}).status_code == 302
    assert desk.post("/office/link", data=data).status_code == 422  # they are one already
    assert shop.group("filter:demo2")[0] == ["filter:demo1", "filter:demo2"]
    assert verdict(desk) == "hold" and "HL-S-1001 and HL-S-1002 are one filter" in desk.get(JOB).text
    [link] = [entry["record"] for entry in lookup.records(shop.store, "link")]
    assert send(desk, link, "void", "two cans after all").status_code == 302
    assert verdict(desk) == "ok_to_reinstall" and shop.group("filter:demo2")[0] == ["filter:demo2"]


def test_a_tag_bound_to_two_filters_is_asked_and_may_be_settled_as_one_filter(app):
    desk, shop = office(app), app.extensions["shop"]
    tag = lookup.records(shop.store, "tag")[-1]["record"]
    assert shop.write(tag, {"filter": "filter:demo2"}, "person:ravn", {})["status"] == "stored"
    assert verdict(desk) == "hold" and "leads to two filters" in desk.get(JOB).text
    page = desk.get("/office/questions").text
    ids = re.findall(r'name="ids" value="([^"]+)"', page)
    data = {"csrf_token": token(desk, "/office/questions"), "record": tag, "field": "filter", "ids": ids}
    assert len(ids) == 2 and desk.post("/office/questions", data={**data, "ids": ids[:1], "pick": "same"}).status_code == 400
    assert desk.post("/office/questions", data={**data, "pick": "same"}).status_code == 302
    assert shop.two_answers() == [] and shop.group("filter:demo1")[0] == ["filter:demo1", "filter:demo2"]
    assert "leads to two filters" not in desk.get(JOB).text
    newest = shop.job_of_tag(tag.removeprefix("tag:"))
    assert newest == "job:demo2"  # the newest job of the one filter, under whichever name


def test_the_truck_of_a_filter_is_noted_with_its_days(app):
    desk = office(app)
    data = {"csrf_token": token(desk, JOB), "filter": "filter:demo1", "job": "demo1", "truck": "HL 42", "since": "2026-01-05"}
    assert desk.post("/office/fitting", data={**data, "filter": "filter:nobody"}).status_code == 400
    answer = desk.post("/office/fitting", data={**data, "until": "2026-01-04"})
    assert answer.status_code == 422 and "before the first" in answer.text
    assert desk.post("/office/fitting", data=data).status_code == 302
    assert "HL 42, since 2026-01-05" in desk.get(JOB).text
    [record] = [entry["record"] for entry in lookup.records(app.extensions["shop"].store, "fitting")]
    send(desk, record, "void", "another truck")
    assert "HL 42, since" not in desk.get(JOB).text and "another truck" in desk.get(JOB).text
