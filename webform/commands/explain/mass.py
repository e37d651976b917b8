"""The scale's arithmetic: what each round took off, whether another is worth it, what remains; ash and next service."""

import math
from typing import Any

from ...trade import ash
from ...trade.bench import geometry_of
from ...trade.clean_filter import INCH_M
from ...trade.figures import quantise, reading
from ...trade.rules import Table
from .lines import Book


def add_mass(book: Book, case: Any, verdict: Any, table: Table) -> None:
    """Lines of all weighings; removed masses as the verdict found them."""
    before, after = _weight(case.get("before")), _weight(case.get("readings"))
    book.topic = "Weight"
    if case["stage"] == "before" or (before is None and after is None):
        if after is not None:
            book.add("as found", after["mass_g"], "g", _state(after))
        return
    u_g = table.limit("scale_u_g")
    noise_g = 2.0 * math.sqrt(2.0) * u_g
    book.add(
        "smallest change that counts",
        noise_g,
        "g",
        f"2·√2·u, u = {u_g:.4g} g: two weighings, about 95 %",
        "GUM (JCGM 100:2008) 5.1.2 for the difference of two readings, coverage factor 2",
    )
    if before is not None:
        book.add("as found", before["mass_g"], "g", _state(before))
    for place, entry in enumerate(case["rounds"]):
        if entry["mass_g"] is not None:
            book.add(f"after round {place + 1} ({entry['method']})", entry["mass_g"], "g", "cold and dry")
    if after is not None:
        book.add("at the end", after["mass_g"], "g", _state(after))
    kinds = {
        "round_soot": "soot and water: the burn itself",
        "round_ash": "ash: after the burn",
        "round_mixed": "soot, ash and water: not burnt before",
        "round_nothing": "no more than the scale can tell",
    }
    for reason in verdict["findings"] + verdict["reasons"]:
        values = reason["values"]
        if reason["code"] in kinds:
            book.add(
                f"removed by round {values['round']:.0f}",
                values["removed_g"],
                "g",
                "mass before less mass after; " + kinds[reason["code"]],
            )
        elif reason["code"] in ("removed", "removed_after_oven"):
            book.add("removed in all", values["removed_g"], "g", f"{values['before_g']:.6g} - {values['after_g']:.6g}")
        elif reason["code"] == "heavier_after":
            book.add(
                "heavier than before", values["heavier_g"], "g", f"{values['after_g']:.6g} - {values['before_g']:.6g}: water"
            )
        elif reason["code"] == "round_not_worth":
            book.add(
                "another round",
                "not worth it",
                "",
                f"the last took off {values['removed_g']:.6g} g; worth above {values['limit_g']:.6g} g, "
                f"the larger of {table.limit('worth_g'):.4g} g and 2·√2·u",
            )
        elif reason["code"] in ("mass_left", "mass_below"):
            sign = 1.0 if reason["code"] == "mass_left" else -1.0
            book.add(
                "against its reference",
                sign * values["left_g"],
                "g",
                f"{values['after_g']:.6g} - {values['clean_g']:.6g}; condemns nothing",
            )
    _add_ash(book, case, verdict, noise_g)


