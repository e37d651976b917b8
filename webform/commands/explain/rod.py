"""The rod's arithmetic: every cell, both statistics with their intervals, and whether more cells would settle it."""

import math
from typing import Any

from ...trade import intervals, rod, sampling
from ...trade.figures import deviation, mean, quantise, reading
from ...trade.rules import Table
from .lines import Book

DECIMALS = rod.DECIMALS


def add_rod(book: Book, when: str, rodding: Any, case: Any, table: Table, is_asked: bool) -> None:
    """Lines of one rod reading; when: "before cleaning" or as case says; is_asked: more cells could change the verdict."""
    cells = rod.counted(rodding)
    if not cells:
        return
    brick = case.get("brick")
    full_m = reading(rodding.get("full_depth_m")) or reading((brick or {}).get("depth_m"))
    every, hard = rod.shares(rodding, brick), rod.hard_shares(rodding, brick)
    book.topic = f"Rod, {when}: blocked share of each cell"
    if full_m is not None:
        book.add(
            "full depth", full_m * 1000.0, "mm", "as rodded" if rodding.get("full_depth_m") is not None else "the model's"
        )
    for feel, what, why in (("end_plug", "end plugs", "no cells of the inlet side"), ("caked", "caked cells", "not entered")):
        left = len([cell for cell in rodding["cells"] if cell["feel"] == feel])
        if left:
            book.add(what, left, "", why + ": not counted")
    for place, cell in enumerate(cells):
        zone = "" if cell.get("zone") is None else f" zone {cell['zone']}"
        share = every[place]
        book.add(
            f"cell {place + 1}{zone} {cell['feel']}",
            "unknown" if share is None else share,
            "",
            _how(cell, share, full_m),
            by="cell-blocked",
        )
    known = [0.0 if share is None else share for share in every]
    _add_mean(book, "all cells", known, None)
    if max(hard) > 0.0:
        _add_mean(book, "hard cells only", hard, table.limit("hard_average"))
        _add_share(book, hard, table)
        if is_asked and None not in every:
            _add_more(book, hard, table)


def _how(cell: Any, share: float | None, full_m: float | None) -> str:
    if cell["feel"] in ("free", "through"):
        return "0 by definition"
    if share is None or full_m is None:
        return "no depth that can be compared: counts as 0, and blocks OK"
    if cell.get("depth_m") is not None:
        return f"1 - {cell['depth_m'] * 1000.0:.6g} mm / {full_m * 1000.0:.6g} mm, cut to 0 and 1"
    return f"{cell['short_m'] * 1000.0:.6g} mm short / {full_m * 1000.0:.6g} mm, cut to 0 and 1"


def _add_mean(book: Book, which: str, xs: list[float], limit: float | None) -> None:
    count, middle = len(xs), mean(xs)
    book.add(
        f"average, {which}",
        quantise(middle, DECIMALS),
        "",
        f"sum of the shares {math.fsum(xs):.6g} / {count} cells"
        + ("" if limit is None else f"; replace above {quantise(limit, DECIMALS):.6g}"),
    )
    interval = intervals.of_mean(xs)
    if interval is None:
        return
    spread = deviation(xs)
    book.add("  standard deviation s", spread, "", f"√(sum of (share - average)² / {count - 1})", by="mean-and-deviation")
    book.add(
        "  t for 95 %, two-sided", intervals.student_95(count - 1), "", f"{count - 1} degrees of freedom", by="student-95"
    )
    how = f"average - t s / √{count}, not below 0"
    book.add("  interval from", quantise(interval[0], DECIMALS), "", how, by="mean-interval")
    book.add(
        "  interval to",
        quantise(interval[1], DECIMALS),
        "",
        how.replace("-", "+").replace("below 0", "above 1"),
        by="mean-interval",
    )


def _add_share(book: Book, hard: list[float], table: Table) -> None:
    depth, count = quantise(table.limit("blocked_depth"), DECIMALS), len(hard)
    hits = len([share for share in hard if quantise(share, DECIMALS) > depth])
    book.add("cells hard-blocked", hits, "", f"hard cells whose share is above {depth:.6g}")
    book.add(
        "share of the cells",
        quantise(hits / count, DECIMALS),
        "",
        f"{hits} / {count}; replace above {table.limit('most_of_face'):.6g}",
    )
    low, high = intervals.of_share(hits, count)
    how = "(p + z²/2n -/+ z √(p(1 - p)/n + z²/4n²)) / (1 + z²/n), z = 1.959964"
    book.add("  interval from", quantise(low, DECIMALS), "", how, by="wilson-interval")
    book.add("  interval to", quantise(high, DECIMALS), "", how, by="wilson-interval")


def _add_more(book: Book, hard: list[float], table: Table) -> None:
    most, count = int(table.limit("more_cells")), len(hard)
    most = max(0, min(most, rod.FIRST_CELLS + most - count))
    hits = len([share for share in hard if quantise(share, DECIMALS) > quantise(table.limit("blocked_depth"), DECIMALS)])
    for what, found, by in (
        (
            "more cells for the average",
            sampling.more_cells_to_pass(hard, table.limit("hard_average"), most),
            "more-cells-to-pass",
        ),
        (
            "more cells for the share",
            sampling.more_cells_for_share(hits, count, table.limit("most_of_face"), most),
            "more-cells-for-share",
        ),
    ):
        words = {
            "cells.clear": "its interval clears the limit",
            "cells.more": "so many more would clear it if nothing changes",
            "cells.person": f"{most} more would not clear it: a person decides",
            "cells.few": "nothing can be said from so few",
        }
        book.add(what, float(str(found["more"])), "", words[str(found["code"])], by=by)
