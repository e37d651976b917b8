"""The rod: how much of each inlet cell's depth is blocked, and the two statistics that must not be mixed up.

Average blockage is the mean blocked share of the depth over all counted cells, free ones as 0; hard cells alone
condemn. Most of the face is the share of counted cells that are hard-blocked by more than a third of the depth.
An end plug (stopped at once) is no cell of the inlet side: the next one counts instead. Nor does a cell count that the rod
could not enter because the face is caked over: that is cleaned first.
"""

from . import intervals, sampling
from .figures import mean, quantise, reading
from .notes import Notes
from .rules import Table

FIRST_CELLS = 24  # two in each of twelve zones
MOST_MORE = 100  # whatever a shop's table says: nobody rods more
BEYOND = 0.02  # a stop so much deeper than the brick, as a share of it, is a slip of unit or depth and no measurement
DECIMALS = 4  # shares are compared to a ten-thousandth


def blocked(cell: dict[str, object], full_m: float | None) -> float | None:
    """The share of the depth that is blocked, 0 to 1: 1 - depth/full, or what the rod fell short/full; None if unknown.

    What lies beyond the brick is not known either. Source: by definition; lengths in m.

    >>> blocked({"feel": "hard", "depth_m": 0.145, "short_m": None}, 0.290)
    0.5
    """
    if cell["feel"] in ("free", "through"):
        return 0.0
    depth_m, short_m = reading(cell.get("depth_m")), reading(cell.get("short_m"))
    if full_m is None or full_m <= 0.0 or (depth_m is None and short_m is None):
        return None
    share = 1.0 - depth_m / full_m if depth_m is not None else (short_m or 0.0) / full_m
    if not -BEYOND <= share <= 1.0 + BEYOND:
        return None
    return min(1.0, max(0.0, share))


def counted(rodding: dict[str, object]) -> list[dict[str, object]]:
    """The cells that count: an end plug is no cell of the inlet side, a caked one was not entered."""
    return [cell for cell in _cells(rodding) if cell["feel"] not in ("end_plug", "caked")]


def shares(rodding: dict[str, object], brick: object) -> list[float | None]:
    """The blocked share of each counted cell, None where its depth or the brick's is unknown."""
    full_m = reading(rodding.get("full_depth_m"))
    if full_m is None and isinstance(brick, dict):
        full_m = reading(brick.get("depth_m"))
    return [blocked(cell, full_m) for cell in counted(rodding)]


def hard_shares(rodding: dict[str, object], brick: object) -> list[float]:
    """The blocked share of each counted cell where it is hard, else 0; what could not be measured counts as 0."""
    cells, every = counted(rodding), shares(rodding, brick)
    return [(every[place] or 0.0) if cells[place]["feel"] == "hard" else 0.0 for place in range(len(cells))]


def note(rodding: dict[str, object], case: dict[str, object], table: Table, notes: Notes) -> float:
    """Adds what the cells say; the blocked share of the deepest-blocked hard cell, 0 where there is none."""
    cells, brick, stage = counted(rodding), case.get("brick"), str(case["stage"])
    caked = len([cell for cell in _cells(rodding) if cell["feel"] == "caked"])
    if caked:
        notes.dirty.append(table.reason("face_caked", "left_after" if stage == "after" else "soft", {"cells": caked}))
    if not cells:
        if not caked:
            notes.missing.append(table.reason("rod_no_cells", "all_tests", {"test": "rod"}))
        return 0.0
    known = shares(rodding, brick)
    count, unknown = len(cells), len([share for share in known if share is None])
    # What could not be measured counts as unblocked: it cannot prove anything, and it blocks OK below.
    every = [0.0 if share is None else share for share in known]
    hard = hard_shares(rodding, brick)
    if unknown:
        notes.missing.append(table.reason("rod_depth_unknown", "all_tests", {"cells": unknown}))
    if count < table.limit("cells_to_pass"):
        few: dict[str, object] = {"cells": count, "limit": table.limit("cells_to_pass")}
        notes.missing.append(table.reason("rod_few_cells", "cells_to_pass", few))
    _note_plugs(cells, table, notes)
    is_over = _note_limits(hard, table, notes)
    _note_loading(cells, every, hard, stage, is_over, bool(unknown), table, notes)
    if not unknown:
        _note_pattern(cells, every, table, notes)
    if stage == "after" and not is_over and not unknown and max(hard) > 0.0:
        _note_more(hard, case.get("released"), table, notes)
    return _q(max(hard))


def _note_pattern(cells: list[dict[str, object]], every: list[float], table: Table, notes: Notes) -> None:
    """Where on the face the blocked cells lie, where that is no chance."""
    placed: list[dict[str, object]] = [
        {"zone": cells[place].get("zone"), "is_blocked": _q(every[place]) > _q(table.limit("melt_depth"))}
        for place in range(len(cells))]
    pattern = sampling.position_pattern(placed)
    if pattern != "none":
        notes.findings.append(table.reason("rod_pattern", "hard_average", {"pattern": pattern}))


