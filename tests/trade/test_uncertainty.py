"""Parts put together and chances within limits, against printed examples and independent integration."""

import math

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from webform.trade.flow import guarded_high
from webform.trade.functions import normal_quantile
from webform.trade.uncertainty import (
    combined_uncertainty,
    conformance_probability,
    effective_freedom,
    rectangular,
    resolution,
)


def test_the_end_gauge_of_the_guide():
    # JCGM 100:2008 H.1 prints 32 nm (u² = 1002 nm²); 31.66 unrounded from its inputs (read)
    parts = [25, 5.8137767, 3.8901699, 6.6666667, 2.8867873, 16.5990271]
    assert combined_uncertainty(parts) == pytest.approx(31.66, abs=0.01)


def test_the_ten_kilogram_weight():
    # EA-4/02 M:2022 S2 prints 29.2 mg from rounded rows (read); 29.26 unrounded
    parts = [45 / 2, rectangular(15), rectangular(10), rectangular(10), 25 / math.sqrt(3)]
    assert combined_uncertainty(parts) == pytest.approx(29.26, abs=0.01)


def test_a_restriction_on_the_bench():
    # 3.80 inH2O: s 0.03 of 3 readings, gauge ± 0.05, flow 1 % with sensitivity 1.1 x 3.80, step 0.01: 0.0537486 by hypot
    parts = [0.03 / math.sqrt(3), rectangular(0.05), 1.1 * 3.80 * 0.01, resolution(0.01)]
    assert combined_uncertainty(parts) == pytest.approx(0.0537486, abs=2e-6)


def test_effective_degrees_of_freedom_of_the_end_gauge():
    # JCGM 100:2008 H.1.6 prints 16.7 (from memory); by hand from these rounded parts 1003.06²/60,015 = 16.76
    parts, freedoms = [25.0, 9.7, 2.9, 16.6], [18.0, 25.6, 50.0, 2.0]
    assert effective_freedom(parts, freedoms) == pytest.approx(16.7, abs=0.07)


def test_exactly_known_parts_have_no_freedom_to_count():
    assert effective_freedom([1.0, 2.0], [None, None]) is None
    assert effective_freedom([0.0], [5.0]) is None
    # by hand: one part with 4 degrees of freedom and an exact one of the same size: (√2)⁴/(1/4) = 16
    assert effective_freedom([1.0, 1.0], [4.0, None]) == pytest.approx(16.0, rel=1e-12)


@pytest.mark.parametrize(("value", "u", "high", "share", "tolerance"), [
    # JCGM 106:2012 clause 7, computed with scipy 1.17.1 and statistics.NormalDist
    (3.8, 0.12, 4.0, 0.95221, 2e-6), (4.1, 0.12, 4.0, 0.202328, 2e-6), (0.3, 0.035, 1 / 3, 0.829548, 2e-6),
    (-5.47, 0.05, -5.40, 0.92, 0.005),  # the example of that clause, from memory
])
def test_the_chance_of_being_below_a_limit(value, u, high, share, tolerance):
    assert conformance_probability(value, u, None, high) == pytest.approx(share, abs=tolerance)
    assert conformance_probability(-value, u, -high, None) == pytest.approx(share, abs=tolerance)


@pytest.mark.parametrize(("low", "high", "chance"), [
    # by mpmath's normal distribution at test time; each was lost in what is left of 1, or was 0
    (10.0, 11.0, mpmath.ncdf(-10) - mpmath.ncdf(-11)), (-11.0, -10.0, mpmath.ncdf(-10) - mpmath.ncdf(-11)),
    (12.0, None, mpmath.ncdf(-12)), (None, -12.0, mpmath.ncdf(-12))])
def test_a_small_chance_is_no_rest_of_a_subtraction(low, high, chance):
    assert conformance_probability(0.0, 1.0, low, high) == pytest.approx(float(chance), rel=1e-12, abs=0)


