"""Rounding, sums and intervals against exact arithmetic and published tables."""

import doctest
import importlib
import math
import pkgutil
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import webform.trade
from webform.trade import figures, intervals

BELIEVABLE = st.floats(-1e9, 1e9, allow_nan=False)


@pytest.mark.parametrize("name", [entry.name for entry in pkgutil.iter_modules(webform.trade.__path__)])
def test_the_examples_in_the_docstrings_hold(name):
    assert doctest.testmod(importlib.import_module("webform.trade." + name)).failed == 0


@given(st.integers(-10**9, 10**9), st.integers(0, 4))
def test_ties_go_away_from_zero(halves, decimals):
    x = halves / 2.0  # exact in binary
    step = Decimal(1).scaleb(-decimals)
    assert Decimal(figures.fixed(x, decimals)) == Decimal(x).quantize(step, ROUND_HALF_UP)
    assert Decimal(figures.quantise(x, 0)) == Decimal(x).quantize(Decimal(1), ROUND_HALF_UP)


@given(BELIEVABLE, st.integers(0, 4))
def test_a_quantised_figure_is_within_half_a_step_and_stays(x, decimals):
    quantised = figures.quantise(x, decimals)
    assert abs(quantised - x) <= 0.5000001 * 10.0 ** -decimals + abs(x) * 1e-15
    assert figures.quantise(quantised, decimals) == quantised
    assert float(figures.fixed(x, decimals)) == quantised


@pytest.mark.parametrize("x", [1e300, -1e300, 1e16, math.inf, -math.inf, math.nan])
def test_figures_beyond_belief_do_not_raise(x):
    assert isinstance(figures.fixed(x, 3), str)
    assert isinstance(figures.trimmed(x, 3), str)
    figures.quantise(x, 3)


@pytest.mark.parametrize("x", [math.nan, math.inf, 1e13, "3", None, True, [3]])
def test_only_believable_numbers_are_readings(x):
    assert figures.reading(x) is None


@given(st.lists(BELIEVABLE, min_size=1, max_size=20), st.randoms())
def test_a_mean_does_not_depend_on_the_order(xs, random):
    shuffled = list(xs)
    random.shuffle(shuffled)
    assert figures.mean(shuffled) == figures.mean(xs)
    exact = sum(Fraction(x) for x in xs) / len(xs)
    assert abs(Fraction(figures.mean(xs)) - exact) <= Fraction(1, 10**4)


def test_the_deviation_worked_by_hand():
    # 2 4 4 4 5 5 7 9: mean 5, squares 9+1+1+1+0+0+4+16 = 32, 32/7 = 4.571429, root 2.138090
    assert figures.deviation([2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]) == pytest.approx(2.138090, abs=1e-6)


# NIST/SEMATECH e-Handbook 1.3.6.7.2, column 0.975: degrees of freedom and printed quantile.
PRINTED_T = [(1, 12.706), (2, 4.303), (3, 3.182), (4, 2.776), (5, 2.571), (7, 2.365), (10, 2.228), (15, 2.131),
             (19, 2.093), (20, 2.086), (23, 2.069), (25, 2.060), (29, 2.045), (30, 2.042), (40, 2.021), (50, 2.009),
             (60, 2.000)]


@pytest.mark.parametrize(("freedom", "printed"), PRINTED_T)
def test_t_quantiles_agree_with_the_printed_table(freedom, printed):
    assert intervals.student_95(freedom) == pytest.approx(printed, abs=0.0005001)


@pytest.mark.parametrize(("freedom", "printed"), [(80, 1.990), (100, 1.984)])  # the same table
def test_t_quantiles_beyond_our_table_agree_with_the_printed_one(freedom, printed):
    assert intervals.student_95(freedom) == pytest.approx(printed, abs=0.0005001)


@given(st.integers(1, 100000))
def test_t_quantiles_agree_with_an_independent_library(freedom):
    assert intervals.student_95(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), abs=6e-7)


def test_t_quantiles_fall_steadily_to_the_normal_one():
    values = [intervals.student_95(freedom) for freedom in [*range(1, 400), 5000, 100000, 10**9]]
    assert values == sorted(values, reverse=True)
    assert values[-1] == pytest.approx(intervals.NORMAL_95, abs=1e-6)


def test_the_interval_of_a_thousand_cells_is_no_wider_than_it_is():
    fractions = [place % 8 / 8 for place in range(1000)]
    low, high = intervals.of_mean(fractions)
    half = stats.t.ppf(0.975, 999) * stats.tstd(fractions) / math.sqrt(1000)  # the last row of the table made it 1.9 % wider
    assert (high - low) / 2 == pytest.approx(half, rel=1e-6)


def with_mean_and_deviation(mean, deviation, count):
    """Half the figures below, half above the mean, so that the sample deviation is the one asked for (even count)."""
    away = deviation * math.sqrt((count - 1) / count)
    return [mean - away] * (count // 2) + [mean + away] * (count // 2)


@pytest.mark.parametrize(("mean", "deviation", "count", "low", "high"), [
    (0.25, 0.2, 24, 0.165547, 0.334453),  # computed with scipy 1.17.1, stats.t.interval
    (0.1, 0.12, 20, 0.0438383, 0.156162),  # the same
])
def test_intervals_of_a_mean_agree_with_an_independent_library(mean, deviation, count, low, high):
    assert intervals.of_mean(with_mean_and_deviation(mean, deviation, count)) == pytest.approx((low, high), abs=2e-6)


@pytest.mark.parametrize(("hits", "count", "low", "high"), [
    (15, 148, 0.0624, 0.1605),  # Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3
    (0, 20, 0.0, 0.1611),  # the same
    (1, 29, 0.0061, 0.1718),  # the same
    (8, 24, 0.179722, 0.532937),  # statsmodels 0.15.0, wilson
    (6, 30, 0.0950511, 0.373057),  # the same
])
def test_intervals_of_a_share_agree_with_published_values(hits, count, low, high):
    assert intervals.of_share(hits, count) == pytest.approx((low, high), abs=6e-5)


@given(st.integers(1, 60), st.data())
def test_intervals_of_a_share_hold_it_and_mirror(count, data):
    hits = data.draw(st.integers(0, count))
    low, high = intervals.of_share(hits, count)
    assert 0.0 <= low <= hits / count <= high <= 1.0
    assert intervals.of_share(count - hits, count) == pytest.approx((1 - high, 1 - low), abs=1e-12)


def test_one_cell_has_no_interval():
    assert intervals.of_mean([0.5]) is None
