"""What two tests say together: melted brick, a leak, and contradictions that are real."""

from .figures import quantise
from .notes import Notes
from .rules import Table


def note(outlet: str | None, hard_fraction: float, lit: int | None, is_below: bool, table: Table, notes: Notes) -> None:
    """Adds the findings of the pairs.

    outlet: as read, or None; hard_fraction: blocked share of the deepest-blocked hard cell; lit: least number of lit
    cells, None where no light was tried; is_below: restriction soundly below the window.
    """
    is_hard = hard_fraction > quantise(table.limit("melt_depth"), 4)
    is_lit = lit is not None and lit > 0
    if is_hard and (outlet == "black" or (outlet == "grey" and is_lit)):
        values: dict[str, object] = {"hard_fraction": hard_fraction, "outlet": outlet,
                                    "limit_fraction": quantise(table.limit("melt_depth"), 4)}
        notes.replace.append(table.reason("melted_inside", "melt_depth", values))
    if is_lit and outlet in ("grey", "black"):
        notes.leak.append(table.reason("lit_and_dirty_outlet", "leak", {"count": lit, "outlet": outlet}))
        notes.to_settle(table.reason("settle_find_leak", "leak", {}))
    if is_lit and outlet == "clean":
        notes.findings.append(table.reason("lit_but_clean_outlet", "leak", {"count": lit}))
        if is_hard:
            notes.hold.append(table.reason("lit_and_hard", "melt_depth", {"count": lit}))
            notes.to_settle(table.reason("settle_rod_lit_cells", "melt_depth", {}))
    if lit == 0 and outlet == "black":
        notes.findings.append(table.reason("black_without_light", "leak", {}))
    if is_below and outlet == "black":
        notes.findings.append(table.reason("leak_suspected", "leak", {}))
        notes.to_settle(table.reason("settle_tell_owner", "leak", {}))
