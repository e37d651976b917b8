"""Tolerance factors against printed tables, scipy's noncentral t, and an integration of their own by scipy."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, optimize, stats

from webform.trade import tolerance

# Montgomery & Runger, Applied Statistics and Probability for Engineers, 7th ed., Table XII (read in the test suite of
# PyPI toleranceinterval 1.0.3): n, coverage, confidence, k1
ONE_SIDED = [
    (8, 0.95, 0.95, 3.187), (10, 0.95, 0.95, 2.911), (15, 0.95, 0.95, 2.566), (30, 0.95, 0.95, 2.220),
    (50, 0.95, 0.95, 2.065), (5, 0.90, 0.95, 3.407), (8, 0.90, 0.95, 2.582), (15, 0.90, 0.95, 2.068),
    (50, 0.90, 0.95, 1.646), (8, 0.95, 0.90, 2.754), (15, 0.95, 0.90, 2.329), (50, 0.95, 0.90, 1.965)]
# Meeker, Hahn & Escobar, Statistical Intervals, 2nd ed., Table J.5b (read in the same test suite)
TWO_SIDED = [
    (8, 0.95, 0.95, 3.746), (10, 0.95, 0.95, 3.393), (15, 0.95, 0.95, 2.965), (30, 0.95, 0.95, 2.555),
    (50, 0.95, 0.95, 2.382), (8, 0.90, 0.95, 3.156), (15, 0.90, 0.95, 2.492), (8, 0.95, 0.90, 3.270),
    (10, 0.95, 0.90, 3.026), (15, 0.95, 0.90, 2.720), (20, 0.95, 0.90, 2.570), (50, 0.95, 0.90, 2.285)]
# ISO 16269-6:2014 Annex F, m = 1, rounded up at the fourth decimal (read in the same test suite)
ISO_16269_6 = [(10, 0.95, 0.95, 3.3935), (8, 0.90, 0.95, 3.1561), (15, 0.95, 0.90, 2.7196), (30, 0.95, 0.90, 2.4166)]
counts = st.integers(2, 120)
coverages = st.floats(0.5, 0.999)
confidences = st.floats(0.05, 0.995)


@pytest.mark.parametrize(("n", "coverage", "confidence", "factor"), ONE_SIDED)
def test_one_sided_factor_agrees_with_the_printed_table(n, coverage, confidence, factor):
    assert tolerance.one_sided(n, coverage, confidence) == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("n", "coverage", "confidence", "factor"), [
    (43, 0.90, 0.99, 1.8740), (6, 0.90, 0.99, 4.4111)])  # NIST/SEMATECH e-Handbook 7.2.6.3 (page text read)
def test_one_sided_factor_agrees_with_the_handbook(n, coverage, confidence, factor):
    assert tolerance.one_sided(n, coverage, confidence) == pytest.approx(factor, abs=6e-5)


@pytest.mark.parametrize(("n", "coverage", "confidence", "factor"), TWO_SIDED)
def test_two_sided_factor_agrees_with_the_printed_table(n, coverage, confidence, factor):
    assert tolerance.two_sided(n, coverage, confidence) == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("n", "coverage", "confidence", "factor"), ISO_16269_6)
def test_two_sided_factor_agrees_with_the_standard(n, coverage, confidence, factor):
    assert factor - 0.00011 <= tolerance.two_sided(n, coverage, confidence) <= factor


@pytest.mark.parametrize(("n", "coverage", "confidence", "factor", "abs_"), [
    (43, 0.90, 0.99, 2.2173, 6e-5),  # NIST/SEMATECH e-Handbook 7.2.6.3 (page text read)
    (20, 0.95, 0.95, 2.75228, 2e-5)])  # the same formula with scipy 1.17.1
def test_howes_factor_agrees_with_the_handbook(n, coverage, confidence, factor, abs_):
    assert tolerance.howe(n, coverage, confidence) == pytest.approx(factor, abs=abs_)


@pytest.mark.parametrize("n", [2, 3, 5, 12, 40, 400])
def test_one_sided_factor_agrees_with_scipys_noncentral_t(n):
    delta = stats.norm.ppf(0.95) * math.sqrt(n)
    expected = stats.nct.ppf(0.95, n - 1, delta) / math.sqrt(n)
    assert tolerance.one_sided(n, 0.95, 0.95) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("n", "coverage", "confidence"), [(2, 0.95, 0.95), (6, 0.99, 0.9), (25, 0.9, 0.99), (10, 0.5, 0.5)])
def test_two_sided_factor_agrees_with_scipys_integration(n, coverage, confidence):
    def half_width(x):
        return optimize.brentq(lambda r: stats.norm.cdf(x + r) - stats.norm.cdf(x - r) - coverage, 0, 40, xtol=1e-14)

    def missing(k):
        def part(u):
            return stats.chi2.sf((n - 1) * (half_width(u / math.sqrt(n)) / k) ** 2, n - 1) * stats.norm.pdf(u)
        return 2 * integrate.quad(part, 0, 9, epsabs=1e-12, epsrel=1e-12)[0] - confidence

    guess = tolerance.howe(n, coverage, confidence)
    expected = optimize.brentq(missing, 0.7 * guess, 1.3 * guess, xtol=1e-12)
    assert tolerance.two_sided(n, coverage, confidence) == pytest.approx(expected, rel=1e-8)


@settings(max_examples=15)
@given(counts, coverages, confidences)
def test_factors_are_finite_and_fall_with_more_readings(n, coverage, confidence):
    two, more = tolerance.two_sided(n, coverage, confidence), tolerance.two_sided(n + 1, coverage, confidence)
    assert 0 < two < math.inf and math.isfinite(tolerance.one_sided(n, coverage, confidence))
    if confidence >= 0.5:
        assert more < two


@settings(max_examples=15)
@given(counts, st.floats(0.5, 0.98), st.floats(0.05, 0.98))
def test_factors_rise_with_coverage_and_with_confidence(n, coverage, confidence):
    for factor in (tolerance.one_sided, tolerance.two_sided):
        here = factor(n, coverage, confidence)
        assert factor(n, coverage + 0.01, confidence) > here
        assert factor(n, coverage, confidence + 0.01) > here