def _note_more(hard: list[float], released: object, table: Table, notes: Notes) -> None:
    """Whether more cells could still turn the verdict: at most so many are asked for, then a person decides."""
    allowed = int(min(table.limit("more_cells"), MOST_MORE))
    most = max(0, min(allowed, FIRST_CELLS + allowed - len(hard)))
    hits = len([share for share in hard if _q(share) > _q(table.limit("blocked_depth"))])
    asked = [sampling.more_cells_to_pass(hard, table.limit("hard_average"), most),
             sampling.more_cells_for_share(hits, len(hard), table.limit("most_of_face"), most)]
    codes = [entry["code"] for entry in asked]
    if isinstance(released, dict) and ("cells.person" in codes or "cells.more" in codes):
        # Who may decide the worse doubt may decide the smaller one: else a worse cell would help.
        values: dict[str, object] = {"person": str(released.get("person")), "why": str(released.get("reason"))}
        notes.findings.append(table.reason("rod_person_decided", "more_cells", values))
    elif "cells.person" in codes:
        notes.hold.append(table.reason("rod_unclear", "more_cells", {"cells": len(hard)}))
        notes.to_settle(table.reason("settle_person_decides_rod", "more_cells", {}))
    elif "cells.more" in codes:
        more = max(reading(entry["more"]) or 0.0 for entry in asked)
        notes.hold.append(table.reason("rod_more_cells", "more_cells", {"cells": len(hard), "more": int(more)}))
        notes.to_settle(table.reason("settle_rod_more", "more_cells", {"limit": len(hard) + int(more)}))


def _note_plugs(cells: list[dict[str, object]], table: Table, notes: Notes) -> None:
    through = len([cell for cell in cells if cell["feel"] == "through"])
    if through:
        notes.replace.append(table.reason("plug_missing", "plug_missing", {"cells": through}))


def _note_limits(hard: list[float], table: Table, notes: Notes) -> bool:
    """Compares both statistics of the hard cells with their limits; whether either is over."""
    count = len(hard)
    is_enough = count >= table.limit("cells_to_condemn")
    average, limit = _q(mean(hard)), _q(table.limit("hard_average"))
    if average > limit:
        values: dict[str, object] = {"average_fraction": average, "limit_fraction": limit,
                                     "margin_fraction": _q(average - limit), "cells": count}
        _add_interval(values, intervals.of_mean(hard))
        _condemn(table.reason("hard_average", "hard_average", values), is_enough, count, table, notes)
    depth, limit = _q(table.limit("blocked_depth")), _q(table.limit("most_of_face"))
    hits = len([share for share in hard if _q(share) > depth])
    share = _q(hits / count)
    if share > limit:
        found: dict[str, object] = {"share_fraction": share, "limit_fraction": limit, "depth_fraction": depth,
                                    "margin_fraction": _q(share - limit), "hits": hits, "cells": count}
        _add_interval(found, intervals.of_share(hits, count))
        _condemn(table.reason("most_of_face", "most_of_face", found), is_enough, count, table, notes)
    return average > _q(table.limit("hard_average")) or share > limit


def _condemn(reason: dict[str, object], is_enough: bool, count: int, table: Table, notes: Notes) -> None:
    if is_enough:
        notes.replace.append(reason)
        return
    if not notes.unproven:
        values: dict[str, object] = {"cells": count, "limit": table.limit("cells_to_condemn")}
        notes.unproven.append(table.reason("too_few_to_condemn", "cells_to_condemn", values))
        notes.to_settle(table.reason("settle_rod_more", "cells_to_condemn", {"limit": table.limit("cells_to_pass")}))
    notes.findings.append(reason)


def _note_loading(cells: list[dict[str, object]], every: list[float], shares_hard: list[float], stage: str, is_over: bool,
                  is_unknown: bool, table: Table, notes: Notes) -> None:
    """Adds what is in the cells; is_unknown: not every depth is known, so that an average would be one of guesses."""
    soft = len([cell for cell in cells if cell["feel"] == "soft"])
    hard = len([cell for cell in cells if cell["feel"] == "hard"])
    values: dict[str, object] = {"average_fraction": _q(mean(every)), "cells": len(cells)}
    _add_interval(values, intervals.of_mean(every))
    if not soft and not hard:
        notes.passed.append(table.reason("rod_free", "soft", {"cells": len(cells)}))
    elif not is_unknown:
        notes.findings.append(table.reason("rod_average", "hard_average", values))
    if soft:
        rule = "left_after" if stage == "after" else "soft"
        notes.dirty.append(table.reason("soft_loading", rule, {"soft": soft, "cells": len(cells)}))
    if hard and not is_over:
        _note_hard(hard, shares_hard, stage, is_unknown, table, notes)


def _note_hard(hard: int, shares_hard: list[float], stage: str, is_unknown: bool, table: Table, notes: Notes) -> None:
    """Adds the hard cells that are below both limits: worth cleaning as found, told with their distance afterwards."""
    average, limit, depth = _q(mean(shares_hard)), _q(table.limit("hard_average")), _q(table.limit("blocked_depth"))
    below: dict[str, object] = {
        "hard": hard, "cells": len(shares_hard), "average_fraction": average, "limit_fraction": limit,
        "margin_fraction": _q(limit - average), "hits": len([share for share in shares_hard if _q(share) > depth]),
        "depth_fraction": depth, "most_fraction": _q(table.limit("most_of_face"))}
    if is_unknown:
        below = {"hard": hard, "cells": len(shares_hard)}
    if stage == "before":
        code = "hard_loading_unknown" if is_unknown else "hard_loading"
        notes.dirty.append(table.reason(code, "soft", below))
    elif not is_unknown:
        notes.findings.append(table.reason("hard_left", "hard_average", below))


def _add_interval(values: dict[str, object], interval: tuple[float, float] | None) -> None:
    """Adds the interval; one cell alone leaves everything open."""
    low, high = (0.0, 1.0) if interval is None else interval
    values["low_fraction"], values["high_fraction"] = _q(low), _q(high)


def _cells(rodding: dict[str, object]) -> list[dict[str, object]]:
    cells = rodding.get("cells")
    return cells if isinstance(cells, list) else []


def _q(share: float) -> float:
    return quantise(share, DECIMALS)
