"""Looking through a wall-flow brick against a light: how many cells are lit, and what kind of light it is."""

from .notes import Notes
from .rules import Table

DAMAGE = ("crack", "edge", "melted")  # kinds of light that condemn at any count
# Fewest and most cells of each quick answer; None: no upper end.
RANGES: dict[str, tuple[int, int | None]] = {"1_5": (1, 5), "6_20": (6, 20), "over_20": (21, None)}


def note(seen: dict[str, object], stage: str, table: Table, notes: Notes) -> int:
    """Adds what the light shows; the least number of lit cells (a crack, edge or hole counts as one)."""
    kind = seen.get("kind")
    if kind in DAMAGE:
        notes.replace.append(table.reason("light_damage", "light_damage", {"kind": kind}))
        return 1
    if kind != "cells":
        if stage == "before":
            notes.findings.append(table.reason("light_proves_nothing", "light_damage", {}))
        else:
            notes.passed.append(table.reason("no_light", "lit_cells", {}))
        return 0
    low, high = _lit(seen)
    limit = table.limit("lit_cells")
    values: dict[str, object] = {"count": low, "limit": limit, "margin": low - limit}
    if low > limit:
        code = "too_many_lit" if high == low else "too_many_lit_range"
        notes.replace.append(table.reason(code, "lit_cells", values))
    elif high is None or high > limit:
        notes.missing.append(table.reason("light_not_counted", "lit_cells", {"limit": limit}))
    elif high == low:
        notes.findings.append(table.reason("lit_cells", "lit_cells", values))
    else:
        values["most"] = high
        notes.findings.append(table.reason("lit_range", "lit_cells", values))
    return low


def fewest(seen: dict[str, object]) -> int:
    """The least number of lit cells that a reading tells of; a crack, edge or hole counts as one."""
    return _lit(seen)[0] if seen.get("kind") == "cells" else 1 if seen.get("kind") in DAMAGE else 0


def most(seen: dict[str, object]) -> int | None:
    """The largest number of lit cells that a reading tells of, None where it has no upper end."""
    return _lit(seen)[1] if seen.get("kind") == "cells" else fewest(seen)


def _lit(seen: dict[str, object]) -> tuple[int, int | None]:
    """Fewest and most lit cells; an exact count wins over the quick answer."""
    count = seen.get("count")
    if type(count) is int and count > 0:
        return count, count
    return RANGES.get(str(seen.get("lit")), (1, None))
