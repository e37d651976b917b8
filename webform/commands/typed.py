"""Numbers and JSON as a person gives them to a command.

A number is a JSON number in the unit that its name says, or typed text with a unit: {"n": "2.75", "u": "inH2O"} or
"2.75 inH2O". Typed text goes through trade.units, so what could be read in two ways is refused here as everywhere.
"""

import json
import math
import re

from ..trade import units
from ..trade.figures import ABSURD
from ..trade.words import sentence
from ..words import catalogue

LONGEST_SHOWN = 60
LONGEST_TEXT = 4_000_000  # characters of one job; the full example has about 7000
# Units beside those of trade/units.py: what they measure, and their factor to the first of that kind. Ounces and US
# gallons (231 cubic inches) exactly; mercury (conventional) and psi by NIST SP 811 (2008), Appendix B.8: 13.5951 and 1000
# kg/m³ x g_n, pound x g_n over the square inch.
OTHER_UNITS = {
    "mmHg": ("pressure", 133.322387415),
    "psi": ("pressure", 6894.757293168361),
    "oz": ("mass", 0.028349523125),
    "gal": ("volume", 0.003785411784),
    "m²": ("area", 1.0),
    "cm²": ("area", 1e-4),
    "m³": ("volume", 1.0),
    "kg/m³": ("density", 1.0),
    "g/cm³": ("density", 1000.0),
    "kg/L": ("density", 1000.0),
    "Pa·s": ("viscosity", 1.0),
    "µPa·s": ("viscosity", 1e-6),
    "m/s": ("speed", 1.0),
    "cells/in²": ("cells", 1.0),
}
OTHER_COARSE = ("gal",)  # as COARSE in trade/units.py: "5.280 gal" may be five thousand two hundred and eighty
KELVINS = {"K": 1.0, "°C": 1.0, "°F": 1.0 / 1.8}  # in a degree, where a temperature is a difference of two


def parsed(text: str) -> tuple[object, str]:
    """The JSON value of a text and "", or None and a sentence; refuses doubled names and numbers that JSON lacks."""
    if len(text) > LONGEST_TEXT:
        return None, f"This is too long: at most {LONGEST_TEXT} characters are read."
    try:
        return json.loads(text, object_pairs_hook=_without_doubles, parse_constant=_no_number), ""
    except json.JSONDecodeError as trouble:
        return None, f"This is not JSON: {trouble.msg} in line {trouble.lineno}, column {trouble.colno}."
    except RecursionError:
        return None, "This is not a job: it is nested too deeply."
    except ValueError as trouble:
        return None, f"This is not JSON that can be used: {shown_text(str(trouble))}."


def number(given: object, unit: str, is_difference: bool = False) -> tuple[float | None, str, str]:
    """(value in that unit, "", unit it was typed in), or (None, a sentence, ""); is_difference: of two temperatures."""
    if type(given) is int or type(given) is float:
        if not -ABSURD < given < ABSURD:
            return None, f"{shown(given)} is beyond any figure of a workshop.", ""
        return float(given), "", unit
    if isinstance(given, dict):
        if sorted(given) != ["n", "u"] or not all(isinstance(given[part], str) for part in ("n", "u")):
            return None, f"{shown(given)} is not a number with a unit.", ""
        return _in_unit(given["n"], given["u"], unit, is_difference)
    if isinstance(given, str):
        if re.fullmatch(r"\s*[-+−]?[\d.,'’]+\s*", given):
            what = "has no unit" if unit else "is a text; write the number without quotes"
            return None, f"{shown(given)} {what}.", ""
        found = re.fullmatch(r"\s*([-+−]?[\d.,'’]+)\s*(\D.*?)\s*", given)
        if found:
            return _in_unit(found.group(1), found.group(2), unit, is_difference)
    return None, f"{shown(given)} is not a number.", ""


