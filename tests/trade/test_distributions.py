"""Portable distributions against scipy 1.17.1 and mpmath (general-purpose libraries) and published intervals."""

import math

import mpmath
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import integrate, special, stats

from webform.trade import distributions, flow, functions, intervals

mpmath.mp.dps = 30
shares = st.floats(1e-6, 1 - 1e-6)
freedoms = st.one_of(st.integers(1, 300).map(float), st.floats(1, 60))
REL = 1e-10  # asked for: 1e-8


@given(st.floats(1e-3, 1e4))
def test_log_gamma_agrees_with_mpmath(x):
    assert distributions.log_gamma(x) == pytest.approx(float(mpmath.loggamma(x)), rel=1e-12, abs=1e-13)


@given(st.floats(0.1, 2000), st.floats(1e-3, 3000))
def test_both_incomplete_gammas_agree_with_scipy(a, x):
    below, above = distributions.gamma_shares(a, x)
    assert below == pytest.approx(special.gammainc(a, x), rel=1e-9, abs=1e-290)
    assert above == pytest.approx(special.gammaincc(a, x), rel=1e-9, abs=1e-290)


@pytest.mark.parametrize(("a", "x"), [(0.5, 1e-9), (0.5, 30.0), (4.5, 60.0), (25.0, 3.0), (150.0, 151.5)])
def test_small_incomplete_gammas_agree_with_mpmath(a, x):
    below, above = distributions.gamma_shares(a, x)
    assert below == pytest.approx(float(mpmath.gammainc(a, 0, x, regularized=True)), rel=REL)
    assert above == pytest.approx(float(mpmath.gammainc(a, x, mpmath.inf, regularized=True)), rel=REL)


@given(st.floats(0.2, 500), st.floats(0.2, 500), st.floats(0.001, 0.999))
def test_incomplete_beta_agrees_with_scipy(a, b, x):
    assert distributions.beta_below(a, b, x) == pytest.approx(special.betainc(a, b, x), rel=REL, abs=1e-12)


def test_ends_of_the_incomplete_functions_are_exact():
    assert distributions.gamma_shares(2.0, 0.0) == (0.0, 1.0)
    assert (distributions.beta_below(2.0, 3.0, 0.0), distributions.beta_below(2.0, 3.0, 1.0)) == (0.0, 1.0)


@settings(max_examples=50)
@given(shares, freedoms)
def test_chi_square_quantile_agrees_with_scipy(share, freedom):
    assert distributions.chi_square_quantile(share, freedom) == pytest.approx(stats.chi2.ppf(share, freedom), rel=REL)


@settings(max_examples=50)
@given(shares, freedoms)
def test_student_quantile_agrees_with_scipy(share, freedom):
    expected = stats.t.ppf(share, freedom)
    assert distributions.student_quantile(share, freedom) == pytest.approx(expected, rel=1e-9, abs=1e-12)


@given(st.floats(1e-3, 60), freedoms)
def test_share_above_t_agrees_with_scipy(t, freedom):
    assert distributions.student_above(t, freedom) == pytest.approx(stats.t.sf(t, freedom), rel=1e-9, abs=1e-290)


@example(7.65e-9, 1.0)
@given(st.floats(0, 1e-3), freedoms)
def test_share_above_a_small_t_agrees_with_mpmath(t, freedom):
    # Not with scipy: near 1e-8 and with one degree of freedom its stats.t.sf is off by 5e-9 (1.17.1, with Boost).
    t, freedom = mpmath.mpf(t), mpmath.mpf(freedom)
    within = mpmath.betainc(0.5, freedom / 2, 0, t * t / (freedom + t * t), regularized=True)
    assert distributions.student_above(float(t), float(freedom)) == pytest.approx(float((1 - within) / 2), rel=1e-14)


@pytest.mark.parametrize(("t", "freedom"), [(8.0, 100.0), (30.0, 999.0), (30.0, 10000.0), (1.7, 1.0), (1.8, 1e4)])
def test_a_small_share_above_t_is_no_rest_of_a_subtraction(t, freedom):
    # mpmath's incomplete beta, A&S 26.7.1 and 26.5.27; at 30 and 999 it is 8.4e-142, and was 0
    x = mpmath.mpf(freedom) / (mpmath.mpf(freedom) + mpmath.mpf(t) ** 2)
    above = mpmath.betainc(mpmath.mpf(freedom) / 2, 0.5, 0, x, regularized=True) / 2
    assert distributions.student_above(t, freedom) == pytest.approx(float(above), rel=1e-10, abs=0)


