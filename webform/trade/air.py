"""The air in the room: density and viscosity with their standard uncertainties, from what the shop reads once a day.

Temperature is needed; pressure comes from a barometer, else from the altitude, else the standard one is assumed, and
each of these says how little it knows. A reading that no room has is refused by name and never used.
"""

import math

from .figures import reading
from .functions import exp, power
from .uncertainty import combined_uncertainty

STANDARD_PRESSURE_PA = 101325.0

# What a workshop can have.
BELIEVED = {"temperature_k": (243.15, 333.15), "pressure_pa": (50000.0, 110000.0), "altitude_m": (-500.0, 5000.0),
            "humidity": (0.0, 1.0)}
# Standard uncertainties unless "u_..." is given: shop's starting values, no source. Thermometer ± 1 K and air that is a
# degree or two away from the room's; barometer 1 hPa; altitude off a map ± 50 m; hygrometer 5 % of relative humidity.
STANDARD_U = {"temperature_k": 1.0, "pressure_pa": 100.0, "altitude_m": 30.0, "humidity": 0.05}
MOST_U = 10.0  # a "u_..." beyond this many times the standard one is refused

# Weather moves the pressure at one altitude. From memory, no source: in the storm belts its standard deviation at sea
# level is near 10 hPa (1.0 %), and a column 20 K off the standard adds 1.3 % at 1600 m. 1.5 % makes 95 % = 3 %.
WEATHER = 0.015
# Neither barometer nor altitude: sea level is assumed. 4 kPa covers at twice its size a shop up to about 700 m.
U_UNKNOWN_PRESSURE_PA = 4000.0
# A barometer further from the altitude's pressure than this was set to sea level (7 % at 600 m), or one of them is wrong.
LARGEST_MISFIT = 0.06
UNKNOWN_HUMIDITY, U_UNKNOWN_HUMIDITY = 0.5, 0.2887  # anything from 0 to 1: 0.5/√3
# CIPM-2007 is within 5e-5 of real-gas humid air (computed with CoolProp 8.0.0, 10 to 40 °C, 60 to 105 kPa);
# breath and engines may raise CO2 from 400 to 1500 ppm: 4.6e-4 more density.
U_DENSITY_FORMULA = 0.0005
# Sutherland's formula is 0.3 to 0.5 % below Lemmon & Jacobsen 2004 at 0 to 40 °C (computed with CoolProp 8.0.0).
U_VISCOSITY_FORMULA = 0.004
# Vapour lowers viscosity by 0.25 to 0.38 of its mole fraction (CoolProp 8.0.0, 0 to 40 °C); other mixing rules less.
# It is not corrected for: rectangular from nothing to 0.4.
U_VISCOSITY_VAPOUR = 0.23


def moist_air_density(
    pressure_pa: float, temperature_k: float, humidity: float = 0.5, co2_fraction: float = 0.0004,
) -> float:
    """Density of moist air in kg/m³; humidity is relative, 0 to 1.

    Source: CIPM-2007, Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149-155, equation 1 and appendix.
    Stated range 15 to 27 °C, 600 to 1100 hPa; within 1e-4 of real-gas air from -10 to 50 °C.

    >>> from .figures import fixed
    >>> fixed(moist_air_density(101325.0, 293.15, 0.5), 4)
    '1.1993'
    """
    t = temperature_k - 273.15
    molar_kg = (28.96546 + 12.011 * (co2_fraction - 0.0004)) * 0.001
    x_v = vapour_fraction(pressure_pa, temperature_k, humidity)
    ratio = pressure_pa / temperature_k
    virial = (1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t * t + (5.707e-6 - 2.051e-8 * t) * x_v
              + (1.9898e-4 - 2.376e-6 * t) * x_v * x_v)
    z = 1.0 - ratio * virial + ratio * ratio * (1.83e-11 - 0.765e-8 * x_v * x_v)
    return ratio * molar_kg / (z * 8.314472) * (1.0 - x_v * (1.0 - 18.01528e-3 / molar_kg))


def vapour_fraction(pressure_pa: float, temperature_k: float, humidity: float) -> float:
    """Mole fraction of water vapour: humidity x enhancement factor x saturation pressure / pressure. Source: as above."""
    t = temperature_k - 273.15
    saturated_pa = exp(1.2378847e-5 * temperature_k * temperature_k - 1.9121316e-2 * temperature_k + 33.93711047
                       - 6343.1645 / temperature_k)
    return humidity * (1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * t * t) * saturated_pa / pressure_pa


def air_viscosity(temperature_k: float) -> float:
    """Viscosity of dry air in Pa s: Sutherland's formula, beta T^1.5/(T + S). Pressure does not matter on a bench.

    Source: US Standard Atmosphere 1976, equation 51. Range: 100 to 1900 K; see U_VISCOSITY_FORMULA.
    """
    return 1.458e-6 * temperature_k * math.sqrt(temperature_k) / (temperature_k + 110.4)


def pressure_at_altitude(altitude_m: float) -> float:
    """Standard pressure in Pa at an altitude above the sea from -500 to 11000 m; the weather's pressure is another.

    Source: US Standard Atmosphere 1976, equations 18 (geopotential height), 23 and 33a, lowest layer.
    """
    height_m = 6356766.0 * altitude_m / (6356766.0 + altitude_m)
    return STANDARD_PRESSURE_PA * power((288.15 - 0.0065 * height_m) / 288.15, 5.255876)