def _add_ash(book: Book, case: Any, verdict: Any, noise_g: float) -> None:
    use, out = case.get("use"), _ash_out(verdict)
    body = geometry_of(case.get("brick"))
    if use is None and out is None:
        return
    book.topic = "Ash"
    expected: Any = ash.expected_ash(use, use) if use is not None else {"ok": False}
    if expected["ok"]:
        book.add("oil used", expected["oil_l"], "L", "hours x litres an hour, or as given", by="oil-used")
        book.add(
            "ash in the oil",
            expected["ash_percent"],
            "%",
            "ceiling of its category" if expected["is_ceiling"] else "as given",
        )
        density, reaching = use.get("density_kg_l") or ash.DENSITY_KG_L, use.get("reaching") or ash.REACHING
        book.add(
            "expected ash",
            quantise(expected["mid_g"], 1),
            "g",
            f"{expected['oil_l']:.5g} L x {density:.4g} kg/L x {expected['ash_percent']:.4g} % x {reaching:.3g} that reaches the filter",
            by="expected-ash",
        )
        book.add(
            "  range from", quantise(expected["low_g"], 1), "g", "factors' ranges combined as squares of their logarithms"
        )
        book.add("  range to", quantise(expected["high_g"], 1), "g", "the same")
    if out is None:
        return
    book.add("ash that came out", out, "g", "mass after the first oven burn less the last mass", by="ash-out")
    book.add("  range from", max(0.0, out - noise_g), "g", "less the smallest change that counts")
    book.add("  range to", out + noise_g, "g", "plus the smallest change that counts")
    if expected["ok"]:
        found: Any = ash.ash_balance(
            expected, {"ok": True, "low_g": max(0.0, out - noise_g), "mid_g": out, "high_g": out + noise_g}
        )
        book.add(
            "came out / expected",
            found["ratio"],
            "",
            f"{found['low_ratio']:.4g} to {found['high_ratio']:.4g}: "
            + {"ash.more": "more", "ash.less": "less", "ash.as_expected": "1 is inside, as expected"}[found["code"]],
            by="ash-balance",
        )
    if body is None:
        return
    inlet_l = ash.inlet_volume_l(
        body["area_m2"] * body["length_m"] * 1000.0, 1.0 / (body["pitch_m"] * body["pitch_m"]), body["wall_m"]
    )
    book.add(
        "volume of the inlet channels",
        inlet_l,
        "L",
        f"half of {(INCH_M / body['pitch_m']) ** 2:.4g} cells/in², without walls",
        by="inlet-volume",
    )
    around = ash.blocked_by(out, inlet_l)
    book.add(
        "blockage that ash explains",
        around["mid"],
        "",
        f"packed at {ash.PACKING[1]:.3g} g/cm³; {around['low']:.3g} to {around['high']:.3g}",
        by="blocked-by-ash",
    )
    _add_next(book, verdict, out, inlet_l)


def _add_next(book: Book, verdict: Any, out: float, inlet_l: float) -> None:
    for reason in verdict["findings"]:
        values = reason["values"]
        if reason["code"] in ("rod_agrees", "rod_gained_more", "rod_gained_less"):
            book.add(
                "average blockage lost",
                values["gained_fraction"],
                "",
                "rod before less rod after, hard cells",
                by="rod-agreement",
            )
        if reason["code"] in ("next_service", "next_service_open"):
            limit_g = ash.plug_g(ash.SERVICE_SHARE, inlet_l, ash.PACKING[1])
            book.add(
                "ash at the next service",
                limit_g,
                "g",
                f"{ash.SERVICE_SHARE:.3g} of every inlet channel at {ash.PACKING[1]:.3g} g/cm³",
                by="plug-mass",
            )
            book.add(
                "next service",
                values["mid"],
                values["unit"],
                f"use since the last x {limit_g:.5g} g / {out:.5g} g",
                by="next-service",
            )
            book.add("  not before", values["low"], values["unit"], "ranges of ash and use combined")
            if "high" in values:
                book.add("  not after", values["high"], values["unit"], "the same")


def _ash_out(verdict: Any) -> float | None:
    """The ash that came out after the burn, as the verdict found it."""
    for reason in verdict["findings"]:
        if "removed_g" in reason["values"] and ("expected_g" in reason["values"] or "gained_fraction" in reason["values"]):
            return reading(reason["values"]["removed_g"])
    return None


def _weight(readings: Any) -> Any:
    found = readings.get("weight") if isinstance(readings, dict) else None
    return found if isinstance(found, dict) and reading(found.get("mass_g")) is not None else None


def _state(weighing: Any) -> str:
    return f"{weighing.get('temperature') or 'temperature not told'}, {weighing.get('moisture') or 'moisture not told'}"
