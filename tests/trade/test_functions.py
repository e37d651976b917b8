"""The portable elementary functions against mpmath (general-purpose reference library) and printed tables."""

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.trade import functions

mpmath.mp.dps = 40


@given(st.floats(-650, 650))
def test_exp_agrees_with_mpmath(x):
    assert functions.exp(x) == pytest.approx(float(mpmath.exp(x)), rel=2e-15)


@given(st.floats(1e-200, 1e200))
def test_ln_agrees_with_mpmath(x):
    assert functions.ln(x) == pytest.approx(float(mpmath.log(x)), rel=2e-15, abs=1e-16)


@given(st.floats(0.01, 100), st.floats(-8, 8))
def test_power_agrees_with_mpmath(base, exponent):
    assert functions.power(base, exponent) == pytest.approx(float(mpmath.power(base, exponent)), rel=2e-14)


@given(st.floats(1e-7, 50))
def test_coth_agrees_with_mpmath(x):
    assert functions.coth(x) == pytest.approx(float(mpmath.coth(x)), rel=1e-11)


@given(st.floats(-37, 37))
def test_normal_cdf_agrees_with_mpmath(z):
    assert functions.normal_cdf(z) == pytest.approx(float(mpmath.ncdf(z)), rel=3e-13)


# NIST/SEMATECH e-Handbook 1.3.6.7.1 prints the area from 0 to z; z and that area + 0.5.
@pytest.mark.parametrize(("z", "below"), [(0.5, 0.69146), (1.0, 0.84134), (1.64, 0.94950), (1.96, 0.97500), (3.0, 0.99865)])
def test_normal_cdf_agrees_with_the_printed_table(z, below):
    assert functions.normal_cdf(z) == pytest.approx(below, abs=5e-6)


@given(st.floats(1e-6, 1 - 1e-6))
def test_normal_quantile_is_the_inverse(share):
    assert functions.normal_cdf(functions.normal_quantile(share)) == pytest.approx(share, rel=1e-12)


def test_ends_of_the_range_stay_finite():
    assert functions.exp(9e99) == functions.exp(700.0)
    assert (functions.normal_cdf(-50.0), functions.normal_cdf(50.0)) == (0.0, 1.0)
