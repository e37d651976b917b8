"""Own limits: the handbook's outlier examples, limits by hand and by scipy, and what holds for every list of readings."""

import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from webform.trade.own_numbers import FEWEST, esd_critical, far_off, own_limits

# Eleven invented restrictions in Pa of one model.
GOOD = [412.0, 420.5, 431.0, 405.5, 415.0, 440.0, 425.5, 418.0, 422.0, 411.0, 428.0]
# Rosner's data as printed in NIST/SEMATECH e-Handbook 1.3.5.17.3 (data, statistics and critical values read in five
# public test suites that quote the page; the page prints three decimals, cut)
ROSNER = [
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76,
    1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54,
    2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01]
# Tietjen and Moore's data, NIST/SEMATECH e-Handbook 1.3.5.17.1 (read in public test suites)
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
believable = st.lists(st.floats(0, 5000), max_size=40)
anything = st.lists(st.one_of(st.none(), st.booleans(), st.text(max_size=2), st.integers(), st.floats()), max_size=40)


def codes(answer):
    return [(entry["place"], entry["code"]) for entry in answer["set_aside"]]


def test_the_handbooks_three_outliers_are_found():
    assert sorted(far_off(ROSNER, 10, 0.05)) == [51, 52, 53]


@pytest.mark.parametrize(("n", "printed"), [
    (54, 3.158), (53, 3.151), (52, 3.143), (51, 3.136), (50, 3.128), (49, 3.120), (48, 3.111), (47, 3.103),
    (46, 3.094), (45, 3.085)])
def test_critical_values_agree_with_the_handbook(n, printed):
    assert printed <= esd_critical(n, 0.05) < printed + 0.0012


@pytest.mark.parametrize(("n", "printed"), [(5, 1.715), (10, 2.290), (20, 2.709), (30, 2.908)])
def test_critical_values_agree_with_grubbs_table(n, printed):
    # two-sided 5 % critical values of Grubbs's test (printed table, read in a public test suite; last digit uncertain)
    assert esd_critical(n, 0.05) == pytest.approx(printed, abs=1.1e-3)


def test_one_critical_value_by_scipy():
    t = stats.t.ppf(1 - 0.01 / 24, 10)
    assert esd_critical(12, 0.01) == pytest.approx(11 / math.sqrt(12) * math.sqrt(t * t / (10 + t * t)), rel=1e-10)


def test_the_handbooks_single_outlier_is_found_also_at_our_chance():
    assert far_off(URANIUM, 1, 0.05) == far_off(URANIUM, 1, 0.01) == [7]


def test_sound_readings_give_the_tolerance_interval():
    answer = own_limits(GOOD)
    middle, spread = statistics.mean(GOOD), statistics.stdev(GOOD)
    assert answer["ok"] and answer["n"] == 11 and answer["set_aside"] == []
    assert (answer["mean"], answer["deviation"]) == pytest.approx((middle, spread), abs=6e-4)
    assert answer["low"] == pytest.approx(middle - answer["factor"] * spread, abs=0.01)
    assert answer["high"] == pytest.approx(middle + answer["factor"] * spread, abs=0.01)


def test_ten_readings_use_the_printed_factor():
    answer = own_limits(GOOD[:10])
    assert answer["factor"] == pytest.approx(3.3935, abs=6e-4)  # ISO 16269-6:2014 Annex F (read in a public test suite)


@pytest.mark.parametrize("bad", [1900.0, 4.2, 0.0, 520.0])
def test_one_bad_entry_is_set_aside_and_listed(bad):
    values = GOOD[:4] + [bad] + GOOD[4:]
    answer, clean = own_limits(values), own_limits(GOOD)
    assert answer["set_aside"] == [{"place": 4, "value": bad, "code": "own.far_off"}]
    assert all(answer[key] == clean[key] for key in ("low", "high", "n", "factor"))


