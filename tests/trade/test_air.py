"""Density, viscosity and pressure of air against printed tables and reference libraries; then the air of a room."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.trade.air import (
    STANDARD_PRESSURE_PA,
    U_DENSITY_FORMULA,
    U_VISCOSITY_FORMULA,
    air_viscosity,
    moist_air_density,
    pressure_at_altitude,
    room_air,
)

FOOT_M, PSI_PA, LBF_S_FT2 = 0.3048, 6894.757, 47.88026  # NIST SP 811 (2008), Appendix B.8; from memory


def density(celsius, pressure_pa, humidity, co2_fraction=0.0004):
    return moist_air_density(pressure_pa, celsius + 273.15, humidity, co2_fraction)


@pytest.mark.parametrize(("celsius", "pressure_pa", "humidity", "printed", "tolerance"), [
    # CIPM table of moist air, quoted in a public test suite (read); older than the 2008 revision for argon
    (40, 101325.014, 0.4, 1.11497, 1e-4),
    # NISTIR 6969, SOP 2, Appendix B, example 1, quoted in a public test suite (read); its formula is the 1978 one
    (22.3, 99738.478, 0.37, 1.17194, 2e-4),
    # OIML R 111-1:2004, E.3 (read in a public test suite), a shorter formula that is good to about 1e-4 here
    (25, 101325.014, 0.4, 1.1787, 2e-4),
])
def test_density_agrees_with_printed_values(celsius, pressure_pa, humidity, printed, tolerance):
    assert density(celsius, pressure_pa, humidity) == pytest.approx(printed, rel=tolerance)


# Computed with CoolProp 8.0.0, HAPropsSI (real-gas mixture of Herrmann, Kretzschmar and Gatley).
REAL_GAS = [
    (20, 101325, 0, 1.2046), (20, 101325, 0.5, 1.19936), (15, 105000, 0.9, 1.26304), (25, 83500, 0.3, 0.971745),
    (10, 105000, 0, 1.29254), (28, 97000, 0.45, 1.11502), (22, 99200, 0.35, 1.16719),
    # with all digits: the corners of 10 to 40 °C, 60 to 105 kPa, 0 to 100 %, then beyond them
    (10, 60000, 0, 0.7384355240), (10, 60000, 1, 0.7327360981), (10, 105000, 1, 1.2868420191),
    (40, 60000, 0, 0.6675837921), (40, 60000, 1, 0.6366930296), (40, 105000, 0, 1.1683773541),
    (40, 105000, 1, 1.1375095215), (40, 101325, 1, 1.0966061423), (25, 90000, 0.5, 1.0449473232),
]


@pytest.mark.parametrize(("celsius", "pressure_pa", "humidity", "computed"), REAL_GAS)
def test_density_agrees_with_real_gas_air_over_the_whole_bench(celsius, pressure_pa, humidity, computed):
    # largest difference over the grid 4.8e-5 ± 5e-6, computed with CoolProp 8.0.0; the short figures add their rounding
    assert density(celsius, pressure_pa, humidity) == pytest.approx(computed, rel=5.3e-5, abs=5e-6 if computed > 1 else 0)


@pytest.mark.parametrize(("celsius", "pressure_pa", "humidity", "computed"), [
    (20, 101325, 0, 1.2045573416281), (20, 101325, 0.5, 1.1993138954745), (22, 99200, 0.35, 1.1671485759032),
    (15, 105000, 0.9, 1.2629943646084), (25, 83500, 0.3, 0.9717113397165), (28, 97000, 0.45, 1.1149822243834),
])
def test_density_is_digit_for_digit_that_of_another_code_of_the_same_formula(celsius, pressure_pa, humidity, computed):
    # computed by a separately written CIPM-2007, its coefficients compared across four public codes
    assert density(celsius, pressure_pa, humidity) == pytest.approx(computed, rel=1e-12)


def test_the_largest_difference_from_real_gas_air_is_where_it_is_said_to_be():
    worst = max(abs(density(c, p, h) / computed - 1) for c, p, h, computed in REAL_GAS[7:])
    assert worst == pytest.approx(4.8e-5, abs=5e-6)  # computed with CoolProp 8.0.0, the whole grid


@pytest.mark.parametrize(("celsius", "pressure_pa", "humidity", "computed"), [
    (0, 101325, 0.5, 1.2916247681), (-10, 101325, 0.5, 1.3417730077), (50, 101325, 0.5, 1.0674216399),  # CoolProp 8.0.0
])
def test_density_stays_good_beyond_the_stated_range(celsius, pressure_pa, humidity, computed):
    assert density(celsius, pressure_pa, humidity) == pytest.approx(computed, rel=1e-4)


def test_density_is_near_ideal_gas_mixing():
    # 0.944135 computed with psychrolib 2.5.0 (ASHRAE Fundamentals 2017, chapter 1), 3e-4 to 6e-4 low everywhere
    assert density(35, 85000, 0.7) == pytest.approx(0.944135, rel=6e-4)


def test_more_carbon_dioxide_is_heavier_and_within_the_stated_uncertainty():
    # 12.011 x 0.0011 / 28.96546 = 4.56e-4 for 1500 instead of 400 ppm, by hand
    ratio = density(20, 101325, 0, 0.0015) / density(20, 101325, 0)
    assert ratio - 1 == pytest.approx(4.56e-4, abs=2e-6)
    assert ratio - 1 < U_DENSITY_FORMULA


@pytest.mark.parametrize(("kelvin", "printed", "tolerance"), [
    (273.15, 1.716e-5, 5e-4),  # Bird, Stewart and Lightfoot, Transport Phenomena, 2nd ed., Table 1.1-2 (read)
    (293.15, 1.813e-5, 5e-4),  # the same
    (288.15, 1.7894e-5, 3e-5),  # US Standard Atmosphere 1976, as in fluids 1.3.1 and ambiance 1.3.1
    (298.15, 1.8448e-5, 6e-3),  # Lemmon and Jacobsen 2004, computed with CoolProp 8.0.0: 0.3 to 0.5 % higher
    (303.15, 1.8689e-5, 6e-3),  # the same
    (313.15, 1.9165e-5, 6e-3),  # the same
])
def test_viscosity_agrees_with_printed_values(kelvin, printed, tolerance):
    assert air_viscosity(kelvin) == pytest.approx(printed, rel=tolerance)


@pytest.mark.parametrize(("kelvin", "computed"), [(273.15, 1.72184e-5), (293.15, 1.82057e-5), (313.15, 1.91652e-5)])
def test_viscosity_is_low_by_what_its_uncertainty_says(kelvin, computed):
    # computed with CoolProp 8.0.0 (Lemmon and Jacobsen 2004)
    low = 1 - air_viscosity(kelvin) / computed
    assert 0.0030 < low < 0.0050
    assert low < 1.25 * U_VISCOSITY_FORMULA


@pytest.mark.parametrize(("altitude_m", "pascal", "tolerance"), [
    (2000, 79500, 1e-4),  # US Standard Atmosphere 1976 in Mechanical Engineers' Handbook (Kutz), vol. 4, table 6 (read)
    (5000 * FOOT_M, 12.228 * PSI_PA, 3e-4),  # imperial table of the same atmosphere (read)
    (10000 * FOOT_M, 10.108 * PSI_PA, 3e-4),  # the same
    (500, 95461.29, 1e-6), (1500, 84559.68, 1e-6), (1600, 83527.67, 1e-6),  # fluids 1.3.1, ATMOSPHERE_1976
    (0, 101325, 1e-12),
])
def test_pressure_at_altitude_agrees_with_the_standard_atmosphere(altitude_m, pascal, tolerance):
    assert pressure_at_altitude(altitude_m) == pytest.approx(pascal, rel=tolerance)


def test_density_and_viscosity_of_the_standard_atmosphere_agree_with_its_tables():
    assert density(2.0, 79500, 0) == pytest.approx(1.0066, rel=5e-4)  # table as above: 275.15 K, ideal gas
    for feet, printed in ((5000, 3.637e-7), (10000, 3.534e-7)):  # lbf s/ft², imperial table as above
        z = feet * FOOT_M
        kelvin = 288.15 - 0.0065 * 6356766 * z / (6356766 + z)
        assert air_viscosity(kelvin) / LBF_S_FT2 == pytest.approx(printed, rel=3e-4)


def room(**other):
    return room_air({"temperature_k": 293.15, "pressure_pa": None, "altitude_m": None, "humidity": None, **other})


def test_a_barometer_and_a_hygrometer_give_today_s_air():
    air = room(pressure_pa=83500.0, humidity=0.3, temperature_k=298.15)
    assert (air["pressure_from"], air["humidity_from"], air["fits_altitude"], air["refused"]) == \
        ("barometer", "hygrometer", None, [])
    assert air["density_kg_m3"] == pytest.approx(0.971745, rel=1.5e-4)  # CoolProp 8.0.0
    assert air["viscosity_pa_s"] == pytest.approx(1.8448e-5, rel=6e-3)  # CoolProp 8.0.0
    # By hand: 1 K of 298 K 0.36 %, 100 of 83,500 Pa 0.12 %, 5 % humidity 0.06 %, formula 0.05 %: 0.39 %.
    assert air["u_density_kg_m3"] / air["density_kg_m3"] == pytest.approx(0.0039, abs=1e-4)
    # 1 K: 1.5/298.15 - 1/(298.15 + 110.4) = 0.258 %; vapour 0.23 x 0.0114 = 0.26 %; formula 0.4 %: 0.54 %
    assert air["u_viscosity_pa_s"] / air["viscosity_pa_s"] == pytest.approx(0.0054, abs=1e-4)
    assert air["u_viscosity_fraction"] == pytest.approx(math.hypot(0.00258, 0.0026), abs=1e-4)


def test_effects_at_sea_level_are_as_large_as_they_should_be():
    # Around 20 °C, 101.325 kPa: 1 K 0.34 %, 1 kPa 0.99 %, dry to 50 % 0.44 % (computed with CoolProp 8.0.0)
    base = density(20, 101325, 0)
    assert 1 - density(21, 101325, 0) / base == pytest.approx(0.0034, abs=5e-5)
    assert density(20, 102325, 0) / base - 1 == pytest.approx(0.0099, abs=5e-5)
    assert 1 - density(20, 101325, 0.5) / base == pytest.approx(0.0044, abs=5e-5)


def test_the_altitude_stands_in_for_a_barometer_and_says_how_little_it_knows():
    air = room(altitude_m=1600.0)
    assert air["pressure_from"] == "altitude"
    assert air["pressure_pa"] == pytest.approx(83527.67, rel=1e-6)  # fluids 1.3.1
    # 1.5 % of 83,528 Pa = 1253 Pa of weather; 30 m x 1.0 kg/m³ x 9.8 = 300 Pa: 1290 Pa by hand
    assert air["u_pressure_pa"] == pytest.approx(1290, abs=15)
    assert air["u_density_kg_m3"] > 3 * room(pressure_pa=83527.67)["u_density_kg_m3"]


def test_nothing_known_of_the_pressure_is_the_standard_one_and_very_uncertain():
    air = room()
    assert (air["pressure_from"], air["pressure_pa"]) == ("standard", STANDARD_PRESSURE_PA)
    assert air["u_pressure_pa"] == 4000.0
    assert 2 * air["u_pressure_pa"] >= STANDARD_PRESSURE_PA - pressure_at_altitude(670.0)


def test_unknown_humidity_is_half_with_everything_possible():
    air = room(pressure_pa=101325.0)
    assert (air["humidity_from"], air["humidity"]) == ("assumed", 0.5)
    assert air["u_humidity"] == pytest.approx(0.5 / math.sqrt(3), abs=1e-4)  # GUM 4.3.7, 0 to 1


@pytest.mark.parametrize(("pressure_pa", "altitude_m", "fits"), [
    (83000.0, 1600.0, True), (101325.0, 1600.0, False), (101325.0, 600.0, False), (95500.0, 0.0, True),
    (106000.0, 0.0, True),
])
def test_a_barometer_set_to_sea_level_shows_beside_the_altitude(pressure_pa, altitude_m, fits):
    air = room(pressure_pa=pressure_pa, altitude_m=altitude_m)
    assert (air["fits_altitude"], air["pressure_from"], air["pressure_pa"]) == (fits, "barometer", pressure_pa)


@pytest.mark.parametrize(("name", "wrong", "then"), [
    ("pressure_pa", 29.92, "altitude"), ("pressure_pa", "83500", "altitude"), ("humidity", 45.0, "altitude"),
    ("altitude_m", 5280.0, "standard"), ("u_pressure_pa", -1.0, "altitude"), ("u_temperature_k", 99.0, "altitude"),
])
def test_what_no_room_has_is_refused_by_name_and_not_used(name, wrong, then):
    air = room(**{"altitude_m": 1600.0, name: wrong})
    assert (air["refused"], air["pressure_from"]) == ([name], then)
    assert air["humidity_from"] == "assumed"
    assert air["u_temperature_k"] == 1.0


@pytest.mark.parametrize("temperature", [None, 20.0, 68.0, "293.15", math.nan])
def test_without_a_believable_temperature_there_is_no_air(temperature):
    assert room(temperature_k=temperature) is None
    assert room_air({}) is None


def test_the_shop_may_give_its_own_instrument_uncertainty():
    assert room(pressure_pa=101325.0, u_pressure_pa=300.0)["u_pressure_pa"] == 300.0
    good = room(pressure_pa=101325.0, humidity=0.4, u_temperature_k=0.2, u_pressure_pa=20.0, u_humidity=0.02)
    assert good["u_density_kg_m3"] < room(pressure_pa=101325.0, humidity=0.4)["u_density_kg_m3"] / 2


def test_with_perfect_instruments_the_formulas_own_uncertainty_is_left():
    air = room(pressure_pa=101325.0, humidity=0.0, u_temperature_k=0.0, u_pressure_pa=0.0, u_humidity=0.0)
    assert air["u_density_kg_m3"] == pytest.approx(U_DENSITY_FORMULA * air["density_kg_m3"], rel=1e-9)
    assert air["u_viscosity_pa_s"] == pytest.approx(U_VISCOSITY_FORMULA * air["viscosity_pa_s"], rel=1e-9)
    assert (air["u_viscosity_fraction"], air["temperature_density_kg_m3"]) == (0.0, 0.0)


@given(st.floats(243.15, 333.15), st.none() | st.floats(50000, 110000), st.none() | st.floats(-500, 5000),
       st.none() | st.floats(0, 1))
def test_every_believable_room_has_finite_air(temperature, pressure, altitude, humidity):
    air = room(temperature_k=temperature, pressure_pa=pressure, altitude_m=altitude, humidity=humidity)
    assert air["refused"] == []
    assert all(math.isfinite(x) for x in air.values() if isinstance(x, float))
    assert 0.3 < air["density_kg_m3"] < 1.7 and 1.5e-5 < air["viscosity_pa_s"] < 2.1e-5
    assert 0 < air["u_density_kg_m3"] < 0.15 * air["density_kg_m3"]
    assert 0 < air["u_viscosity_pa_s"] < 0.1 * air["viscosity_pa_s"]
    assert air["temperature_density_kg_m3"] < 0 < air["temperature_viscosity_pa_s"]


@given(st.dictionaries(st.sampled_from(["temperature_k", "pressure_pa", "altitude_m", "humidity", "u_humidity"]),
                       st.none() | st.sampled_from(["", "20", True, [1], {}]) | st.floats()))
def test_nothing_typed_raises(typed):
    assert room_air(typed) is None or "temperature_k" in typed
    air = room_air({**typed, "temperature_k": 293.15})
    assert math.isfinite(air["density_kg_m3"]) and math.isfinite(air["u_density_kg_m3"])


@given(st.floats(263, 313), st.floats(60000, 105000), st.floats(0, 1), st.floats(0.5, 10))
def test_air_is_lighter_when_warmer_moister_or_higher(kelvin, pascal, humidity, step):
    here = moist_air_density(pascal, kelvin, humidity)
    assert moist_air_density(pascal, kelvin + step, humidity) < here
    assert moist_air_density(pascal + 100 * step, kelvin, humidity) > here
    assert moist_air_density(pascal, kelvin, humidity + step / 10) < here
    assert air_viscosity(kelvin + step) > air_viscosity(kelvin)


@given(st.floats(-500, 10900), st.floats(1, 100))
def test_pressure_falls_with_altitude(altitude_m, step):
    assert pressure_at_altitude(altitude_m + step) < pressure_at_altitude(altitude_m)
