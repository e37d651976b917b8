"""The desk's page of what waits for a person: whatever holds a job up is there, with buttons or the way to them."""

import re

import pytest

from sync import exchange, lookup
from sync.log import Unavailable
from tests.office.test_access import office, token
from webform.shop import standing_ids

PAGE = "/office/questions"


def page_of(app, desk):
    """What the desk sees once everything is judged."""
    app.extensions["shop"].judging.catch_up()
    return desk.get(PAGE).text


def forms(page, test_id):
    """Each form of that name: its hidden fields."""
    found = []
    for form in re.findall(rf'<form[^>]*data-testid="{test_id}"[^>]*>(.*?)</form>', page, re.DOTALL):
        fields = re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form)
        found.append({**dict(fields), "ids": [text for name, text in fields if name == "ids"]})
    return found


def stays(page):
    """The hidden fields of the jobs that the question "same stay or two" shows, by job."""
    [section] = re.findall(r'<section[^>]*data-testid="asked-stay"[^>]*>(.*?)</section>', page, re.DOTALL)
    found = forms(section.replace('class="answer"', 'data-testid="one"'), "one")
    return {one["record"]: one for one in found}


def count_of(app, desk):
    app.extensions["shop"].judging.catch_up()
    found = re.search(r'class="count">(\d+)<', desk.get("/office/").text)
    return int(found.group(1)) if found else 0


def sign(app, job, decision="ok_to_reinstall", person="person:kim", replaces=(), **more):
    """A sign-off as a phone makes it, on what the job shows now. replaces: the ids of those in whose place it stands."""
    shop = app.extensions["shop"]
    state = shop.job_state(job)
    basis = {name: state[name] for name in ("evidence", "verdict", "calculated", "calculation", "rules")}
    answer = {"decision": decision, "person": person, **more}
    assert shop.write(job, {"signoff": answer}, person, {"signoff": list(replaces)}, basis)["status"] == "stored"


def test_nothing_is_asked_of_a_shop_at_work(app):
    desk = office(app)
    assert "Nothing waits for a decision." in page_of(app, desk) and count_of(app, desk) == 0


def test_a_void_beside_an_edit_is_asked_with_what_it_did_not_see_and_settled_either_way(app):
    desk, shop = office(app), app.extensions["shop"]
    for state, verdict in (("void", "hold"), ("stands", "ok_to_reinstall")):
        [view] = lookup.views(shop.store, ["job:demo1"]).values()
        page = desk.get("/office/jobs/demo1").text
        [form] = re.findall(r'data-record="job:demo1">(.*?)</form>', page, re.DOTALL)
        given = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
        ids = re.findall(r'name="ids" value="([^"]*)"', form)
        assert desk.post("/office/void", data={**given, "ids": ids, "state": "void", "reason": "twice"}).status_code == 302
        weight = [answer["id"] for answer in view["fields"]["after.weight"]["answers"]]
        mass = {"n": "13790" if state == "void" else "13791", "u": "g"}
        shop.write("job:demo1", {"after.weight": {"mass": mass, "temperature": "cold", "moisture": "dry"}}, "person:ravn",
                   {"after.weight": weight})  # as a phone that was away
        page = page_of(app, desk)
        assert f"{mass['n']} g" in page and "This job: voided, and answered in meanwhile" in page and count_of(app, desk) == 1
        [asked] = forms(page, "asked-void")
        assert desk.post("/office/void", data={**asked, "state": state, "reason": "still twice"}).status_code == 302
        assert "Nothing waits" in page_of(app, desk) and shop.job_state("job:demo1")["verdict"] == verdict
        if state == "void":
            assert shop.job_state("job:demo1")["void"]["stands"]
            voided = [answer["id"] for answer in lookup.view(shop.store, "job:demo1")["fields"]["void"]["answers"]]
            shop.write("job:demo1", {"void": {"state": "stands", "reason": "x"}}, "desk:office", {"void": voided})


