"""Whether a change that comes in is taken: a quick yes to what is plainly right, made once from the declaration.

checklist.check says what is wrong with an answer and is the only one to refuse. But nearly all that phones send is right,
and a push brings tens of thousands of answers: here each field's test is made beforehand, and an answer that passes them all
needs no sentence. Promises: what is plainly right, check.refusal takes too, and it is known down to its last value: nothing
in it that sync.change.check would refuse (tests/test_acceptance.py).

A phone says less than the desk: what only the desk writes (thresholds, who may sign, a void, a report given), and whatever
claims to come from the desk, is held, by whatever way it comes (tests/office/test_whose_word.py).
"""

import re
from collections.abc import Callable
from typing import Any

from .checklist import check, declaration, fitted, lookup, photos
from .trade import units

Test = Callable[[Any], bool]
CELL_KEYS = frozenset(("zone", "feel", "depth", "short"))
PART_MASSES = frozenset((declaration.FITTED_AT_ONCE, *(part + fitted.MASS for part, _label in declaration.FITTED)))
SLACK = 1e-9  # of a figure: far more than any rounding
DESK = "desk"  # the device whose changes are made at the server itself
NOTHING: frozenset[str] = frozenset()
# kind of record → the stored fields that no phone writes; a model that is not in the list gets its number at check-in
OFFICE_ONLY = {kind: frozenset(stored for step in declaration.STEPS if step.record == kind and step.place == "office"
                               for stored in lookup.slots(step) if (kind, stored) != ("model", "number"))
               for kind in lookup.kinds()}
_is_photo_hash = re.compile("[0-9a-f]{64}").fullmatch
_is_clock = re.compile("[0-9:.TZ+-]{10,32}").fullmatch


def refusal(change: dict[str, Any]) -> str | None:
    """Why a change cannot be accepted as it is, as one code, or None when it can."""
    return None if is_plainly_right(change) else check.refusal(change)


def is_plainly_right(change: dict[str, Any]) -> bool:
    """Whether every answer of a change passes its tests; False says only that somebody has to look closer."""
    if change["schema"] > declaration.SCHEMA:
        return False
    kind = change["kind"]
    for stored, value in change["set"].items():
        test = _TESTS.get((kind, stored))
        if test is None or not test(value):
            return False
    return True


def refusal_of_phone(change: dict[str, Any]) -> str | None:
    """As refusal, for a change that a phone has sent: only the desk may write some things and under the desk's name."""
    if is_plainly_right_of_phone(change):
        return None
    is_newer = change["schema"] > declaration.SCHEMA  # a newer declaration may let phones say more
    return (None if is_newer else _not_its_own(change)) or check.refusal(change)


def is_plainly_right_of_phone(change: dict[str, Any]) -> bool:
    """As is_plainly_right, for a change that a phone has sent."""
    return _not_its_own(change) is None and is_plainly_right(change)


def _not_its_own(change: dict[str, Any]) -> str | None:
    """Why a change is none that a phone can have made, as one code, or None.

    Which of the shop's people held the phone is the phone's own word. Its older changes carry its earlier device name.
    """
    by, identity = change["by"], change["id"]
    if identity.startswith(DESK + ".") or by == DESK or by.startswith(DESK + ":"):
        return "author_office"
    if by.startswith("device:") and by != "device:" + identity.partition(".")[0]:
        return "author_device"
    if not OFFICE_ONLY.get(change["kind"], NOTHING).isdisjoint(change["set"]):
        return "office_only"
    return None


def _slot_test(step: Any) -> Test:
    """The test of a step that is answered as a whole."""
    tests = {field.name: _field_test(field) for field in step.fields}
    always = frozenset(field.name for field in step.fields if field.required and field.shown_when is None)
    sometimes = tuple(field for field in step.fields if field.required and field.shown_when is not None)

    is_together = {"rod": _is_within_brick, "weight": _is_lighter}.get(step.slot, lambda values: False)

    def is_right(values: Any) -> bool:
        if type(values) is not dict or not always <= values.keys():
            return False
        for name, value in values.items():
            test = tests.get(name)
            if test is None or not value or not test(value):
                return False
        for field in sometimes:
            if field.name not in values and check.is_asked(field, values):
                return False
        return is_together(values) or not check.together(step, values, check.ALONE)

    return is_right


