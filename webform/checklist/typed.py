"""What a stored number means in SI, remembered: a day's readings repeat the same few figures. Portable Python."""

import math

from ..trade import units

MOST_REMEMBERED = 2000
FLOAT_SLACK = 1e-6  # of a bound's last decimal: what a conversion of units may add
_remembered = {}


def as_si(value):
    """The SI value of a stored number, in the base unit of its kind (Pa, kg, m, K, s); None where there is none."""
    if not isinstance(value, dict):
        return None
    typed, unit = value.get("n"), value.get("u")
    if not isinstance(typed, str) or not isinstance(unit, str):
        return None
    read = _remembered.get((typed, unit)) or read_typed(typed, unit)
    return read["value"] if read["ok"] else None


def read_typed(typed, unit):
    """The answer of units.to_si."""
    key = (typed, unit)
    read = _remembered.get(key)
    if read is None:
        if len(_remembered) >= MOST_REMEMBERED:
            _remembered.clear()
        read = _remembered[key] = units.to_si(typed, unit)
    return read


def bound_in(unit, si, is_low):
    """A bound in the unit that a person types in, to three decimals and not beyond what is taken."""
    scaled = units.from_si(si, unit) * 1000.0
    return (math.ceil(scaled - FLOAT_SLACK) if is_low else math.floor(scaled + FLOAT_SLACK)) / 1000.0