def test_void_and_not_void_at_once_is_asked_once(app):
    desk, shop = office(app), app.extensions["shop"]
    for state in ("void", "stands"):
        shop.write("job:demo2", {"void": {"state": state, "reason": state}}, "desk:office", {})
    page = page_of(app, desk)
    assert len(forms(page, "asked-void")) == 1 and 'data-testid="question"' not in page
    [asked] = forms(page, "asked-void")
    assert len(asked["ids"]) == 2
    desk.post("/office/void", data={**asked, "state": "stands", "reason": "it is here"})
    assert "Nothing waits" in page_of(app, desk)


def test_a_voided_round_that_was_edited_is_asked_too(app):
    desk, shop = office(app), app.extensions["shop"]
    before = lookup.view(shop.store, "round:demo1-1")
    shop.write("round:demo1-1", {"void": {"state": "void", "reason": "other filter"}}, "desk:office", {}, {"evidence": {}})
    page = page_of(app, desk)
    assert "Round 1: voided" in page and before is not None
    [asked] = forms(page, "asked-void")
    assert asked["record"] == "round:demo1-1"


def test_a_second_open_job_of_one_filter_is_asked_once_and_settled_by_voiding_one(app):
    desk, shop = office(app), app.extensions["shop"]
    shop.write("job:again", {"filter": "filter:demo2", "truck": "QS 7"}, "person:ravn", {})
    page = page_of(app, desk)
    asked = stays(page)
    assert set(asked) == {"job:demo2", "job:again"} and "Nothing entered yet" in page and count_of(app, desk) == 2
    given = {**asked["job:again"], "state": "void"}
    assert desk.post("/office/void", data={**given, "seen": "0" * 16}).status_code == 409
    assert desk.post("/office/void", data=given).status_code == 302
    assert "Nothing waits" in page_of(app, desk) and count_of(app, desk) == 0
    assert shop.job_state("job:again")["void"]["reason"] == "The same stay, opened twice"


def test_a_second_open_job_is_asked_no_more_once_the_earlier_one_is_signed(app):
    desk, shop = office(app), app.extensions["shop"]
    shop.write("job:again", {"filter": "filter:demo1"}, "person:ravn", {})
    assert 'data-testid="asked-stay"' in page_of(app, desk)
    sign(app, "job:demo1")
    assert shop.job_state("job:again")["why"] == []


def test_two_linked_filters_with_an_open_job_each_are_asked(app):
    desk, shop = office(app), app.extensions["shop"]
    shop.join("filter:demo1", "filter:demo2", "desk:office", "")
    assert set(stays(page_of(app, desk))) == {"job:demo1", "job:demo2"}


def test_a_tag_bound_to_two_filters_is_asked_with_its_buttons(app):
    desk, shop = office(app), app.extensions["shop"]
    tag = lookup.records(shop.store, "tag")[-1]["record"]
    shop.write(tag, {"filter": "filter:demo2"}, "person:ravn", {})
    page = page_of(app, desk)
    assert page.count('data-testid="question"') == 1 and 'data-testid="pick-same"' in page
    assert len(set(re.findall(r'state\.\w+', page))) == 0


def test_two_sign_offs_that_differ_are_asked_with_their_buttons(app):
    desk = office(app)
    sign(app, "job:demo1")
    sign(app, "job:demo1", "replace", "person:ravn")
    page = page_of(app, desk)
    assert page.count('data-testid="question"') == 1 and page.count('data-testid="pick"') == 2
    assert app.extensions["shop"].job_state("job:demo1")["verdict"] == "replace"


@pytest.mark.parametrize(("person", "sentence"), [("person:alex", "may not sign off"),
                                                  ("person:kim", "changed after the sign-off")])
def test_a_sign_off_that_no_longer_stands_leads_to_its_job(app, person, sentence):
    desk, shop = office(app), app.extensions["shop"]
    sign(app, "job:demo1", person=person)
    if person == "person:kim":
        shop.write("model:window", {"spec": {"low": {"n": "1.6", "u": "inH2O"}, "high": {"n": "1.9", "u": "inH2O"},
                                             "uncertainty": {"n": "0.05", "u": "inH2O"}, "origin": "x", "revision": "2"}},
                   "desk:office", {"spec": [lookup.view(shop.store, "model:window")["fields"]["spec"]["answers"][0]["id"]]})
    page = page_of(app, desk)
    assert page.count('data-testid="asked-sign"') == 1 and sentence in page and "/office/jobs/demo1" in page
    assert count_of(app, desk) == 1