def test_two_bad_entries_in_twenty_cannot_hide_each_other():
    values = GOOD + [value + 1.5 for value in GOOD[:9]] + [1900.0, 1950.0]
    assert codes(own_limits(values)) == [(20, "own.far_off"), (21, "own.far_off")]


def test_unreadable_entries_are_listed_too():
    answer = own_limits([None, *GOOD, -3.0, "420", float("nan"), 9e99])
    assert answer["n"] == 11
    assert codes(answer) == [(place, "own.unreadable") for place in (0, 12, 13, 14, 15)]
    assert [entry["value"] for entry in answer["set_aside"]] == [None, -3.0, None, None, None]


def test_too_few_readings_are_refused_with_what_it_takes():
    answer = own_limits(GOOD[:9])
    assert answer == {"ok": False, "code": "own.too_few", "n": 9, "needed": FEWEST, "set_aside": []}


def test_a_bad_entry_does_not_count_towards_the_fewest():
    answer = own_limits([*GOOD[:9], 1900.0])
    assert (answer["code"], answer["n"], answer["needed"]) == ("own.too_few", 9, 10)
    assert codes(answer) == [(9, "own.far_off")]


def test_a_shop_may_ask_for_more_but_never_for_fewer_than_five():
    assert own_limits(GOOD, fewest=12)["needed"] == 12
    assert own_limits(GOOD[:4], fewest=1) == {"ok": False, "code": "own.too_few", "n": 4, "needed": 5, "set_aside": []}
    assert own_limits(GOOD[:5], fewest=1)["ok"]


def test_equal_readings_say_nothing_about_spread():
    assert own_limits([420.0] * 12)["code"] == "own.no_spread"
    nearly = own_limits([420.0] * 12 + [420.1])
    assert (nearly["code"], codes(nearly)) == ("own.no_spread", [(12, "own.far_off")])


@pytest.mark.parametrize(("coverage", "confidence"), [(0.4, 0.95), (1.0, 0.95), (0.95, 1.0), (0.95, float("nan"))])
def test_a_share_out_of_range_is_refused(coverage, confidence):
    assert own_limits(GOOD, coverage, confidence)["code"] == "own.bad_share"


def test_what_is_no_list_counts_as_no_readings():
    assert own_limits(None) == {"ok": False, "code": "own.too_few", "n": 0, "needed": 10, "set_aside": []}


def test_equally_far_entries_are_told_apart_by_value_not_by_place():
    values = [10.0, 10.0, 10.0, 10.0, 0.0, 20.0]
    assert [values[place] for place in far_off(values, 2, 0.6)] == [20.0, 0.0]
    assert [values[::-1][place] for place in far_off(values[::-1], 2, 0.6)] == [20.0, 0.0]


@settings(max_examples=60)
@given(believable, st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(values, order):
    shuffled = list(values)
    order.shuffle(shuffled)
    one, other = own_limits(values), own_limits(shuffled)
    assert sorted(str(entry["value"]) for entry in one.pop("set_aside")) == sorted(
        str(entry["value"]) for entry in other.pop("set_aside"))
    assert one == other


@settings(max_examples=40)
@given(st.one_of(believable, anything))
def test_every_list_has_an_answer_and_every_entry_is_accounted_for(values):
    answer = own_limits(values)
    assert answer["n"] + len(answer["set_aside"]) == len(values)
    if answer["ok"]:
        assert 0 <= answer["low"] <= answer["mean"] <= answer["high"] < math.inf


def test_limits_of_a_sound_model_hold_what_they_promise():
    chance, misses = random.Random(7), 0
    for _ in range(100):
        answer = own_limits([chance.gauss(420, 12) for _ in range(12)])
        if answer["ok"]:  # a sound set may lose one entry and still have eleven
            misses += stats.norm.cdf(answer["high"], 420, 12) - stats.norm.cdf(answer["low"], 420, 12) < 0.95
    assert misses <= 12  # 5 % promised: 5 expected of 100, 12 is three standard deviations more
