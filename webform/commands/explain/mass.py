"""The scale's arithmetic: what each round took off, whether another is worth it, what remains; ash and next service."""

import math
from typing import Any

from ...checklist.declaration import FITTED
from ...trade import ash, remains, weight
from ...trade.bench import geometry_of
from ...trade.clean_filter import INCH_M
from ...trade.figures import quantise, reading
from ...trade.rules import Table
from .lines import Book

ROUNDS = {
    "round_soot": "soot and water: the burn itself",
    "round_ash": "ash: after the burn",
    "round_mixed": "soot, ash and water: not burnt before",
    "round_nothing": "no more than the scale can tell",
    "rounds_together": "soot, ash and water: nobody weighed in between",
    "rounds_ash": "ash: after the burn",
    "round_heavier": "heavier: water, or something else was fitted",
}
HEAVIER = {"heavier_after": "water", "heavier_unproven": "weighed warm or in doubt before, so it proves nothing"}
BALANCE = {"ash.more": "more", "ash.less": "less", "ash.as_expected": "1 is inside, as expected"}


PARTS = {part: label.lower() for part, label in FITTED} | {"fitted": "all that is fitted"}


def add_mass(book: Book, case: Any, verdict: Any, table: Table) -> None:
    """Lines of all weighings; removed masses as the verdict found them."""
    before, after = _weight(case.get("before")), _weight(case.get("readings"))
    book.topic = "Weight"
    if case["stage"] == "before":
        if after is not None:
            _add_weighing(book, "as found", after, _state(after))
        return
    u_g, readings = table.limit("scale_u_g"), weight.readings_between(before, after)
    noise_g = weight.least_change_g(table, *remains.burnt_and_last(remains.weighings_of(case)))
    how = f"2·√{readings}·u, u = {u_g:.4g} g: " + ("two weighings" if readings == 2 else f"{readings} readings of the scale")
    book.add("smallest change that counts", weight.least_change_g(table, before, after), "g", how + ", about 95 %",
             "GUM (JCGM 100:2008) 5.1.2, coverage factor 2")
    if before is not None:
        _add_weighing(book, "as found", before, _state(before))
    for place, entry in enumerate(case["rounds"]):
        if entry["mass_g"] is not None:
            _add_weighing(book, f"after round {place + 1} ({entry['method']})", entry, "cold and dry")
    if after is not None:
        _add_weighing(book, "at the end", after, _state(after))
    for part in ("reasons", "findings"):
        for reason in verdict[part]:
            _add_found(book, str(reason["code"]), reason["values"], table)
    out: Any = ash.ash_out(remains.weighings_of(case), noise_g)
    _add_ash(book, case, quantise(out["mid_g"], 1) if out["ok"] else None, verdict, noise_g)


def _add_weighing(book: Book, what: str, weighing: Any, state: str) -> None:
    """The net mass of one weighing, ahead of it what the scale showed and each part that was taken off."""
    parts = weighing.get("parts") or []
    if parts:
        shown_g = weighing["mass_g"] + math.fsum(part["mass_g"] for part in parts)
        book.add(f"{what}, gross", shown_g, "g", "on the scale, with what was fitted")
        for part in parts:
            book.add(f"  less {PARTS.get(part['part'], part['part'])}", part["mass_g"], "g", "weighed alone")
    book.add(what, weighing["mass_g"], "g", ("net; " if parts else "") + state)


def _add_found(book: Book, code: str, values: Any, table: Table) -> None:
    """The line of a reason or finding about mass."""
    if code in ROUNDS:
        how = "mass before less mass after; " + ROUNDS[code]
        rounds = f"rounds {values['first']} to" if code in ("rounds_together", "rounds_ash") else "round"
        book.add(f"removed by {rounds} {values['round']}", values["removed_g"], "g", how)
    elif code in ("removed", "removed_after_oven"):
        book.add("removed in all", values["removed_g"], "g", f"{values['before_g']:.6g} - {values['after_g']:.6g}")
    elif code == "removed_nothing":
        removed_g = values["before_g"] - values["after_g"]
        how = f"{values['before_g']:.6g} - {values['after_g']:.6g}: no more than the scale can tell"
        book.add("removed in all", quantise(removed_g, 1), "g", how)
    elif code in ("heavier_after", "heavier_unproven"):
        how = f"{values['after_g']:.6g} - {values['before_g']:.6g}: " + HEAVIER[code]
        book.add("heavier than before", values["heavier_g"], "g", how)
    elif code == "round_not_worth":
        how = f"worth it above {values['limit_g']:.6g} g, the larger of {table.limit('worth_g'):.4g} g and 2·√n·u"
        book.add("taken off by the last round", values["removed_g"], "g", how + ": not worth another")
    elif code in ("mass_left", "mass_below"):
        left_g = values["left_g"] if code == "mass_left" else -values["left_g"]
        how = f"{values['after_g']:.6g} - {values['clean_g']:.6g}; condemns nothing"
        book.add("against its reference", left_g, "g", how)


