"""The arithmetic behind one verdict, line by line, as a person checks it by hand.

Every figure is computed by the functions of webform/trade that judge() itself calls, or is taken from the verdict; a
line names the quantity of `ashbook calc` that computes it alone.
"""

from typing import Any

from ...trade.clean_filter import HIGHEST_PERMEABILITY, LOWEST_PERMEABILITY
from ...trade.judge import APPLY, as_judged
from ...trade.rules import Table, read_aloud
from .flow import add_flow
from .lines import Book, Line
from .mass import add_mass
from .rod import add_rod


def explain(case: Any, verdict: Any) -> list[Line]:
    """All lines for a case as read_case() gives it, and the verdict of judge()."""
    book, table, case = Book(), Table(case["rules"]), as_judged(case)
    applied = APPLY[case["unit_kind"]]
    before, readings = case.get("before") or {}, case["readings"]
    add_mass(book, case, verdict, table)
    if "rod" in applied:
        is_after = case["stage"] == "after"
        told = {str(reason["code"]) for part in ("reasons", "findings") for reason in verdict[part]}
        is_asked = is_after and not told & {"hard_average", "most_of_face"}
        stages = (("before cleaning", before.get("rod"), False),
                  ("after cleaning" if is_after else "before cleaning", readings.get("rod"), is_asked))
        for when, found, is_open in stages:
            if isinstance(found, dict) and "skipped" not in found:
                add_rod(book, when, found, case, table, is_open)
    _add_light(book, readings.get("light") if "light" in applied else None, table)
    blown = readings.get("flow")
    if isinstance(blown, dict) and "skipped" not in blown:
        apart = [reason["values"] for reason in verdict["missing"] if reason["code"] == "flow_apart"]
        add_flow(book, blown, case, table, apart)
    _add_together(book, verdict)
    book.topic = "Rules in use"
    for row in read_aloud(case["rules"]):
        name, _, words = row.partition(": ")
        book.add(name, "", "", words)
    return book.lines


def _add_light(book: Book, seen: Any, table: Table) -> None:
    if isinstance(seen, dict) and seen.get("kind") == "cells":
        book.topic = "Light"
        count = seen.get("count")
        book.add(
            "lit cells", str(seen.get("lit")) if count is None else count, "", f"replace above {table.limit('lit_cells'):.4g}"
        )


def _add_together(book: Book, verdict: Any) -> None:
    """What a clean brick reads, and what the rod's cells allow: both as the verdict found them."""
    book.topic = "Restriction beside geometry and rod"
    for reason in verdict["findings"]:
        values = reason["values"]
        if reason["code"] == "clean_estimate":
            book.add(
                "clean brick, from",
                values["clean_low_pa"],
                "Pa",
                f"channel-drop + face-losses at permeability {HIGHEST_PERMEABILITY:.3g} m²",
                by="channel-drop",
            )
            book.add(
                "clean brick, to",
                values["clean_high_pa"],
                "Pa",
                f"the same at {LOWEST_PERMEABILITY:.3g} m²",
                by="channel-drop",
            )
        if reason["code"] in ("rod_allows_flow", "flow_above_rod", "flow_below_rod"):
            book.add("rod allows, from", values["low_pa"], "Pa", "clean brick, from x lower end of the band", by="rod-band")
            book.add("rod allows, to", values["high_pa"], "Pa", "clean brick, to x upper end of the band", by="rod-band")
            book.add(
                "restriction",
                values["drop_pa"],
                "Pa",
                {"rod_allows_flow": "inside", "flow_above_rod": "above", "flow_below_rod": "below"}[reason["code"]],
            )
