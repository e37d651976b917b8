"""Units and room air."""

from ...trade import air, figures, units
from .. import typed
from ..shape import Number
from .quantity import Example, Input, Inputs, Quantity, Refused, code, num, open_, share, text

T, P = (243.15, 333.15), (50000.0, 110000.0)
ROOM: Inputs = {
    "temperature": num("K", *T, "air temperature"),
    "pressure": open_(num("Pa", *P, "air pressure at the bench, not reduced to sea level")),
    "altitude": open_(num("m", -500.0, 5000.0, "height above the sea, where there is no barometer")),
    "humidity": open_(share("relative humidity, 0 to 1")),
}
OWN_UNCERTAINTY: Inputs = {
    "u_temperature": open_(Input(Number("K", 0.0, 10.0, is_difference=True), "standard uncertainty of the temperature")),
    "u_pressure": open_(num("Pa", 0.0, 1000.0, "standard uncertainty of the pressure")),
    "u_altitude": open_(num("m", 0.0, 300.0, "standard uncertainty of the altitude")),
    "u_humidity": open_(num("", 0.0, 0.5, "standard uncertainty of the humidity")),
}
REAL_GAS = "computed with CoolProp 8.0.0, HAPropsSI"
FORM = {
    "temperature": "temperature_k",
    "pressure": "pressure_pa",
    "altitude": "altitude_m",
    "humidity": "humidity",
    "u_temperature": "u_temperature_k",
    "u_pressure": "u_pressure_pa",
    "u_altitude": "u_altitude_m",
    "u_humidity": "u_humidity",
}


def room(given: dict[str, object], before: str = "") -> dict[str, object] | None:
    """The air of inputs that are named as in ROOM, with something before each name."""
    return air.room_air({FORM[name]: given.get(before + name) for name in FORM})


def _room(given: dict[str, object]) -> dict[str, object] | None:
    found = room(given)
    if found is None:
        return None
    names = {
        "density": "density_kg_m3",
        "u_density": "u_density_kg_m3",
        "viscosity": "viscosity_pa_s",
        "u_viscosity": "u_viscosity_pa_s",
        "pressure": "pressure_pa",
        "u_pressure": "u_pressure_pa",
        "pressure_from": "pressure_from",
        "fits_altitude": "fits_altitude",
    }
    return {name: found[names[name]] for name in names}


def _convert(given: dict[str, str]) -> dict[str, object]:
    value, what = typed.si(given["value"], given["from"])
    if value is None:
        raise Refused(what)
    to = given["to"]
    wanted = typed.from_si(value, to)
    shown = units.shown(value, to, 9) if to in units.UNITS else f"{figures.trimmed(wanted, 9)} {to}"
    return {"si": value, "value": wanted, "shown": shown}


UNIT_NAMES = (*units.UNITS, *typed.OTHER_UNITS)
QUANTITIES = (
    Quantity(
        "unit-conversion",
        "A typed number in another unit",
        {
            "value": text(40, "the number as typed"),
            "from": code(UNIT_NAMES, "its unit"),
            "to": code(UNIT_NAMES, "unit wanted"),
        },
        {"si": "SI", "value": "in the unit wanted", "shown": ""},
        _convert,
        "exact definitions; NIST SP 811 (2008), Appendix B.8",
        ("units.to_si", "units.from_si", "units.shown"),
        Example(
            {"value": "10", "from": "mbar", "to": "inH2O"},
            {"value": 4.01463076},
            "1000 Pa / 249.08891 Pa, NIST SP 811 factors, pint 0.25.3",
            rel=1e-7,
        ),
        (
            (
                lambda g: not typed.is_like(g["from"], g["to"]),
                "to",
                "The two units measure different things.",
                "two units of the same quantity",
            ),
        ),
    ),
    Quantity(
        "air-density",
        "Density of moist air",
        {
            "pressure": num("Pa", *P, "air pressure"),
            "temperature": num("K", *T, "air temperature"),
            "humidity": open_(ROOM["humidity"], 0.5),
            "co2": open_(share("carbon dioxide, mole fraction", 0.01), 0.0004),
        },
        {"density": "kg/m³"},
        lambda g: {"density": air.moist_air_density(g["pressure"], g["temperature"], g["humidity"], g["co2"])},
        "CIPM-2007: Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149-155, equation 1",
        ("air.moist_air_density",),
        Example(
            {"pressure": "101325 Pa", "temperature": "20 °C", "humidity": "50 %"}, {"density": 1.19936}, REAL_GAS, rel=1.5e-4
        ),
    ),
    Quantity(
        "vapour-fraction",
        "Mole fraction of water vapour in the air",
        {
            "pressure": num("Pa", *P, "air pressure"),
            "temperature": num("K", *T, "air temperature"),
            "humidity": share("relative humidity, 0 to 1"),
        },
        {"fraction": ""},
        lambda g: {"fraction": air.vapour_fraction(g["pressure"], g["temperature"], g["humidity"])},
        "CIPM-2007, appendix: humidity x enhancement factor x saturation pressure / pressure",
        ("air.vapour_fraction",),
        Example(
            {"pressure": 101325, "temperature": "20 °C", "humidity": 0.5},
            {"fraction": 0.01159},
            "saturation pressure 2339 Pa at 20 °C and enhancement factor 1.004 (tables, from memory), by hand",
            rel=1e-3,
        ),
    ),
    Quantity(
        "air-viscosity",
        "Viscosity of dry air (Sutherland)",
        {"temperature": num("K", 100.0, 1900.0, "air temperature")},
        {"viscosity": "Pa·s"},
        lambda g: {"viscosity": air.air_viscosity(g["temperature"])},
        "US Standard Atmosphere 1976, equation 51",
        ("air.air_viscosity",),
        Example(
            {"temperature": 288.15}, {"viscosity": 1.7894e-5}, "US Standard Atmosphere 1976, as in fluids 1.3.1", rel=3e-5
        ),
    ),
    Quantity(
        "pressure-at-altitude",
        "Standard air pressure at an altitude",
        {"altitude": num("m", -500.0, 11000.0, "height above the sea")},
        {"pressure": "Pa"},
        lambda g: {"pressure": air.pressure_at_altitude(g["altitude"])},
        "US Standard Atmosphere 1976, equations 18, 23 and 33a",
        ("air.pressure_at_altitude",),
        Example({"altitude": "1600 m"}, {"pressure": 83527.67}, "fluids 1.3.1, ATMOSPHERE_1976", rel=1e-6),
    ),
    Quantity(
        "room-air",
        "Today's air with its standard uncertainties",
        ROOM | OWN_UNCERTAINTY,
        {
            "density": "kg/m³",
            "u_density": "kg/m³",
            "viscosity": "Pa·s",
            "u_viscosity": "Pa·s",
            "pressure": "Pa",
            "u_pressure": "Pa",
            "pressure_from": "",
            "fits_altitude": "",
        },
        _room,
        "as air-density, air-viscosity and pressure-at-altitude; sums by GUM 5.1.2",
        ("air.room_air",),
        Example(
            {"temperature": "25 °C", "pressure": "83500 Pa", "humidity": 0.3}, {"density": 0.971745}, REAL_GAS, rel=1.5e-4
        ),
    ),
)
