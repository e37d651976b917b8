"""Damage that no cleaning takes away: what condemned the brick as found still does after it.

Soot and ash come out, so hard cells and a black outlet as found say nothing of a cleaned filter. A crack, a melted hole, a
loose brick, a missing plug or more lit cells than pass stay. Where the same test now denies it, one of the two readings
is wrong: that is asked about and never passes. A missing plug is denied by nothing: other cells are rodded each time.
"""

from . import light
from .notes import Notes
from .rules import Table

BRICKS = ("cracked", "melted", "loose")


def note(case: dict[str, object], done: dict[str, dict[str, object] | None], table: Table, notes: Notes) -> None:
    """Adds what was damaged as found and is not read as damaged now; done: this stage's readings of the tests that apply."""
    before = case.get("before")
    if case["stage"] != "after" or not isinstance(before, dict):
        return
    for test in ("visual", "light", "rod"):
        found, now = before.get(test), done.get(test)
        if test not in done or not isinstance(found, dict):
            continue
        damage = _damage(test, found, table)
        if damage and not (now is not None and _damage(test, now, table)):
            is_denied = test != "rod" and now is not None and _is_read(test, now, table)
            _add(damage, is_denied, table, notes)


def _add(damage: str, is_denied: bool, table: Table, notes: Notes) -> None:
    if is_denied:
        notes.hold.append(table.reason("damage_denied", "lasting", {"damage": damage}))
        notes.to_settle(table.reason("settle_look_again", "lasting", {}))
    else:
        notes.replace.append(table.reason("damage_as_found", "lasting", {"damage": damage}))


def _damage(test: str, reading: dict[str, object], table: Table) -> str:
    """The damage that a reading proves, "" where it proves none."""
    if test == "visual":
        return "brick_" + str(reading.get("brick")) if reading.get("brick") in BRICKS else ""
    if test == "rod":
        cells = reading.get("cells")
        through = [cell for cell in cells if cell["feel"] == "through"] if isinstance(cells, list) else []
        return "plug" if through else ""
    if reading.get("kind") in light.DAMAGE:
        return "light_" + str(reading.get("kind"))
    return "lit" if light.fewest(reading) > table.limit("lit_cells") else ""


def _is_read(test: str, reading: dict[str, object], table: Table) -> bool:
    """Whether this reading says that there is no such damage, and does not leave it open."""
    if test == "visual":
        return reading.get("brick") is not None
    most = light.most(reading)
    return most is not None and most <= table.limit("lit_cells")
