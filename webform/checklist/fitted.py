"""What hangs on a filter while it is weighed: each part that was weighed alone is taken off, the others stay on.

Records from before each part had a field hold one mass for all that was fitted; they count as they are. Portable Python.
"""

from .declaration import FITTED, FITTED_AT_ONCE
from .typed import as_si

MASS = "_mass"  # the field of a part is named by its code and this


def taken_off(values):
    """What is ticked and was weighed alone, in the order of the form: [(part, kg)]; "fitted" is all of it at once."""
    found = []
    for name in _fields(values):
        part_kg = as_si(values.get(name))
        if part_kg is not None:
            found.append((name[:-len(MASS)], part_kg))
    return found


def left_on(values):
    """The parts that are ticked and that nobody weighed, sorted."""
    known = [part + MASS for part, _kg in taken_off(values)]
    if FITTED_AT_ONCE in known:
        return []
    return [part for part in sorted(values.get("fitted") or []) if part + MASS not in known]


def problem_of(values):
    """(field, code) of what cannot be: parts as heavy as the whole, or told twice; None where it fits."""
    parts, whole_kg = taken_off(values), as_si(values.get("mass"))
    if not parts:
        return None
    if len(parts) > 1 and parts[len(parts) - 1][0] + MASS == FITTED_AT_ONCE:
        return FITTED_AT_ONCE, "answer.fitted_twice"
    fitted_kg = 0.0
    for _part, part_kg in parts:
        fitted_kg = fitted_kg + part_kg
    if whole_kg is None or fitted_kg < whole_kg:
        return None
    return parts[len(parts) - 1][0] + MASS, "answer.fitted_heavier"


def _fields(values):
    ticked = values.get("fitted") or []
    found = [part + MASS for part, _label in FITTED if part in ticked]
    return found + [FITTED_AT_ONCE] if ticked else []