def test_the_chance_between_two_limits():
    # resistor example: N(1500, 0.12), limits ± 0.20, inputs of JCGM 106:2012 clause 9.5 (read); 0.904419 by math.erf
    assert conformance_probability(1500.0, 0.12, 1499.8, 1500.2) == pytest.approx(0.904419, abs=2e-6)


def test_risks_of_consumer_and_producer_follow_from_it():
    # the same example, measured with u 0.04: 0.0189422 and 0.0372078, computed with scipy and a bivariate normal
    def joint(true):
        return stats.norm.pdf(true, 0.0, 0.12) * conformance_probability(true, 0.04, -0.2, 0.2)
    inside = integrate.quad(joint, -0.2, 0.2)[0]
    consumer = integrate.quad(joint, -0.8, -0.2)[0] + integrate.quad(joint, 0.2, 0.8)[0]
    producer = conformance_probability(0.0, 0.12, -0.2, 0.2) - inside
    assert (consumer, producer) == pytest.approx((0.0189422, 0.0372078), abs=3e-5)


def test_a_guard_band_of_two_u_lets_two_per_cent_through():
    # ILAC-G8:09/2019: w = U keeps a wrong accept below 2.5 %; 0.0227501 by math.erfc
    assert 1 - conformance_probability(4.0 - 0.24, 0.12, None, 4.0) == pytest.approx(0.0227501, abs=1e-6)


@pytest.mark.parametrize(("limit", "u", "k", "accept", "reject"), [
    (4.0, 0.12, 2.0, 3.76, 4.24), (1 / 3, 0.035, 1.645, 0.2757583, 0.3909083),  # limit - k u and limit + k u, algebra
])
def test_the_flow_window_s_guard_agrees_with_the_chances(limit, u, k, accept, reject):
    assert guarded_high(0.0, limit, u, k) == pytest.approx(accept, abs=1e-6)
    assert conformance_probability(accept, u, None, limit) == pytest.approx(stats.norm.cdf(k), abs=1e-6)
    assert conformance_probability(reject, u, None, limit) == pytest.approx(stats.norm.sf(k), abs=1e-6)


def test_without_uncertainty_a_limit_is_a_limit():
    chances = [conformance_probability(x, 0.0, 1.0, 2.0) for x in (0.9, 1.0, 1.5, 2.0, 2.1)]
    assert chances == [0.0, 1.0, 1.0, 1.0, 0.0]
    assert conformance_probability(5.0, 0.0, None, None) == conformance_probability(5.0, 1.0, None, None) == 1.0


BELIEVABLE = st.floats(-1e9, 1e9)


@given(BELIEVABLE, st.floats(0, 1e6), BELIEVABLE, st.floats(0, 1e6))
def test_chances_are_chances(value, u, low, width):
    both = conformance_probability(value, u, low, low + width)
    assert 0.0 <= both <= conformance_probability(value, u, None, low + width) <= 1.0
    assert both <= conformance_probability(value, u, low, None)


@given(st.floats(0.001, 0.999), st.floats(0.01, 100), BELIEVABLE)
def test_a_limit_at_a_quantile_has_that_chance(share, u, value):
    high = value + u * normal_quantile(share)
    # value and limit are rounded to 1e-7 near 1e9, so the chance moves by that over u
    assert conformance_probability(value, u, None, high) == pytest.approx(share, abs=1e-9 + 1e-7 / u)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=9), st.randoms())
def test_the_order_of_parts_does_not_matter(parts, random):
    shuffled = list(parts)
    random.shuffle(shuffled)
    assert combined_uncertainty(shuffled) == combined_uncertainty(parts) == pytest.approx(math.hypot(*parts), rel=1e-12)


@given(st.lists(st.tuples(st.floats(0, 1e6), st.none() | st.floats(1, 1e3)), min_size=1, max_size=6))
def test_effective_freedom_is_at_least_the_smallest(given_parts):
    parts, freedoms = [part for part, _ in given_parts], [freedom for _, freedom in given_parts]
    effective = effective_freedom(parts, freedoms)
    known = [freedom for freedom in freedoms if freedom is not None]
    assert effective is None or effective >= min(known) * (1 - 1e-9)