def _add_ash(book: Book, case: Any, out: float | None, verdict: Any, noise_g: float) -> None:
    use, body = case.get("use"), geometry_of(case.get("brick"))
    expected: Any = {"ok": False} if use is None else ash.expected_ash(use, use)
    book.topic = "Ash"
    if expected["ok"]:
        _add_expected(book, use, expected)
    if out is None:
        return
    low, high = max(0.0, out - noise_g), out + noise_g
    book.add("ash that came out", out, "g", "mass after the first oven burn less the last mass", by="ash-out")
    book.add("  range from", low, "g", "less the smallest change that counts")
    book.add("  range to", high, "g", "plus the smallest change that counts")
    if expected["ok"]:
        found: Any = ash.ash_balance(expected, {"ok": True, "low_g": low, "mid_g": out, "high_g": high})
        how = f"{found['low_ratio']:.4g} to {found['high_ratio']:.4g}: " + BALANCE[found["code"]]
        book.add("came out / expected", found["ratio"], "", how, by="ash-balance")
    if body is not None:
        _add_plug(book, body, out, verdict, noise_g)


def _add_expected(book: Book, use: Any, expected: Any) -> None:
    density, reaching = use.get("density_kg_l") or ash.DENSITY_KG_L, use.get("reaching") or ash.REACHING
    percent = expected["ash_percent"]
    book.add("oil used", expected["oil_l"], "L", "hours x litres an hour, or as given", by="oil-used")
    book.add("ash in the oil", percent, "%", "ceiling of its category" if expected["is_ceiling"] else "as given")
    how = f"{expected['oil_l']:.5g} L x {density:.4g} kg/L x {percent:.4g} % x {reaching:.3g} that reaches the filter"
    book.add("expected ash", quantise(expected["mid_g"], 1), "g", how, by="expected-ash")
    ranges = ash.factor_ranges(use, use)
    for place, (name, sign) in enumerate((("from", "-"), ("to", ""))):
        end_g = expected["low_g" if place == 0 else "high_g"]
        how = _spread(sign, [pair[place] for pair in ranges]) + ": oil, density, laboratory, ash in the oil, share reaching"
        book.add("  range " + name, quantise(end_g, 1), "g", how)


def _add_plug(book: Book, body: dict[str, float], out: float, verdict: Any, noise_g: float) -> None:
    volume_l, pitch_m = body["area_m2"] * body["length_m"] * 1000.0, body["pitch_m"]
    inlet_l = ash.inlet_volume_l(volume_l, 1.0 / (pitch_m * pitch_m), body["wall_m"])
    how = f"half of {(INCH_M / pitch_m) ** 2:.4g} cells/in² in {volume_l:.6g} L, without walls"
    book.add("volume of the inlet channels", inlet_l, "L", how, by="inlet-volume")
    around = ash.blocked_by(out, inlet_l)
    how = f"packed at {ash.PACKING[1]:.3g} g/cm³; {around['low']:.3g} to {around['high']:.3g}"
    book.add("blockage that ash explains", around["mid"], "", how, by="blocked-by-ash")
    _add_next(book, verdict, out, inlet_l, noise_g)


def _add_next(book: Book, verdict: Any, out: float, inlet_l: float, noise_g: float) -> None:
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
            low, high = ash.RATIOS["duty"]
            how = _spread("-", [out / (out + noise_g), low]) + ": ash, use; to two leading digits"
            book.add("  not before", values["low"], values["unit"], how)
            if "high" in values:
                how = _spread("", [out / (out - noise_g), high]) + ": the same"
                book.add("  not after", values["high"], values["unit"], how)


def _spread(sign: str, ratios: list[float]) -> str:
    """How ranges combine, as a person types it: x e^-√(ln² 0.7 + ln² 0.98)."""
    return f"x e^{sign}√(" + " + ".join(f"ln² {ratio:.4g}" for ratio in ratios) + ")"


def _weight(readings: Any) -> Any:
    found = readings.get("weight") if isinstance(readings, dict) else None
    return found if isinstance(found, dict) and reading(found.get("mass_g")) is not None else None


def _state(weighing: Any) -> str:
    return f"{weighing.get('temperature') or 'temperature not told'}, {weighing.get('moisture') or 'moisture not told'}"
