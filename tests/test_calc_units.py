"""Units of `ashbook calc` and `ashbook judge`: which are known, ends of ranges, differences of temperature, two readings."""

import json

import pytest

from tests.test_calc_command import calc, refused
from webform.commands.case import AIR
from webform.commands.quantities import QUANTITIES
from webform.commands.shape import read
from webform.commands.typed import units_of


def test_every_unit_of_a_workshop_is_known_for_its_quantity():
    water = {"inH2O", "inH2O (4 °C)", "inH2O (60 °F)", "mmH2O"}
    assert water | {"mbar", "hPa", "kPa", "Pa", "mmHg", "inHg", "psi"} == set(units_of("Pa"))
    assert {"°C", "°F", "K"} == set(units_of("K")) and {"mil", "mm", "in", "ft", "m", "km", "mi"} == set(units_of("m"))
    assert {"g", "kg", "lb", "oz"} == set(units_of("g")) and {"L", "gal", "m³"} == set(units_of("L"))


@pytest.mark.parametrize(
    ("name", "input_name", "end", "past"),
    [
        # each end is one of the range that --help states; its conversion misses it by its last digit
        ("air-density", "temperature", "-30 °C", "-30.00001 °C"),
        ("air-density", "temperature", "140 °F", "140.00001 °F"),
        ("air-viscosity", "temperature", "-173.15 °C", "-173.15001 °C"),
        ("one-sided-factor", "coverage", "99.9 %", "99.90001 %"),
        ("clean-drop", "viscosity", "10 µPa·s", "9.99999 µPa·s"),
    ],
)
def test_the_ends_of_a_range_are_allowed_in_any_unit(name, input_name, end, past):
    shape, problems = QUANTITIES[name].inputs[input_name].shape, []
    assert read(shape, end, input_name, problems) in (shape.low, shape.high) and problems == []
    assert read(shape, past, input_name, problems) is None and len(problems) == 1


@pytest.mark.parametrize(("typed", "kelvin"), [("0.5 K", 0.5), ("0.5 °C", 0.5), ("0.9 °F", 0.5), (0.5, 0.5)])
def test_the_uncertainty_of_a_temperature_is_a_difference_of_temperatures(capsys, typed, kelvin):
    shape, problems = QUANTITIES["room-air"].inputs["u_temperature"].shape, []
    assert read(shape, typed, "u_temperature", problems) == pytest.approx(kelvin, rel=1e-12) and problems == []
    given = {"temperature": "20 °C", "pressure": 101325, "humidity": 0.5, "u_temperature": typed}
    other = {**given, "u_temperature": 0.5}
    found = [calc(capsys, "room-air", "--json", json.dumps(inputs))["u_density"] for inputs in (given, other)]
    assert found[0] == pytest.approx(found[1], rel=1e-12)


def test_a_job_s_air_takes_the_same_units():
    problems = []
    air = read(AIR, {"temperature": "68 °F", "u_temperature": "0.9 °F", "altitude": "5280 ft"}, "air", problems)
    assert problems == [] and air["altitude_m"] == pytest.approx(1609.344, rel=1e-12)  # a mile, exactly
    assert (air["temperature_k"], air["u_temperature_k"]) == pytest.approx((293.15, 0.5), rel=1e-12)


def test_an_absolute_temperature_is_no_uncertainty(capsys):
    said = refused(capsys, "room-air", "--temperature", "68 °F", "--u-temperature", "-459 °F")
    assert said[0].startswith("u_temperature") and "0 to 10 K (0 to 18 °F)" in said[0]


def test_an_altitude_that_can_be_read_in_two_ways_is_refused(capsys):
    for typed in ("1.600 m", "5,280 ft", "5.280 ft"):
        assert "two ways" in refused(capsys, "pressure-at-altitude", "--altitude", typed)[0]
    feet, mile = (calc(capsys, "pressure-at-altitude", "--altitude", typed)["pressure"] for typed in ("5280 ft", "1 mi"))
    assert feet == pytest.approx(mile, rel=1e-12)
