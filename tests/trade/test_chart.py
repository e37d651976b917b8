"""Control charts against the handbook's example, run rules against a second reading of them, and checks by name."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.trade import chart
from webform.trade.functions import normal_cdf

# NIST/SEMATECH e-Handbook 6.3.2.2, flow rate of ten batches (data and limits read in five public transcriptions)
FLOW_RATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
believable = st.lists(st.floats(0, 5000), max_size=30)


def test_the_handbooks_centre_ranges_and_limits():
    found = chart.individuals(FLOW_RATE)
    assert found["ok"] and found["n"] == 10
    assert found["centre"] == pytest.approx(50.81, abs=1e-9)
    assert found["mean_range"] == pytest.approx(1.8778, abs=5e-5)
    assert (found["low"], found["high"]) == pytest.approx((45.8159, 55.8041), abs=1e-4)
    assert found["range_high"] == pytest.approx(3.267 * 1.8778, abs=2e-4)


def test_the_constants_are_those_of_a_range_of_two():
    # d2 = 2/sqrt(pi), D4 = 1 + 3 d3/d2, d3 = sqrt(2 - 4/pi): by hand from the half-normal distribution
    d2, d3 = 2 / math.sqrt(math.pi), math.sqrt(2 - 4 / math.pi)
    assert pytest.approx(d2, abs=5e-4) == chart.D2 == 1.128  # control-chart table (read)
    assert pytest.approx(1 + 3 * d3 / d2, abs=6e-4) == chart.D4 == 3.267  # control-chart table (read)


def test_a_sound_instrument_signals_once_in_three_hundred_and_seventy_points():
    # in-control run length of rule 1: 370.3983 points (math.erfc); by our own normal distribution
    assert 1 / (2 * normal_cdf(-chart.LIMIT_SIGMA)) == pytest.approx(370.3983, abs=0.01)


def test_too_few_checks_make_no_chart():
    assert chart.individuals(FLOW_RATE[:9]) == {"ok": False, "code": "chart.too_few", "n": 9, "needed": 10}
    assert chart.individuals([1.0], fewest=0) == {"ok": False, "code": "chart.too_few", "n": 1, "needed": 2}
    assert chart.individuals([1.0, 2.0], fewest=0)["ok"]


def test_equal_checks_make_no_chart():
    assert chart.individuals([612.0] * 10)["code"] == "chart.no_spread"


def test_distances_are_in_sigma():
    assert chart.distances([610.0, 613.0], 612.0, 2.0) == [-1.0, 0.5]


@pytest.mark.parametrize(("z", "expected"), [
    # zone rules of Western Electric as listed in NIST e-Handbook 6.3.2 (read); worked by two implementations (numpy)
    ([0.2, -0.4, 3.1, 0.5], [[2, 1]]), ([0.1, 2.2, 1.5, 2.4, 0.3], [[3, 2]]),
    ([-0.2, 0.3, 0.1, 0.5, 0.2, 0.6, 0.4, 0.9, -0.1], []), ([0, 3.0, -3.0, 0], []),
    # by hand
    ([0.3, 0.1, 0.5, 0.2, 0.6, 0.4, 0.9, 0.1, 0.2], [[7, 4], [8, 4]]), ([2.2, -2.2, 0.0], []),
    ([1.2, 1.3, 0.5, 1.4, 1.1], [[4, 3]]), ([1.2, 1.3, 1.1, 1.4, 0.5], [[3, 3]]), ([-2.1, 0.0, -2.1], [[2, 2]]),
    ([3.5, 2.5], [[0, 1], [1, 2]]), ([], [])])
def test_run_rules(z, expected):
    assert chart.signals(z) == expected


def again(z):
    """The four rules read a second time, by counting each side alone."""
    found = set()
    for sign in (1, -1):
        side = [sign * value for value in z]
        for rule, points, of, beyond in ((1, 1, 1, 3), (2, 2, 3, 2), (3, 4, 5, 1), (4, 8, 8, 0)):
            beyonds = [value > beyond for value in side]
            for place in range(len(z)):
                if beyonds[place] and sum(beyonds[max(0, place - of + 1):place + 1]) >= points:
                    found.add((place, rule))
    return [list(pair) for pair in sorted(found)]


@given(st.lists(st.one_of(st.floats(-4, 4), st.sampled_from([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0])), max_size=30))
def test_run_rules_agree_with_a_second_reading(z):
    assert chart.signals(z) == again(z)
    assert [place for place, _ in chart.signals([-value for value in z])] == [place for place, _ in chart.signals(z)]


@given(st.one_of(believable, st.lists(st.one_of(st.none(), st.text(max_size=1), st.floats()), max_size=20)))
def test_every_list_has_a_chart_or_a_reason(values):
    found = chart.individuals(values)
    if found["ok"]:
        assert found["low"] < found["centre"] < found["high"] and math.isfinite(found["range_high"])
        assert chart.signals(chart.distances([found["centre"]] * 9, found["centre"], found["sigma"])) == []
    else:
        assert found["code"] in ("chart.too_few", "chart.no_spread")


def check(name, before, ok=True, instrument="scale"):
    return {"id": name, "instrument": instrument, "before": before, "ok": ok}


def taken(name, under, **more):
    return {"id": name, "check": under, **more}


def doubts(checks, readings):
    return [(entry["id"], entry["failed"], entry["since"]) for entry in chart.to_recheck(checks, readings)]


READINGS = [taken("r1", "c1"), taken("r2", "c2"), taken("r3", "c2"), taken("r4", "c3"), taken("r5", "c4")]


def test_a_failed_check_doubts_every_reading_since_the_last_good_one():
    checks = [check("c1", None), check("c2", "c1"), check("c3", "c2", ok=False), check("c4", "c3")]
    assert doubts(checks, READINGS) == [("r2", "c3", "c2"), ("r3", "c3", "c2"), ("r4", "c3", "c2")]


def test_good_checks_put_nothing_in_doubt():
    assert doubts([check("c1", None), check("c2", "c1")], READINGS) == []


def test_two_failed_checks_in_a_row_reach_back_to_the_same_good_one():
    checks = [check("c1", None), check("c2", "c1", ok=False), check("c3", "c2", ok=False)]
    assert doubts(checks, READINGS[:4]) == [
        ("r1", "c2", "c1"), ("r2", "c2", "c1"), ("r3", "c2", "c1"), ("r4", "c3", "c1")]


def test_a_check_made_on_two_phones_doubts_what_both_stand_on():
    checks = [check("c1", None), check("c2", "c1"), check("c3", "c1", ok=False)]
    assert doubts(checks, READINGS) == [("r1", "c3", "c1"), ("r4", "c3", "c1")]


def test_readings_without_a_check_are_in_doubt_when_the_first_check_fails():
    checks = [check("c1", None, ok=False)]
    readings = [taken("r1", None, instrument="scale"), taken("r2", None), taken("r3", None, instrument="bench")]
    assert doubts(checks, readings) == [("r1", "c1", None)]
    checks = [check("c0", None), check("c1", "c0", ok=False)]
    assert doubts(checks, readings) == []


def test_a_check_that_has_not_arrived_counts_as_the_last_good_one():
    assert doubts([check("c2", "c1", ok=False)], READINGS[:2]) == [("r1", "c2", "c1"), ("r2", "c2", "c1")]


def test_checks_that_name_each_other_in_a_circle_come_to_an_end():
    checks = [check("c1", "c2", ok=False), check("c2", "c1", ok=False)]
    assert doubts(checks, READINGS[:2]) == [("r1", "c1", None), ("r2", "c1", None)]


def test_another_instruments_check_ends_the_chain():
    checks = [check("c1", None, instrument="bench"), check("c2", "c1", ok=False)]
    assert doubts(checks, READINGS) == [("r2", "c2", None), ("r3", "c2", None)]


@pytest.mark.parametrize(("under", "code"), [
    (None, "check.none"), ("c9", "check.unknown"), ("c3", "check.failed"), ("c2", "check.failed_later"),
    ("c1", "check.good"), ("c4", "check.good")])
def test_what_a_check_says_of_a_reading(under, code):
    checks = [check("c1", None), check("c2", "c1"), check("c3", "c2", ok=False), check("c4", "c3")]
    assert chart.covering_check(checks, taken("r", under)) == {"ok": code == "check.good", "code": code, "check": under}


names = st.sampled_from(["a", "b", "c", "d", "e"])
def test_a_check_that_proves_nothing_fails_nobody_and_covers_nothing():
    # A check without a barometer on the hill, between a good and a failed one, and the same without the failed one.
    checks = [check("c1", None), check("c2", "c1", ok=None)]
    assert doubts(checks, READINGS) == []
    assert chart.covering_check(checks, taken("r", "c2"))["code"] == "check.unproven"
    failed = [*checks, check("c3", "c2", ok=False)]
    assert doubts(failed, READINGS[:4]) == [("r1", "c3", "c1"), ("r2", "c3", "c1"), ("r3", "c3", "c1"), ("r4", "c3", "c1")]
    assert chart.covering_check(failed, taken("r", "c2"))["code"] == "check.failed_later"


states = st.sampled_from([True, True, False, None])
books = st.lists(st.builds(check, names, st.one_of(st.none(), names), states, st.sampled_from(["scale", "bench"])),
                 max_size=5, unique_by=lambda entry: entry["id"])
pages = st.lists(st.builds(taken, st.integers(0, 9), st.one_of(st.none(), names)), max_size=8)


@given(books, pages)
def test_the_order_of_checks_does_not_matter_and_a_failed_ones_readings_are_always_listed(checks, readings):
    found = chart.to_recheck(checks, readings)
    assert chart.to_recheck(checks[::-1], readings) == found
    failed = {entry["id"] for entry in checks if entry["ok"] is False}
    assert {reading["id"] for reading in readings if reading["check"] in failed} <= {entry["id"] for entry in found}
    for reading in readings:
        assert chart.covering_check(checks, reading)["code"].startswith("check.")


@given(books, pages)
def test_one_more_good_check_never_clears_or_adds_a_doubt(checks, readings):
    later = [*checks, check("z", checks[-1]["id"] if checks else None)]
    assert chart.to_recheck(later, readings) == chart.to_recheck(checks, readings)


@pytest.mark.parametrize(("last", "now", "is_due"), [
    (None, 1000.0, True), (1000.0, 1000.0, False), (1000.0, 1099.9, False), (1000.0, 1100.0, True), (1050.0, 1000.0, False),
    (5000.0, 1000.0, True), ("x", 1000.0, True)])
def test_when_a_check_is_due(last, now, is_due):
    assert chart.is_due(last, now, 100.0) is is_due


def test_without_a_period_a_check_is_always_due():
    assert chart.is_due(1000.0, 1000.0, 0.0)