def _is_within_brick(values: dict[str, Any]) -> bool:
    """Whether no rod went deeper than the brick, told in the same unit; False says only that they have to be converted.

    values: those of the step, each of them tested.
    """
    full = values.get("full_depth")
    if full is None:
        return False
    unit, deepest = full["u"], float(full["n"])
    for cell in values.get("cells", ()):
        for key in ("depth", "short"):
            figure = cell.get(key)
            if figure is not None and (figure["u"] != unit or float(figure["n"]) > deepest):
                return False
    return True


def _is_lighter(values: dict[str, Any]) -> bool:
    """Whether what hangs on a filter weighs less than the whole, told in the same unit; False says only: look closer."""
    whole, parts = values.get("mass"), values.keys() & PART_MASSES
    if whole is None or (declaration.FITTED_AT_ONCE in parts and len(parts) > 1):
        return False
    left = float(whole["n"])
    for name in parts:
        if values[name]["u"] != whole["u"]:
            return False
        left -= float(values[name]["n"])
    return left > float(whole["n"]) * SLACK


def _field_test(field: Any) -> Test:
    """The test of one field's answer."""
    if field.kind == "number":
        return _number_test(field)
    if field.kind == "choice":
        codes = frozenset(field.codes)
        return lambda value: type(value) is str and value in codes
    if field.kind == "text":
        longest = field.longest
        return lambda value: type(value) is str and len(value) <= longest and value.isprintable()
    if field.kind == "cells":
        return _cells_test(field)
    if field.kind == "photos":
        return _are_photos
    return lambda value: not check.value_problems(field, value)  # choices and refs: texts and lists of texts


def _number_test(field: Any) -> Test:
    """Digits with at most one point, clearly within the bounds; at a bound, or written otherwise, it is not plain."""
    bounds = {unit: (*_clearly_within(field, unit), unit in units.COARSE or field.is_whole_number) for unit in field.units}

    def is_right(value: Any) -> bool:
        if type(value) is dict and len(value) == 2:
            typed, unit = value.get("n"), value.get("u")
            if type(typed) is str and type(unit) is str and unit in bounds and len(typed) <= units.MOST_DIGITS:
                low, high, is_whole = bounds[unit]
                whole, point, rest = typed.partition(".")
                if typed.isascii() and whole.isdigit() and (not point or (rest.isdigit() and not is_whole)):
                    return low < float(typed) < high
        return False

    return is_right


def _clearly_within(field: Any, unit: str) -> tuple[float, float]:
    """The bounds of a number in one of its units, drawn in a little."""
    low, high = units.from_si(field.low_si, unit), units.from_si(field.high_si, unit)
    margin = (high - low) * SLACK
    return low + margin, high - margin


def _are_photos(value: Any) -> bool:
    if type(value) is not list or not 0 < len(value) <= photos.MOST:
        return False
    seen = set()
    for photo in value:
        if type(photo) is not dict or len(photo) != len(photos.KEYS):
            return False
        found, size, taken_at = photo.get("sha256"), photo.get("bytes"), photo.get("taken_at")
        if not (type(found) is str and type(taken_at) is str and type(size) is int and 0 < size <= photos.LARGEST_BYTES
                and _is_photo_hash(found) and _is_clock(taken_at)):
            return False
        seen.add(found)
    return len(seen) == len(value)


def _cells_test(field: Any) -> Test:
    codes, is_number = field.codes, _number_test(field)

    def is_right(cells: Any) -> bool:
        if type(cells) is not list or not 0 < len(cells) <= check.MOST_CELLS:
            return False
        for cell in cells:
            if type(cell) is not dict or not cell.keys() <= CELL_KEYS:
                return False
            feel, zone, depth, short = cell.get("feel"), cell.get("zone"), cell.get("depth"), cell.get("short")
            if type(feel) is not str or feel not in codes:
                return False
            if zone is not None and (type(zone) is not int or not 1 <= zone <= check.ZONES):
                return False
            if depth is None and short is None:
                if feel in check.DEEP:
                    return False
            elif not ((depth is None or is_number(depth)) and (short is None or is_number(short))):
                return False
        return True

    return is_right


def _tests() -> dict[tuple[str, str], Test]:
    """(kind of record, stored field) → its test, for everything that is declared."""
    found: dict[tuple[str, str], Test] = {}
    for step in declaration.STEPS:
        for stored in lookup.slots(step):
            test = _field_test(lookup.field_of(step, stored)) if step.slot is None else _slot_test(step)
            found.setdefault((step.record, stored), test)
    return found


_TESTS = _tests()