@settings(max_examples=50)
@given(st.integers(1, 300), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_clopper_pearson_agrees_with_scipy(count, data, confidence):
    hits = data.draw(st.integers(0, count))
    found = stats.binomtest(hits, count).proportion_ci(confidence, "exact")
    assert distributions.clopper_pearson(hits, count, confidence) == pytest.approx((found.low, found.high), rel=REL)


def noncentral_by_mpmath(t, freedom, delta):
    """P((Z + delta)/(s/sigma) < t) by mpmath quadrature over the chi-square variable."""
    def part(chi_square):
        below = mpmath.ncdf(t * mpmath.sqrt(chi_square / freedom) - delta)
        return below * chi_square ** (freedom / 2 - 1) * mpmath.exp(-chi_square / 2)
    top = freedom + 40 * math.sqrt(freedom) + 80
    whole = mpmath.quad(part, [0, freedom / 4, freedom, 2 * freedom, top])
    return float(whole / (2 ** mpmath.mpf(freedom / 2) * mpmath.gamma(freedom / 2)))


@pytest.mark.parametrize(("t", "freedom", "delta"), [
    (9.2, 9.0, 5.2), (3.0, 4.0, 3.7), (-1.0, 7.0, 0.5), (14.6, 49.0, 11.6), (12.0, 2.0, 2.3), (0.0, 5.0, 1.0)])
def test_noncentral_t_agrees_with_mpmath(t, freedom, delta):
    found = distributions.noncentral_t_cdf(t, freedom, delta)
    assert found == pytest.approx(noncentral_by_mpmath(t, freedom, delta), rel=1e-9)


@settings(max_examples=20)
@given(st.floats(0.01, 0.99), freedoms, st.floats(-4, 25))
def test_noncentral_t_quantile_is_the_inverse(share, freedom, delta):
    t = distributions.noncentral_t_quantile(share, freedom, delta)
    assert distributions.noncentral_t_cdf(t, freedom, delta) == pytest.approx(share, rel=REL)


def noncentral_by_scipy(t, freedom, delta):
    """P((Z + delta)/(s/sigma) < t), t and delta > 0, by scipy's chi-square and quadrature over Z: the order turned round."""
    def part(z):
        return stats.norm.pdf(z) * stats.chi2.sf(freedom * ((z + delta) / t) ** 2, freedom)
    return integrate.quad(part, -9, 9, epsabs=1e-13, epsrel=1e-13, limit=400, points=(-delta,) if delta < 9 else None)[0]


@pytest.mark.parametrize(("freedom", "delta", "share"), [
    (1.0, 6.7, 0.5), (1.0, 6.9, 0.05), (1.0, 240.0, 0.5), (2.0, 16.0, 0.95), (3.9, 9.5, 0.5), (4.0, 6.7, 0.95),
    (4.0, 60.0, 0.05), (30.0, 240.0, 0.5), (50.0, 60.0, 0.95), (1000.0, 240.0, 0.05)])
def test_a_far_off_noncentral_t_agrees_with_scipy(freedom, delta, share):
    # The share below t turns within 1/delta of s/sigma: steps that suit the spread of s alone were too coarse, 2 % off.
    t = distributions.noncentral_t_quantile(share, freedom, delta)
    assert noncentral_by_scipy(t, freedom, delta) == pytest.approx(share, abs=2e-11)
    assert distributions.noncentral_t_cdf(t, freedom, delta) == pytest.approx(share, rel=REL)
    assert distributions.noncentral_t_cdf(-t, freedom, -delta) == pytest.approx(1 - share, rel=REL)


@pytest.mark.parametrize(("t", "below"), [(0.0, 0.0), (1e-300, 0.0), (-3.0, 0.0), (1e300, 1.0)])
def test_a_far_off_noncentral_t_has_its_ends(t, below):
    assert distributions.noncentral_t_cdf(t, 1.0, 240.0) == pytest.approx(below, abs=1e-15)
    assert distributions.noncentral_t_cdf(-t, 1.0, -240.0) == pytest.approx(1.0 - below, abs=1e-15)


def test_noncentral_t_without_shift_is_student():
    assert distributions.noncentral_t_quantile(0.975, 9.0, 0.0) == pytest.approx(2.262157, abs=5e-7)  # NIST 1.3.6.7.2


@pytest.mark.parametrize(("hits", "count", "low", "high", "abs_"), [
    # Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 5 (from memory; recomputed with scipy)
    (81, 263, 0.2527, 0.3676, 6e-5), (0, 20, 0.0, 0.1684, 6e-5), (1, 29, 0.0009, 0.1776, 6e-5),
    # computed with scipy 1.17.1 and by bisection on binomial sums
    (0, 24, 0.0, 0.142474, 2e-6), (2, 24, 0.0102563, 0.269973, 2e-6), (3, 24, 0.0265593, 0.323611, 2e-6),
    (8, 24, 0.156302, 0.55322, 2e-6), (12, 24, 0.291242, 0.708758, 2e-6), (13, 24, 0.328208, 0.74447, 2e-6),
])
def test_clopper_pearson_agrees_with_the_published_intervals(hits, count, low, high, abs_):
    assert distributions.clopper_pearson(hits, count, 0.95) == pytest.approx((low, high), abs=abs_)


def test_clopper_pearson_agrees_with_the_handbooks_example():
    # NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20, 90 % two-sided (printed figures from memory, recomputed with scipy)
    assert distributions.clopper_pearson(4, 20, 0.90) == pytest.approx((0.071354, 0.401029), abs=2e-6)


def test_a_finite_number_of_cells_hardly_narrows_the_exact_limit():
    # 2 of 24 probed in 8659 cells: exact upper limit 2335 cells (scipy hypergeom and exact integers)
    high = distributions.clopper_pearson(2, 24, 0.95)[1]
    assert 2335 <= high * 8659 <= 2335 * 1.002


@pytest.mark.parametrize(("hits", "count", "low", "high", "abs_"), [
    # Newcombe 1998, Table I, method 3 (read in a public test file that cites the table)
    (15, 148, 0.0624, 0.1605, 6e-5), (0, 20, 0.0, 0.1611, 6e-5), (1, 29, 0.0061, 0.1718, 6e-5),
    # computed with scipy 1.17.1 / statsmodels 0.15.0
    (0, 24, 0.0, 0.137976, 2e-6), (2, 24, 0.0231588, 0.258488, 2e-6), (8, 24, 0.179722, 0.532937, 2e-6),
    (2, 20, 0.0278665, 0.301034, 2e-6), (6, 30, 0.0950511, 0.373057, 2e-6), (10, 30, 0.192305, 0.512199, 2e-6),
])
def test_wilson_agrees_with_the_published_intervals(hits, count, low, high, abs_):
    assert intervals.of_share(hits, count) == pytest.approx((low, high), abs=abs_)


@pytest.mark.parametrize(("mean", "deviation", "count", "low", "high"), [
    (9.26146, 0.022789, 195, 9.258242, 9.264679),  # NIST/SEMATECH e-Handbook 1.3.5.2 (read in public transcriptions)
    (0.25, 0.2, 24, 0.165547, 0.334453), (0.1, 0.12, 20, 0.0438383, 0.156162),  # computed with scipy 1.17.1
])
def test_interval_of_a_mean_by_the_portable_t(mean, deviation, count, low, high):
    half = distributions.student_quantile(0.975, count - 1.0) * deviation / math.sqrt(count)
    assert (mean - half, mean + half) == pytest.approx((low, high), abs=2e-6)


@pytest.mark.parametrize(("reading", "u", "limit", "share", "abs_"), [
    (3.8, 0.12, 4.0, 0.95221, 2e-6), (4.1, 0.12, 4.0, 0.202328, 2e-6),  # JCGM 106:2012 clause 7; scipy 1.17.1
    (0.3, 0.035, 1 / 3, 0.829548, 2e-6),  # as above
    (-5.47, 0.05, -5.40, 0.92, 0.005),  # JCGM 106:2012, printed example (from memory)
    (0.0, 1.0, -2.0, 0.0227501, 1e-6),  # chance of a wrong accept at a guard of 2 u; ILAC-G8:09/2019, math.erfc
])
def test_chance_of_lying_below_a_limit(reading, u, limit, share, abs_):
    assert functions.normal_cdf((limit - reading) / u) == pytest.approx(share, abs=abs_)


@pytest.mark.parametrize(("limit", "u", "coverage", "accept"), [
    (4.0, 0.12, 2.0, 3.76), (1 / 3, 0.035, 1.645, 0.2757583)])  # JCGM 106 clause 8; by algebra
def test_guarded_acceptance_limit(limit, u, coverage, accept):
    assert flow.guarded_high(0.0, limit, u, coverage) == pytest.approx(accept, abs=1e-6)
