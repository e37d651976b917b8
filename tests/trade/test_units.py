"""Typed numbers and units against published factors and an independent units library."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.trade.units import UNITS, from_si, shown, to_si

# NIST SP 811 (2008), Thompson and Taylor, Appendix B.8/B.9.
# The last column is the relative tolerance of the digits printed.
PUBLISHED = [
    ("1", "inH2O", 249.0889, 5e-8),  # conventional inch of water
    # the two other inches of water, printed in six and five digits; read in a public transcription of B.8, footnotes and all
    ("1", "inH2O (4 °C)", 249.082, 1e-12),  # 39.2 °F, 2.490 82 E+02
    ("1", "inH2O (60 °F)", 248.84, 1e-12),  # 2.4884 E+02
    ("1", "mmH2O", 9.80665, 1e-12),
    ("1", "lb", 0.4535924, 1e-7),
    ("0.001", "in", 2.54e-05, 1e-12),  # the mil
    ("1", "cfm", 0.0004719474, 1.5e-7),
    ("1", "mi", 1609.344, 1e-12), ("1", "ft", 0.3048, 1e-12),
    ("1", "inHg", 3386.389, 1.5e-7),  # conventional; SP 811 B.8: 3.386 389 E+03
    ("68", "°F", 293.15, 1e-12),  # (68 + 459.67)/1.8, SP 811 B.9: 20 °C
    ("20", "°C", 293.15, 1e-12),
    # arithmetic on the exact factors: 2.45 x 249.08891; 400 x 0.3048^3 / 60; 0.030 x 25.4 mm
    ("2.45", "inH2O", 610.267829, 1e-6),
    ("400", "cfm", 0.188778977, 1e-7),
    ("0.03", "in", 0.000762, 1e-12),
    ("18.375", "lb", 8.3347598, 1e-8),  # 18 lb 6 oz, sixteen ounces to the pound: 8334.7598 g by pint 0.25.3
]


@pytest.mark.parametrize(("text", "unit", "si", "tolerance"), PUBLISHED)
def test_units_agree_with_published_factors(text, unit, si, tolerance):
    assert to_si(text, unit)["value"] == pytest.approx(si, rel=tolerance)


def test_two_and_a_half_inches_of_water_are_six_tenths_of_a_kilopascal():
    # 2.45 x 249.08891 Pa; pint 0.25.3
    assert from_si(to_si("2.45", "inH2O")["value"], "kPa") == pytest.approx(0.610267829, rel=1e-6)


def test_ten_millibar_are_four_inches_of_water():
    # 1000 Pa / 249.08891 = 4.01463076
    assert from_si(to_si("10", "mbar")["value"], "inH2O") == pytest.approx(4.01463076, rel=1e-8)


def water_kg_m3(celsius):
    """Density of air-free water at 1 atm: Tanaka et al., Metrologia 38 (2001) 301, formula and figures from memory."""
    return 999.974950 * (1.0 - (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881)))


@pytest.mark.parametrize(("unit", "celsius", "digits"), [("inH2O (4 °C)", 4.0, 5e-6), ("inH2O (60 °F)", 140 / 9, 2e-5)])
def test_an_inch_of_water_is_the_weight_of_an_inch_of_water_that_warm(unit, celsius, digits):
    # 0.0254 m x 9.80665 m/s2 x density; to the digits that SP 811 prints
    assert to_si("1", unit)["value"] == pytest.approx(0.0254 * 9.80665 * water_kg_m3(celsius), rel=digits)


def test_the_three_inches_of_water_are_three_units():
    # 1 - 248.84/249.08891 = 0.1 %: 0.002 inH2O at a limit of 2 inH2O, which a gauge that shows thousandths can tell
    values = [to_si("2.000", unit)["value"] for unit in ("inH2O", "inH2O (4 °C)", "inH2O (60 °F)")]
    assert values == sorted(values, reverse=True) and len(set(values)) == 3
    assert values[0] - values[2] == pytest.approx(0.49782, abs=1e-5)


PINT_NAMES = {"Pa": "pascal", "hPa": "hectopascal", "mbar": "millibar", "kPa": "kilopascal",
              "inH2O": "inch_H2O", "inH2O (60 °F)": "inch_H2O_60F",
              "g": "gram", "kg": "kilogram", "lb": "pound", "mm": "millimeter", "in": "inch", "m": "meter",
              "km": "kilometer", "mi": "mile", "min": "minute", "h": "hour", "s": "second",
              "cfm": "foot**3/minute", "m3/h": "meter**3/hour"}


@pytest.mark.parametrize("unit", sorted(PINT_NAMES))
def test_units_agree_with_an_independent_library(unit):
    expected = pint.UnitRegistry().Quantity(7.25, PINT_NAMES[unit]).to_base_units().magnitude
    # pint computes the inch at 60 °F from a density in six digits, SP 811 prints it in five
    assert to_si("7.25", unit)["value"] == pytest.approx(expected, rel=1e-6 if "°F" in unit else 1e-9)


def test_the_inch_at_4_degrees_agrees_with_an_independent_library():
    # from a density of 999.972 kg/m3 there: 249.08194, printed as 249.082
    expected = pint.UnitRegistry()("inch_H2O_4C").to("Pa").magnitude
    assert to_si("1", "inH2O (4 °C)")["value"] == pytest.approx(expected, rel=3e-7)


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_a_value_comes_back_from_si(unit):
    assert from_si(to_si("312.5", unit)["value"], unit) == pytest.approx(312.5, rel=1e-12)


@pytest.mark.parametrize(("text", "expected"), [
    ("2.75", 2.75), ("2,75", 2.75), (" 2.75 ", 2.75), ("+3", 3.0), ("-3", -3.0), ("\u22123", -3.0), (".5", 0.5),
    ("5.", 5.0), ("0,480", 0.48), ("0.480", 0.48), ("1.780", 1.78), ("1234567.5", 1234567.5), ("14480,5", 14480.5),
    ("1.7800", 1.78), ("1,78", 1.78), ("0", 0.0),
])
def test_point_and_comma_are_both_decimal(text, expected):
    assert to_si(text, "kPa")["value"] == expected * 1000.0


@pytest.mark.parametrize(("text", "unit", "code"), [
    ("", "g", "number.empty"), ("   ", "g", "number.empty"),
    ("14,480", "g", "number.ambiguous"), ("14,480", "kg", "number.ambiguous"), ("1,780", "inH2O", "number.ambiguous"),
    ("1.780", "mmH2O", "number.ambiguous"), ("14.480", "g", "number.ambiguous"), ("1.780", "Pa", "number.ambiguous"),
    ("1.600", "m", "number.ambiguous"), ("5.280", "ft", "number.ambiguous"), ("29,921", "inHg", "number.ambiguous"),
    ("1,234,567", "g", "number.grouped"), ("14,480.5", "g", "number.grouped"), ("14.480,5", "g", "number.grouped"),
    ("14 480", "g", "number.grouped"), ("14'480", "g", "number.grouped"), ("14\u00a0480", "g", "number.grouped"),
    ("1_000", "g", "number.grouped"), ("1.2.3", "g", "number.grouped"),
    ("9e99", "g", "number.exponent"), ("1E5", "g", "number.exponent"),
    ("nan", "g", "number.not_a_number"), ("inf", "g", "number.not_a_number"),
    ("-Infinity", "g", "number.not_a_number"), ("0x10", "g", "number.not_a_number"),
    ("\u0663", "g", "number.not_a_number"), ("\uff13", "g", "number.not_a_number"),
    ("--3", "g", "number.not_a_number"), (".", "g", "number.not_a_number"), ("<b>3</b>", "g", "number.not_a_number"),
    ("3 kg", "g", "number.not_a_number"), ("1/2", "g", "number.not_a_number"), ("3\x00", "g", "number.not_a_number"),
    ("1234567890123456", "g", "number.too_long"), (None, "g", "number.not_a_number"), (3, "g", "number.not_a_number"),
    ("3", "stone", "number.unknown_unit"), ("3", None, "number.unknown_unit"), ("3", ["g"], "number.unknown_unit"),
    ("-300", "°C", "number.below_absolute_zero"), ("-1", "K", "number.below_absolute_zero"),
])
def test_what_can_be_misread_is_refused_with_a_code(text, unit, code):
    read = to_si(text, unit)
    assert (read["ok"], read["code"]) == (False, code)


@given(st.text(max_size=30), st.sampled_from(sorted(UNITS)))
def test_no_text_raises(text, unit):
    assert to_si(text, unit)["ok"] in (True, False)


@given(st.integers(0, 10**12), st.integers(0, 6))
def test_the_nearest_float_is_read(whole, decimals):
    text = f"{whole:0{decimals + 1}d}"
    text = text[:len(text) - decimals] + ("." + text[len(text) - decimals:] if decimals else "")
    assert to_si(text, "kg") == {"ok": True, "value": float(text)}


def test_shown_values_read_as_they_were_typed():
    assert shown(to_si("2.75", "inH2O")["value"], "inH2O", 3) == "2.75 inH2O"
    assert shown(to_si("14480", "g")["value"], "g", 1) == "14480 g"
    assert shown(3.0, "", 0) == "3"