def room_air(given: dict[str, object]) -> dict[str, object] | None:
    """Today's air, or None without a believable temperature.

    given: "temperature_k"; each of "pressure_pa", "altitude_m", "humidity" may be None; "u_..." of each may be there.
    Gives each value used with its "u_...", density_kg_m3 and viscosity_pa_s with theirs; temperature_... is the signed
    part of either that the temperature alone makes, for whoever uses both; u_viscosity_fraction holds between two airs
    by this formula, whose own error cancels. "refused" names what was not believable; fits_altitude is None unless both
    barometer and altitude are there. Source: the formulas above; sums by GUM 5.1.2 with 5.1.3 note 2 (half the difference
    between x + u and x - u).
    """
    refused: list[str] = []
    temperature_k, u_temperature_k = _taken(given, "temperature_k", refused)
    humidity, u_humidity = _taken(given, "humidity", refused)
    pressure_pa, u_pressure_pa, pressure_from, fits = _pressure(given, refused)
    if temperature_k is None:
        return None
    is_humidity_read = humidity is not None
    if humidity is None:
        humidity, u_humidity = UNKNOWN_HUMIDITY, U_UNKNOWN_HUMIDITY
    result: dict[str, object] = {
        "temperature_k": temperature_k, "u_temperature_k": u_temperature_k, "pressure_pa": pressure_pa,
        "u_pressure_pa": u_pressure_pa, "pressure_from": pressure_from, "humidity": humidity, "u_humidity": u_humidity,
        "humidity_from": "hygrometer" if is_humidity_read else "assumed", "fits_altitude": fits, "refused": refused}
    _add_density(result, (pressure_pa, u_pressure_pa), (temperature_k, u_temperature_k), (humidity, u_humidity))
    _add_viscosity(result, temperature_k, u_temperature_k, vapour_fraction(pressure_pa, temperature_k, humidity))
    return result


def _add_density(
    result: dict[str, object], pressure: tuple[float, float], temperature: tuple[float, float],
    humidity: tuple[float, float],
) -> None:
    """Adds density; each input is (value, standard uncertainty)."""
    p, u_p = pressure
    t, u_t = temperature
    h, u_h = humidity
    density = moist_air_density(p, t, h)
    by_temperature = (moist_air_density(p, t + u_t, h) - moist_air_density(p, t - u_t, h)) / 2.0
    result["density_kg_m3"] = density
    result["temperature_density_kg_m3"] = by_temperature
    result["u_density_kg_m3"] = combined_uncertainty([
        by_temperature, (moist_air_density(p + u_p, t, h) - moist_air_density(p - u_p, t, h)) / 2.0,
        (moist_air_density(p, t, h + u_h) - moist_air_density(p, t, h - u_h)) / 2.0, U_DENSITY_FORMULA * density])


def _add_viscosity(result: dict[str, object], temperature_k: float, u_temperature_k: float, vapour: float) -> None:
    viscosity = air_viscosity(temperature_k)
    by_temperature = (air_viscosity(temperature_k + u_temperature_k) - air_viscosity(temperature_k - u_temperature_k)) / 2.0
    by_vapour = U_VISCOSITY_VAPOUR * vapour * viscosity
    result["viscosity_pa_s"] = viscosity
    result["temperature_viscosity_pa_s"] = by_temperature
    result["u_viscosity_fraction"] = combined_uncertainty([by_temperature, by_vapour]) / viscosity
    result["u_viscosity_pa_s"] = combined_uncertainty([by_temperature, by_vapour, U_VISCOSITY_FORMULA * viscosity])


def _pressure(given: dict[str, object], refused: list[str]) -> tuple[float, float, str, bool | None]:
    """Pressure, its standard uncertainty, where it comes from, and whether barometer and altitude agree."""
    read_pa, u_read_pa = _taken(given, "pressure_pa", refused)
    altitude_m, u_altitude_m = _taken(given, "altitude_m", refused)
    if altitude_m is None:
        if read_pa is None:
            return STANDARD_PRESSURE_PA, U_UNKNOWN_PRESSURE_PA, "standard", None
        return read_pa, u_read_pa, "barometer", None
    there_pa = pressure_at_altitude(altitude_m)
    if read_pa is not None:
        return read_pa, u_read_pa, "barometer", abs(read_pa - there_pa) <= LARGEST_MISFIT * there_pa
    by_altitude = (pressure_at_altitude(altitude_m + u_altitude_m) - pressure_at_altitude(altitude_m - u_altitude_m)) / 2.0
    return there_pa, combined_uncertainty([WEATHER * there_pa, by_altitude]), "altitude", None


def _taken(given: dict[str, object], name: str, refused: list[str]) -> tuple[float | None, float]:
    """A believable value or None, and its standard uncertainty; what is there but not believable goes to refused."""
    value, u = given.get(name), given.get("u_" + name)
    number, u_number = reading(value), reading(u)
    low, high = BELIEVED[name]
    if value is not None and (number is None or not low <= number <= high):
        refused.append(name)
        number = None
    if u is not None and (u_number is None or not 0.0 <= u_number <= MOST_U * STANDARD_U[name]):
        refused.append("u_" + name)
        u_number = None
    return number, STANDARD_U[name] if u_number is None else u_number
