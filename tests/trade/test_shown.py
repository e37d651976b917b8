"""Figures in the shop's units: what is shown says what is meant, to half of its last digit, and two that differ differ.

Outside values stand in test_units.py; figures by hand here use NIST SP 811 (2008), Appendix B.8.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.trade.readings import before, flow, good
from webform.trade import words
from webform.trade.figures import quantise
from webform.trade.judge import judge
from webform.trade.units import UNITS, from_si, to_si
from webform.words import catalogue

CATALOGUE = catalogue()
PRESSURES = [unit for unit in sorted(UNITS) if UNITS[unit][0] == "pressure"]
MASSES = [unit for unit in sorted(UNITS) if UNITS[unit][0] == "mass"]
SUFFIX = {"pressure": "_pa", "mass": "_g", "length": "_m", "temperature": "_k"}
CASES = [(SUFFIX[UNITS[unit][0]], unit) for unit in sorted(words.DECIMALS)]


def written(suffix, unit, value, beside=None):
    """A figure as a sentence writes it, without its unit."""
    text = words.figure({"number.unit" + suffix: unit}, "x" + suffix, value, beside)
    assert text.endswith(" " + unit)
    return text[:-len(unit) - 1]


@pytest.mark.parametrize(("suffix", "unit"), CASES)
@given(tenths=st.integers(0, 200_000))
def test_what_is_shown_means_the_figure_to_half_of_its_last_digit(suffix, unit, tenths):
    value = quantise(tenths / 10, 1) if suffix in ("_pa", "_g") else 250 + tenths / 1000 if suffix == "_k" else tenths / 2e5
    text = written(suffix, unit, value)
    read = to_si(text, unit)
    assert read["ok"], text  # nothing is shown that a person could not type
    most = words.DECIMALS[unit][0] if "." not in text else len(text.partition(".")[2])
    si = value / 1000 if suffix == "_g" else value
    decimals = max(words.DECIMALS[unit][0], most)
    assert abs(from_si(read["value"], unit) - from_si(si, unit)) <= 0.5 * 10.0 ** -decimals * (1 + 1e-6)


@pytest.mark.parametrize("unit", PRESSURES)
@given(st.integers(0, 50_000), st.integers(1, 30))
def test_two_restrictions_that_differ_never_read_the_same(unit, tenths, more):
    one, other = quantise(tenths / 10, 1), quantise((tenths + more) / 10, 1)
    assert written("_pa", unit, one, [one, other]) != written("_pa", unit, other, [one, other])


@pytest.mark.parametrize("unit", MASSES)
@given(st.integers(0, 300_000), st.integers(1, 30))
def test_two_weights_that_differ_never_read_the_same(unit, tenths, more):
    one, other = quantise(tenths / 10, 1), quantise((tenths + more) / 10, 1)
    assert written("_g", unit, one, [other]) != written("_g", unit, other, [one])


@pytest.mark.parametrize(("suffix", "unit", "value", "beside", "text"), [
    ("_pa", "Pa", 477.8, [], "478"), ("_pa", "Pa", 477.8, [478.1], "477.8"), ("_pa", "Pa", 477.8, [684.3], "478"),
    ("_pa", "kPa", 500.0, [], "0.500"), ("_pa", "mbar", 684.3, [], "6.84"), ("_pa", "mbar", 500.0, [], "5.0"),
    ("_pa", "inH2O", 498.2, [], "2.00"), ("_pa", "inH2O (60 °F)", 684.3, [], "2.75"), ("_pa", "mmH2O", 684.3, [], "69.8"),
    ("_g", "lb", 14480.0, [], "31.92"),  # 14.48 / 0.45359237 = 31.9229
    ("_g", "lb", 20.0, [], "0.044"), ("_g", "lb", 0.0, [], "0"), ("_g", "kg", 14480.0, [], "14.48"),
    ("_k", "°F", 293.15, [], "68"), ("_k", "°F", 293.15, [293.25], "68"), ("_k", "°F", 293.25, [293.15], "68.2"),
    ("_m", "in", 0.29, [], "11.417")])
def test_decimals_suit_the_unit(suffix, unit, value, beside, text):
    assert written(suffix, unit, value, beside) == text


@pytest.mark.parametrize("unit", PRESSURES)
def test_a_reading_just_above_its_limit_shows_in_every_unit(unit):
    # window's end 2.00 inH2O = 498.178 Pa; 498.3 Pa reads 0.1 above it once both are taken to 0.1 Pa
    verdict = judge(before(good(flow={"drops_pa": [498.3], "bench": "good"})))
    told = words.sentences(verdict, words.in_units(CATALOGUE, {"pressure": unit}))
    (text,) = [text for part in words.PARTS for text in told[part] if text.startswith("Restriction")]
    figures = text[len("Restriction "):].split(f" {unit}")
    assert figures[0] != figures[2].rpartition(" ")[2], text


def test_the_shop_s_units_change_the_words_and_nothing_else():
    verdict = judge(before(good(flow=flow(2.75))))
    own = words.in_units(CATALOGUE, {"pressure": "mbar", "mass": "lb", "length": "in", "temperature": "°F", "flow": "cfm"})
    assert words.sentences(verdict, own)["reasons"] == [
        # 2.75 x 249.08891 = 684.99 Pa; 2.00 of them 498.18 Pa; what lies between 186.8 Pa
        "Restriction 6.85 mbar is 1.87 mbar above the window's upper end of 4.98 mbar (invented sheet, A)."]
    assert {key for key in own if own[key] != CATALOGUE.get(key)} == {
        "number.unit_pa", "number.unit_g", "number.unit_m", "number.unit_k"}


@pytest.mark.parametrize("picked", [
    None, {}, "mbar", {"pressure": "lb"}, {"pressure": None}, {"mass": "stone"}, {"flow": "cfm"}, {"pressure": ["mbar"]}])
def test_units_that_do_not_fit_leave_the_words_alone(picked):
    assert words.in_units(CATALOGUE, picked) is CATALOGUE