@pytest.mark.parametrize(("decision", "is_asked"), [("replace", True), ("clean", False), ("clean_again", False),
                                                    ("hold", False)])
def test_a_sign_off_about_earlier_readings_is_asked_where_it_holds_the_job_and_nowhere_else(app, decision, is_asked):
    desk, shop = office(app), app.extensions["shop"]
    sign(app, "job:demo1", decision, reason="as it looks")
    assert "Nothing waits" in page_of(app, desk)
    weight = [answer["id"] for answer in lookup.view(shop.store, "job:demo1")["fields"]["after.weight"]["answers"]]
    shop.write("job:demo1", {"after.weight": {"mass": {"n": "13791", "u": "g"}, "temperature": "cold", "moisture": "dry"}},
               "person:ravn", {"after.weight": weight})
    state = shop.job_state("job:demo1")
    assert "Sign again" in desk.get("/office/").text and [why["code"] for why in state["why"]] == ["state.signed_earlier"]
    assert (state["verdict"] == "replace") is is_asked, "what was signed holds the job, or the readings lead on"
    page = page_of(app, desk)
    assert (page.count('data-testid="asked-sign"'), count_of(app, desk)) == ((1, 1) if is_asked else (0, 0))
    if is_asked:
        assert "The sign-off is about earlier readings." in page
        sign(app, "job:demo1", "replace", replaces=standing_ids(lookup.view(shop.store, "job:demo1"), "signoff"))
        assert "Nothing waits" in page_of(app, desk) and count_of(app, desk) == 0


def test_what_was_settled_since_it_was_judged_is_asked_no_more(app):
    desk, shop = office(app), app.extensions["shop"]
    shop.write("job:again", {"filter": "filter:demo2"}, "person:ravn", {})
    assert 'data-testid="asked-stay"' in page_of(app, desk)
    held = shop.verdicts.asking(10)
    shop.write("job:again", {"filter": "filter:demo9"}, "person:ravn",
               {"filter": [lookup.view(shop.store, "job:again")["fields"]["filter"]["answers"][0]["id"]]})
    assert set(held) == {"job:demo2", "job:again"}
    assert "Nothing waits" in desk.get(PAGE).text  # nobody has judged it meanwhile
    assert shop.verdicts.asking(10) == []


def test_one_filter_under_two_tags_is_settled_whole_or_not_at_all(app, monkeypatch):
    desk, shop = office(app), app.extensions["shop"]
    tag = lookup.records(shop.store, "tag")[-1]["record"]
    shop.write(tag, {"filter": "filter:demo2"}, "person:ravn", {})
    ids = re.findall(r'name="ids" value="([^"]+)"', desk.get(PAGE).text)
    given = {"csrf_token": token(desk, PAGE), "record": tag, "field": "filter", "ids": ids, "pick": "same"}
    position, real = shop.store.counter()["position"], exchange._merge

    def broken(*_):
        raise Unavailable("the disk is full")

    monkeypatch.setattr(exchange, "_merge", broken)
    assert desk.post(PAGE, data=given).status_code == 503
    assert shop.store.counter()["position"] == position and len(shop.two_answers()) == 1
    assert shop.group("filter:demo1")[0] == ["filter:demo1"]
    monkeypatch.setattr(exchange, "_merge", real)
    assert desk.post(PAGE, data=given).status_code == 302
    assert shop.store.counter()["position"] == position + 2 and shop.two_answers() == []
    assert shop.group("filter:demo1")[0] == ["filter:demo1", "filter:demo2"]


def test_a_job_whose_filter_is_asked_about_leads_to_the_question(app):
    desk, shop = office(app), app.extensions["shop"]
    assert "Settle it" not in desk.get("/office/jobs/demo2").text
    shop.write("job:again", {"filter": "filter:demo2"}, "person:ravn", {})
    assert "Settle it" in desk.get("/office/jobs/demo2").text
