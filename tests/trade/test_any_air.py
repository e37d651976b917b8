"""Benches and filters anywhere between the sea and 4000 m: a healthy bench is never called out, a plugged filter never
passed, a good one never failed. The readings are made here from physics of our own, not from the calculation's.

Dry air as a gas: density p/(287.05 T); viscosity goes with T to the power 0.76 (within 0.3 % of Sutherland at 5 to 35 °C, by
hand). A plate's drop goes with density x flow squared, a filter's viscous part with viscosity x flow.
"""

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.trade.readings import NO_LIGHT, VISUAL, after, before, codes, good
from tests.trade.strategies import modes
from webform.trade.judge import judge

REFERENCE_T, REFERENCE_PA = 293.15, 101325.0
LOW_PA, HIGH_PA, U_PA = 450.0, 550.0, 8.0
SPEC = {"low_pa": LOW_PA, "high_pa": HIGH_PA, "u_pa": U_PA, "origin": "invented", "revision": "A"}
OWN_PA = 520.0
# The standard atmosphere's pressure in Pa every 500 m (US Standard Atmosphere 1976, table I, from memory).
TABLE_PA = (101325, 95461, 89876, 84560, 79501, 74692, 70121, 65780, 61660)


def standard_pa(altitude_m):
    """Between two lines of the table."""
    place = min(int(altitude_m / 500.0), len(TABLE_PA) - 2)
    return TABLE_PA[place] + (TABLE_PA[place + 1] - TABLE_PA[place]) * (altitude_m / 500.0 - place)


class Room:
    """The true air of a room against the reference: density, viscosity, and the flow that a bench blows there."""

    def __init__(self, pressure_pa, temperature_k, mode):
        self.density = pressure_pa / temperature_k / (REFERENCE_PA / REFERENCE_T)
        self.viscosity = (temperature_k / REFERENCE_T) ** 0.76
        self.flow = {"constant_volume": 1.0, "constant_mass": 1.0 / self.density,
                     "uncorrected_element": self.density ** -0.5}[mode]

    def plate(self):
        """What a plate of OWN_PA reads on a bench in order."""
        return OWN_PA * self.density * self.flow ** 2

    def filter(self, there_pa, inertial):
        """What a filter reads that has there_pa in the reference air, so much of it inertial."""
        return there_pa * ((1.0 - inertial) * self.viscosity * self.flow + inertial * self.density * self.flow ** 2)


altitudes, temperatures = st.floats(0, 4000), st.floats(280, 306)
noise, weather = st.floats(0.99, 1.01), st.floats(0.97, 1.03)


def job(pressure_pa, temperature_k, mode, plate_pa, drop_pa, known, stage=after):
    """A case on that bench; known: what the shop can say of its pressure."""
    air = {"temperature_k": temperature_k, "pressure_pa": None, "altitude_m": None, "humidity": 0.0, **known}
    check = {"mode": mode, "air": air, "plate": {"read_pa": plate_pa, "own_pa": OWN_PA, "own_air": None}}
    readings = good(visual=VISUAL, light=NO_LIGHT, flow={"drops_pa": [drop_pa] * 2, "bench": "good", "check": check})
    return stage(readings, spec=SPEC)


@settings(max_examples=300)
@given(altitudes, temperatures, weather, modes, noise, st.booleans())
def test_a_healthy_bench_with_a_barometer_is_good_at_any_height(altitude_m, temperature_k, mood, mode, error, is_known):
    pressure_pa = standard_pa(altitude_m) * mood
    room = Room(pressure_pa, temperature_k, mode)
    known = {"pressure_pa": pressure_pa, "altitude_m": altitude_m if is_known else None}
    found = judge(job(pressure_pa, temperature_k, mode, room.plate() * error, room.filter(500.0, 0.07), known))
    assert "plate_good" in codes(found, "findings")
    assert (found["verdict"], found["close"]) == ("ok_to_reinstall", False)


@settings(max_examples=300)
@given(altitudes, temperatures, weather, modes, noise, st.booleans())
def test_a_healthy_bench_without_a_barometer_is_never_called_out(altitude_m, temperature_k, mood, mode, error, is_known):
    room = Room(standard_pa(altitude_m) * mood, temperature_k, mode)
    known = {"altitude_m": altitude_m} if is_known else {}
    found = judge(job(0.0, temperature_k, mode, room.plate() * error, room.filter(500.0, 0.07), known))
    assert "bench_out" not in codes(found, "missing") and "plate_out" not in codes(found, "findings")
    assert found["verdict"] in ("ok_to_reinstall", "hold")


@pytest.mark.parametrize("mode", ["constant_volume", "constant_mass", "uncorrected_element"])
def test_on_a_standard_day_the_altitude_alone_is_enough(mode):
    for altitude_m in (0.0, 500.0, 1500.0, 2500.0):
        room = Room(standard_pa(altitude_m), 293.15, mode)
        found = judge(job(0.0, 293.15, mode, room.plate() * 1.01, room.filter(500.0, 0.07), {"altitude_m": altitude_m}))
        assert (found["verdict"], found["close"]) == ("ok_to_reinstall", False), (mode, altitude_m)


@settings(max_examples=300)
@given(altitudes, temperatures, modes, noise, st.floats(0.0, 0.14), st.floats(1.02, 3.0))
def test_a_plugged_filter_is_never_passed_because_its_air_is_thin(altitude_m, temperature_k, mode, error, inertial, above):
    pressure_pa = standard_pa(altitude_m)
    room = Room(pressure_pa, temperature_k, mode)
    plugged_pa = room.filter(HIGH_PA * above, inertial)
    for stage in (before, after):
        found = judge(job(pressure_pa, temperature_k, mode, room.plate() * error, plugged_pa,
                          {"pressure_pa": pressure_pa}, stage))
        assert found["verdict"] in ("clean", "clean_again"), found["reasons"]


@settings(max_examples=200)
@given(altitudes, temperatures, modes, st.floats(1.06, 1.5), st.booleans())
def test_a_bench_that_is_really_out_is_never_believed(altitude_m, temperature_k, mode, factor, is_low):
    pressure_pa = standard_pa(altitude_m)
    room = Room(pressure_pa, temperature_k, mode)
    plate_pa = room.plate() / factor if is_low else room.plate() * factor
    found = judge(job(pressure_pa, temperature_k, mode, plate_pa, room.filter(500.0, 0.07), {"pressure_pa": pressure_pa}))
    assert (found["verdict"], codes(found, "missing")) == ("hold", ["bench_out"])


@settings(max_examples=200)
@given(altitudes, st.floats(990, 1040))
def test_a_barometer_reduced_to_sea_level_is_noticed_from_700_m_up(altitude_m, reduced_hpa):
    assume(altitude_m >= 700.0)
    room = Room(standard_pa(altitude_m), 293.15, "constant_volume")
    found = judge(job(0.0, 293.15, "constant_volume", room.plate(), room.filter(500.0, 0.07),
                      {"altitude_m": altitude_m, "pressure_pa": reduced_hpa * 100.0}))
    assert (found["verdict"], codes(found, "missing")) == ("hold", ["air_doubtful"])
