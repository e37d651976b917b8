"""What screens mark beside the verdict: void rounds, links, and the report that was given to the owner. Readings invented."""

import json

import pytest

from tests.checklist.test_void import SHOP, change, state_of, views_of
from webform.checklist import void
from webform.checklist.calls import call
from webform.checklist.case import basis_of, job_state
from webform.words import catalogue

GIVEN = {"number": "2026-0001", "at": "2026-11-25T08:00:00.000Z", "verdict": "ok_to_reinstall"}


def voided(record, identity, changes):
    """A void of a record that has seen all of these changes."""
    seen = void.seen([views_of(changes)[record]])
    return change(identity, record, {"void": {"state": "void", "reason": "twice"}}, basis={"evidence": seen})


def signed(changes, identity="p.r.9"):
    """An OK by Kim on what these changes give."""
    state = job_state("job:j", views_of(changes))
    assert state["verdict"] == "ok_to_reinstall"
    return change(identity, "job:j", {"signoff": {"decision": "ok_to_reinstall", "person": "person:kim"}},
                  basis=basis_of(state), lamport=9)


def told(changes):
    """The job's report as the phone is told of it."""
    request = {"op": "job", "job": "job:j", "views": list(views_of(changes).values())}
    call(json.dumps({"op": "words", "catalogue": catalogue()}))
    answer = json.loads(call(json.dumps(request)))
    assert answer["ok"], answer
    return answer["value"]["report"]


def test_a_round_that_is_void_is_marked_and_one_beside_an_edit_is_not():
    assert state_of(SHOP)["marks"] == {"void_rounds": [], "links": []}
    changes = [*SHOP, voided("round:a", "o.r.1", SHOP)]
    assert state_of(changes)["marks"]["void_rounds"] == ["round:a"]
    edited = [*changes, change("p.r.1", "round:a", {"weight": {"skipped": "other"}})]
    assert state_of(edited)["marks"]["void_rounds"] == []


def test_links_of_a_filter_are_told_with_those_that_were_taken_apart_and_no_others():
    linked = change("o.r.1", "link:l", {"one": "filter:g", "other": "filter:f"})
    other = change("o.r.2", "link:x", {"one": "filter:y", "other": "filter:z"})
    half = change("o.r.3", "link:h", {"one": "filter:y"})
    changes = [*SHOP, linked, other, half]
    mark = {"record": "link:l", "one": "filter:g", "other": "filter:f", "is_void": False}
    assert state_of(changes)["marks"]["links"] == [mark]
    apart = [*changes, voided("link:l", "o.r.4", changes)]
    assert job_state("job:j", views_of(apart))["marks"]["links"] == [{**mark, "is_void": True}]


def test_the_phone_asks_which_filters_are_one():
    links = [change("o.r.1", "link:l", {"one": "filter:g", "other": "filter:f"}),
             change("o.r.2", "link:k", {"one": "filter:g", "other": "filter:h"})]
    def same(changes):
        request = {"op": "same", "filter": "filter:f", "views": list(views_of(changes).values())}
        return json.loads(call(json.dumps(request)))["value"]
    assert same(links) == ["filter:f", "filter:g", "filter:h"]
    assert same([*links, voided("link:l", "o.r.3", links)]) == ["filter:f"] and same([]) == ["filter:f"]


def test_a_report_is_recalled_exactly_while_the_job_reads_worse_than_it_says():
    base = [*SHOP, signed(SHOP)]
    assert state_of(base)["report"] is None
    issued = [*base, change("o.r.1", "job:j", {"report": GIVEN})]
    assert state_of(issued)["report"] == {**GIVEN, "is_recalled": False}
    assert told(issued)["text"] == "Report 2026-0001 was given to the owner: OK to reinstall."
    late = [*issued, change("p.r.1", "job:j", {"after.light": {"kind": "crack"}}, {"after.light": ["s.r.4"]}, lamport=10)]
    assert state_of(late)["report"]["is_recalled"]
    assert told(late)["text"] == (
        "Report 2026-0001, given to the owner, no longer stands: it says OK to reinstall, the job reads Replace now. "
        "A reading changed after the sign-off. Look at it again and sign again.")
    newer = [*late, change("o.r.2", "job:j", {"report": {**GIVEN, "number": "2026-0002", "verdict": "replace"}},
                           {"report": ["o.r.1"]}, lamport=11)]
    assert state_of(newer)["report"] == {**GIVEN, "number": "2026-0002", "verdict": "replace", "is_recalled": False}


def test_giving_a_report_shakes_neither_verdict_nor_sign_off():
    base = [*SHOP, signed(SHOP)]
    before, after = state_of(base), state_of([*base, change("o.r.1", "job:j", {"report": GIVEN})])
    assert {**after, "report": None} == before and before["may_issue"]


@pytest.mark.parametrize("reversed_order", [False, True])
def test_of_two_reports_given_at_once_the_later_counts_and_nothing_is_held_up(reversed_order):
    two = [change("o.r.1", "job:j", {"report": GIVEN}, lamport=11),
           change("q.r.1", "job:j", {"report": {**GIVEN, "number": "2026-0002"}}, lamport=12)]
    state = state_of([*SHOP, signed(SHOP), *(reversed(two) if reversed_order else two)])
    assert state["report"]["number"] == "2026-0002" and state["verdict"] == "ok_to_reinstall"


def test_without_a_why_the_first_reason_of_the_stage_tells_why():
    black = [*SHOP, change("p.r.1", "job:j", {"after.light": {"kind": "crack"}}, {"after.light": ["s.r.4"]}, lamport=10)]
    text = told([*black, change("o.r.1", "job:j", {"report": GIVEN})])["text"]
    assert "the job reads Replace now. " in text and not text.endswith("now.")
