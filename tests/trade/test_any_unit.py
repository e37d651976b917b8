"""The same job typed in other units, through the checklist's own conversion, gives the same verdict with the same figures.

The figures are drawn on a grid that falls on the halves where rounding is decided (0.05 Pa, 0.05 g), so that a conversion's
last bit would show. What a unit can't say exactly is typed with fifteen digits, as many as a field takes.
"""

from decimal import Context, Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trade.readings import NO_LIGHT, VISUAL, after, before, value
from webform.checklist.typed import as_si
from webform.trade.judge import judge
from webform.trade.units import MOST_DIGITS

# SI units to one of the unit: NIST SP 811 (2008), Appendix B.8; exact.
PER_UNIT = {"Pa": Decimal(1), "mbar": Decimal(100), "kPa": Decimal(1000), "inH2O": Decimal("249.08891"),
            "hPa": Decimal(100), "mmH2O": Decimal("9.80665"), "inH2O (4 °C)": Decimal("249.082"),
            "inH2O (60 °F)": Decimal("248.84"), "inHg": Decimal("3386.388640341"),
            "g": Decimal("0.001"), "kg": Decimal(1), "lb": Decimal("0.45359237"),
            "mm": Decimal("0.001"), "in": Decimal("0.0254")}
PRESSURE = ("Pa", "hPa", "mbar", "kPa", "mmH2O", "inH2O", "inH2O (4 °C)", "inH2O (60 °F)", "inHg")
MASS, LENGTH = ("g", "kg", "lb"), ("mm", "in")
EXACT = Context(prec=40)


def typed(si, unit):
    """{"n", "u"} of an SI figure in that unit, as a person would have to write it."""
    exact = EXACT.divide(si, PER_UNIT[unit])
    text = format(exact.quantize(Decimal(1).scaleb(len(str(int(exact))) - MOST_DIGITS)), "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if "." in text and len(text.split(".")[1]) == 3:
        text += "0"  # three decimals could be thousands, the checklist refuses them
    return {"n": text, "u": unit}


def in_unit(si, unit):
    """An SI figure after it was typed in that unit."""
    read = as_si(typed(si, unit))
    assert read is not None, typed(si, unit)
    return read


def degrees(tenths, unit):
    """A room temperature in tenths of a degree Celsius, typed in that unit, in K."""
    shown = {"°C": Decimal(tenths) / 10, "K": Decimal(tenths) / 10 + Decimal("273.15"),
             "°F": Decimal(tenths) / 10 * Decimal("1.8") + 32}[unit]
    return as_si({"n": str(shown), "u": unit})


def step(low, high, size):
    """Figures from low to high on a grid."""
    return st.integers(int(low / size), int(high / size)).map(lambda number: Decimal(number) * Decimal(str(size)))


jobs = st.fixed_dictionaries({
    "stage": st.sampled_from(["before", "after"]), "drops": st.lists(step(300, 700, 0.05), min_size=1, max_size=3),
    "low": step(350, 420, 0.05), "wide": step(60, 150, 0.05), "u": step(0, 20, 0.05),
    "found": step(13, 15, 0.00005), "mass": step(12.9, 13.1, 0.00005), "round": step(12.9, 13.1, 0.00005),
    "clean": step(12.5, 13.1, 0.00005), "full": step(0.28, 0.3, 0.0005),
    "depths": st.lists(step(0.0, 0.28, 0.0005), max_size=14), "feel": st.sampled_from(["soft", "hard"]),
    "is_short": st.booleans(), "degrees": st.integers(100, 350), "plate": step(440, 470, 0.05),
    "barometer": st.integers(8500, 9000), "mode": st.sampled_from(["constant_volume", "constant_mass"])})


def case(job, pressure, mass, length, warmth):
    """The job as typed in those units."""
    def pa(name):
        return in_unit(job[name], pressure)

    def grams(name):
        return in_unit(job[name], mass) * 1000.0

    cells = []
    for depth in job["depths"]:
        key = "short_m" if job["is_short"] else "depth_m"
        cells.append({"feel": job["feel"], "depth_m": None, "short_m": None, key: in_unit(depth, length)})
    cells += [{"feel": "free", "depth_m": None, "short_m": None}] * (24 - len(cells))
    air = {"temperature_k": degrees(job["degrees"], warmth), "pressure_pa": in_unit(Decimal(job["barometer"]) * 10, pressure),
           "altitude_m": None, "humidity": 0.4}
    check = {"mode": job["mode"], "air": air, "plate": {"read_pa": pa("plate"), "own_pa": in_unit(Decimal(455), pressure),
                                                       "own_air": air}}
    readings = {
        "visual": VISUAL, "light": NO_LIGHT, "weight": {"mass_g": grams("mass"), "temperature": "cold", "moisture": "dry"},
        "rod": {"full_depth_m": in_unit(job["full"], length), "cells": cells},
        "flow": {"drops_pa": [in_unit(drop, pressure) for drop in job["drops"]], "bench": "good", "check": check}}
    spec = {"low_pa": pa("low"), "high_pa": in_unit(job["low"] + job["wide"], pressure), "u_pa": pa("u"),
            "origin": "invented", "revision": "A", "air": air}
    if job["stage"] == "before":
        return before(readings, spec=spec)
    found = {"weight": {"mass_g": grams("found"), "temperature": "cold", "moisture": "dry"}}
    burnt = [{"method": method, "minutes": 60.0, "temperature_k": None, "mass_g": mass_g}
             for method, mass_g in (("oven", grams("round")), ("air", grams("mass")))]
    return after(readings, found, burnt, spec=spec, reference={"mass_g": grams("clean"), "origin": "own"})


@settings(max_examples=400)
@given(jobs, st.sampled_from(PRESSURE), st.sampled_from(MASS), st.sampled_from(LENGTH), st.sampled_from(["°C", "°F", "K"]))
def test_the_same_job_in_other_units_is_judged_alike_to_the_last_figure(job, pressure, mass, length, warmth):
    assert judge(case(job, pressure, mass, length, warmth)) == judge(case(job, "Pa", "g", "mm", "°C"))


def test_a_reading_on_a_half_rounds_alike_in_every_unit():
    # 443.45 Pa is shown as 443.5 Pa; as 4.4345 mbar it becomes 443.45000000000005 or ...499999 in floats.
    for tenth in range(4000, 4500):
        si = Decimal(tenth) / 10 + Decimal("0.05")
        found = [judge(before({"flow": {"drops_pa": [in_unit(si, unit)], "bench": "out"}})) for unit in PRESSURE]
        assert {value(each, "bench_out", "drop_pa") for each in found} == {float(Decimal(tenth + 1) / 10)}
