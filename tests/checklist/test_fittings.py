"""Dated assignments of filters to trucks. Days and trucks are invented; leap days as in the Gregorian rule, from memory."""

import itertools

import pytest

from tests.checklist.test_void import change, views_of, voiding
from webform.checklist.check import refusal
from webform.checklist.fittings import fittings, is_day, trucks_on


def fitting(identity, record, truck, since, until=None, filter_id="filter:f"):
    span = {"since": since, **({"until": until} if until else {})}
    return change(identity, record, {"filter": filter_id, "truck": truck, "span": span})


ALL = [fitting("a.r.1", "fitting:1", "HL 1", "2024-03-01", "2025-06-30"), fitting("a.r.2", "fitting:2", "HL 2", "2025-07-01"),
       fitting("b.r.1", "fitting:3", "QS 9", "2025-01-01", "2025-12-31", "filter:g")]


@pytest.mark.parametrize(("day", "trucks"), [
    ("2024-02-29", []), ("2024-03-01", ["HL 1"]), ("2025-06-30", ["HL 1"]), ("2025-07-01", ["HL 2"]),
    ("2099-01-01", ["HL 2"]),
])
def test_a_day_leads_to_the_truck_of_that_day_whatever_the_order_of_the_changes(day, trucks):
    for order in itertools.permutations(ALL):
        assert trucks_on(["filter:f"], views_of(order), day) == trucks


def test_filters_that_are_one_share_their_trucks_and_an_overlap_shows_both():
    views = views_of(ALL)
    assert trucks_on(["filter:f", "filter:g"], views, "2025-08-01") == ["QS 9", "HL 2"]  # by their first day
    assert [entry["record"] for entry in fittings(["filter:f", "filter:g"], views)] == ["fitting:1", "fitting:3", "fitting:2"]


def test_a_void_fitting_and_one_with_two_answers_lead_nowhere():
    assert trucks_on(["filter:f"], views_of([*ALL, voiding("d.r.1", "fitting:2", ALL)]), "2026-01-01") == []
    assert trucks_on(["filter:f"], views_of([*ALL, change("d.r.1", "fitting:2", {"truck": "HL 3"})]), "2026-01-01") == []
    assert fittings(["filter:f"], views_of([change("a.r.1", "fitting:1", {"filter": "filter:f"})])) == []


@pytest.mark.parametrize(("text", "is_one"), [
    ("2026-11-25", True), ("2024-02-29", True), ("2000-02-29", True), ("2100-02-29", False), ("2026-02-29", False),
    ("2026-13-01", False), ("2026-00-01", False), ("2026-01-00", False), ("2026-04-31", False), ("2026-1-01", False),
    ("25.11.2026", False), ("2026/11/25", False), ("2026-11-2x", False), ("", False), (20261125, False),
])
def test_a_day_is_written_as_a_day_that_exists(text, is_one):
    assert is_day(text) is is_one


@pytest.mark.parametrize(("span", "code"), [
    ({"since": "2026-11-25"}, None), ({"since": "2026-11-25", "until": "2026-11-25"}, None),
    ({"since": "soon"}, "answer.no_day"), ({"since": "2026-11-25", "until": "2026-11-31"}, "answer.no_day"),
    ({"since": "2026-11-25", "until": "2026-11-24"}, "answer.days_upside_down"), ({"until": "2026-11-24"}, "answer.missing"),
])
def test_a_span_that_is_none_is_held(span, code):
    assert refusal(change("a.r.1", "fitting:1", {"span": span})) == code