def units_of(unit: str) -> list[str]:
    """Every unit in which a number of that unit may be typed."""
    kind = _kind(unit)
    known = [name for name in [*units.UNITS, *OTHER_UNITS] if _kind(name) == kind]
    return sorted({name for name in known if name and not name.startswith("m3")}, key=str.lower)


def is_like(one: str, other: str) -> bool:
    """Whether two units measure the same."""
    return _kind(one) == _kind(other)


def converted(value: float, unit: str, to: str, is_difference: bool = False) -> float:
    """A value of one unit in another of the same kind; is_difference: of two temperatures."""
    if is_difference:
        return value * KELVINS[unit] / KELVINS[to]
    return from_si(_to_base(value, unit), to)


def si(text: str, unit: str, is_difference: bool = False) -> tuple[float | None, str]:
    """(value in the SI unit, "") of a number as typed and a unit that is known here, or (None, a sentence)."""
    is_own = unit in units.UNITS and not is_difference
    # Any other unit lends its rule for what can be read in two ways; the number alone is wanted.
    found = units.to_si(text, unit if is_own else "m" if unit in OTHER_COARSE else "kg")
    value = found.get("value")
    if not isinstance(value, float):
        values = found["values"]
        return None, sentence(catalogue(), str(found["code"]), values if isinstance(values, dict) else {})
    return value if is_own else value * KELVINS[unit] if is_difference else _to_base(value, unit), ""


def figure(value: object) -> str:
    """A figure as text, ten digits at most."""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def shown(value: object) -> str:
    """What was given, short and harmless on a terminal."""
    try:
        text = json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError, RecursionError):
        text = str(type(value))
    return shown_text(text)


def shown_text(text: str) -> str:
    """A text cut short, with everything that a terminal could take for a command escaped."""
    text = text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + "…"
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)


def _in_unit(text: str, typed: str, unit: str, is_difference: bool) -> tuple[float | None, str, str]:
    name = _known(typed)
    if name is None or not is_like(name, unit):
        choices = ", ".join(units_of(unit))
        return None, f"{shown(typed)} is not a unit of this figure." + (f" Known here: {choices}." if choices else ""), ""
    base, what = si(text, name, is_difference)
    if base is None:
        return None, what, ""
    return base if is_difference else from_si(base, unit), "", name


def _known(unit: str) -> str | None:
    """The name under which a unit is known, however its small figures are written."""
    for name in (unit, *OTHER_UNITS):
        if name in units.UNITS or name in OTHER_UNITS:
            if name == unit or _plain(name) == _plain(unit):
                return name
    return None


def _plain(unit: str) -> str:
    return unit.replace("²", "2").replace("³", "3").replace("·", " ").replace("μ", "µ")


def _kind(unit: str) -> str:
    return units.UNITS[unit][0] if unit in units.UNITS else OTHER_UNITS[unit][0] if unit in OTHER_UNITS else unit


def _to_base(value: float, unit: str) -> float:
    if unit == "°C":
        return value + 273.15
    if unit == "°F":
        return (value + 459.67) / 1.8
    table = units.UNITS if unit in units.UNITS else OTHER_UNITS
    return value * table[unit][1] if unit in table else value


def from_si(base: float, unit: str) -> float:
    """An SI value in that unit."""
    if unit == "g":
        return base * 1000.0  # as the checklist makes grams, so that both give the same figure
    if unit in units.UNITS:
        return units.from_si(base, unit)
    return base / OTHER_UNITS[unit][1] if unit in OTHER_UNITS else base


def _without_doubles(pairs: list[tuple[str, object]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, value in pairs:
        if name in found:
            raise ValueError(f"the name {json.dumps(name)} stands twice in one place")
        found[name] = value
    return found


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is not a number of JSON")


def is_finite(value: object) -> bool:
    """Whether no figure in a result is infinite or not a number."""
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, dict):
        return all(is_finite(part) for part in value.values())
    if isinstance(value, list | tuple):
        return all(is_finite(part) for part in value)
    return True
