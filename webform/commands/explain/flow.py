"""The bench's arithmetic: air, plate, the way to the flow spec's air, the window with its guard."""

import math
from typing import Any

from ...trade import air, bench, clean_filter, correction, flow, plate
from ...trade.figures import quantise, reading
from ...trade.notes import Notes
from ...trade.rules import Table
from ...trade.uncertainty import conformance_probability
from .lines import Book

PA = flow.DECIMALS


def add_flow(book: Book, blown: Any, case: Any, table: Table, apart: list[Any]) -> None:
    """Lines of the flow reading of this stage; apart: the verdict's figures of repeats that disagree, if they do."""
    raw_pa, spec = flow.raw(blown), case.get("spec") or {}
    if raw_pa is None:
        return
    check = blown.get("check") or {}
    here = air.room_air(check["air"]) if check.get("air") else None
    reference = air.room_air(spec.get("air") or bench.REFERENCE)
    if here is not None:
        _add_air(book, "Today's air", here)
        _add_plate(book, check, here, table)
    book.topic = "Restriction"
    drops = blown["drops_pa"]
    for place, drop in enumerate(drops):
        book.add(f"reading {place + 1}", drop, "Pa", "as the bench showed it")
    book.add("mean, raw", raw_pa, "Pa", f"sum / {len(drops)}")
    if not bench.is_good(blown, raw_pa, table, Notes()):
        book.add("bench", "in doubt", "", "the reading neither passes nor fails a filter")
        return
    carried = bench.carried(raw_pa, blown, case.get("spec"), case.get("brick"), table, Notes())
    if carried.is_corrected and here is not None and reference is not None:
        _add_air(book, "Air of the flow spec", reference, is_exact=True)
        _add_correction(book, raw_pa, case, str(check.get("mode")), here, reference)
    window = flow.usable(case.get("spec"))
    for values in apart:
        book.topic = "Repeats"
        how = f"{values['most_pa']:.6g} - {values['least_pa']:.6g}; at most {table.limit('repeats'):.4g} of the upper end: "
        book.add("apart", values["apart_pa"], "Pa", how + f"{values['limit_pa']:.6g} Pa. The mean is compared with nothing")
    if window is not None and not apart:
        _add_window(book, carried, window, table)


def _add_air(book: Book, topic: str, found: Any, is_exact: bool = False) -> None:
    """Lines of one air; is_exact: it is what the flow spec means by definition, so nothing of it is uncertain."""
    book.topic = topic
    how = [
        f"± {found['u_temperature_k']:.3g} K (every ± here is a standard uncertainty)",
        f"from the {found['pressure_from']}, ± {found['u_pressure_pa']:.4g} Pa",
        f"{found['humidity_from']}, ± {found['u_humidity']:.3g}",
    ]
    how = ["exact by definition"] * 3 if is_exact else how
    book.add("temperature", found["temperature_k"], "K", how[0])
    book.add("pressure", found["pressure_pa"], "Pa", how[1])
    book.add("relative humidity", found["humidity"], "", how[2])
    vapour = air.vapour_fraction(found["pressure_pa"], found["temperature_k"], found["humidity"])
    book.add(
        "vapour, mole fraction", vapour, "", "humidity x enhancement x saturation pressure / pressure", by="vapour-fraction"
    )
    book.add(
        "density",
        found["density_kg_m3"],
        "kg/m³",
        "p M/(Z R T) (1 - x (1 - Mv/M))" + ("" if is_exact else f", ± {found['u_density_kg_m3']:.3g}"),
        by="air-density",
    )
    book.add(
        "viscosity",
        found["viscosity_pa_s"],
        "Pa·s",
        "1.458e-6 T^1.5/(T + 110.4)" + ("" if is_exact else f", ± {found['u_viscosity_pa_s']:.3g}"),
        by="air-viscosity",
    )


def _add_plate(book: Book, check: Any, here: Any, table: Table) -> None:
    given = check.get("plate")
    if not given:
        return
    own_air = air.room_air(given.get("own_air") or bench.REFERENCE)
    found = (
        None
        if own_air is None
        else plate.plate_check(
            given["read_pa"], given["own_pa"], own_air["density_kg_m3"], here, check["mode"], table.limit("plate_drift")
        )
    )
    if found is None or own_air is None:
        return
    _add_air(book, "Air in which the plate's own value was taken", own_air)
    book.topic = "Flow plate of the day"
    own, now = reading(own_air["density_kg_m3"]) or 0.0, here["density_kg_m3"]
    back = plate.flow_ratio(now, own, check["mode"])
    book.add("own value", given["own_pa"], "Pa", "of this plate on this bench")
    book.add("flow then / flow now", back, "", f"bench of mode {check['mode']}", by="bench-flow-ratio")
    book.add(
        "expected today",
        found["expected_pa"],
        "Pa",
        f"own value x {now:.6g}/{own:.6g} / ({back:.6g})², ± {found['u_expected_pa']:.3g} Pa",
        by="plate-expected",
    )
    book.add("read today", found["read_pa"], "Pa", "")
    book.add(
        "drift",
        found["drift_fraction"],
        "",
        f"read / expected - 1; out beyond ± {table.limit('plate_drift'):.4g}, ± {found['u_drift_fraction']:.3g}",
        by="plate-check",
    )
    book.add("bench", "good" if found["ok"] else "out", "", "by its plate; a filter is never scaled by the plate")


def _add_correction(book: Book, raw_pa: float, case: Any, mode: str, here: Any, reference: Any) -> None:
    spec, body = case.get("spec") or {}, bench.geometry_of(case.get("brick"))
    flow_m3_s = bench.flow_today(spec, here, mode)
    split = correction.inertial_share(body, flow_m3_s, here, drop_pa=raw_pa)
    share, u_share = reading(split["share"]) or 0.0, reading(split["u_share"]) or 0.0
    found: Any = correction.corrected_drop(raw_pa, here, reference, mode, share, u_share, u_flow_fraction=0.0)
    book.topic = "The reading carried to the flow spec's air"
    if split["from"] == "geometry" and body is not None and flow_m3_s is not None:
        book.add("flow of the spec", spec["flow_m3_s"], "m³/s", "in the air of the flow spec")
        _add_inertia(book, body, flow_m3_s, here)
    book.add(
        "share φ that goes with density",
        share,
        "",
        ("(momentum + faces) / raw reading" if split["from"] == "geometry" else "usual share, brick's geometry not on file")
        + f", ± {u_share:.3g}",
        by="inertial-share",
    )
    mu = reference["viscosity_pa_s"] / here["viscosity_pa_s"]
    rho = reference["density_kg_m3"] / here["density_kg_m3"]
    ratio = plate.flow_ratio(here["density_kg_m3"], reference["density_kg_m3"], mode)
    book.add("viscosity, spec / today", mu, "", "")
    book.add("density, spec / today", rho, "", "")
    book.add("flow, spec / today", ratio, "", f"bench of mode {mode}", by="bench-flow-ratio")
    book.add("viscous part of the factor", (1.0 - share) * mu * ratio, "", "(1 - φ) x viscosity x flow")
    book.add("inertial part of the factor", share * rho * ratio * ratio, "", "φ x density x flow²")
    book.add("correction factor", found["factor"], "", "sum of the two parts", by="corrected-drop")
    book.add("corrected", quantise(found["corrected_pa"], PA), "Pa", f"{raw_pa:.6g} Pa x {found['factor']:.6g}")
    hows = {
        "split_pa": f"{raw_pa:.6g} Pa x ({rho * ratio * ratio:.6g} - {mu * ratio:.6g}) x {u_share:.3g}, the ± of φ",
        "reading_pa": "stands in the spec's own u",
        "flow_pa": "stands in the spec's own u",
        "temperature_pa": "of today's air: on viscous and inertial part together, by its effect on viscosity and density",
        "density_pa": "what is left of the air's ± density without its temperature, on the parts that go with it",
        "viscosity_pa": "what is left of the air's ± viscosity without its temperature, on the viscous part",
    }
    for name in sorted(found["parts"]):
        book.add(f"  u by {name[:-3]}", found["parts"][name], "Pa", hows[name])
    book.add("u of the way there", found["u_pa"], "Pa", "root of the sum of squares", by="combined-uncertainty")


def _add_inertia(book: Book, body: dict[str, float], flow_m3_s: float, here: Any) -> None:
    mu, rho, k = here["viscosity_pa_s"], here["density_kg_m3"], clean_filter.USUAL_PERMEABILITY
    viscous = clean_filter.clean_drop(body, flow_m3_s, mu, k)
    whole = clean_filter.channel_drop(body, flow_m3_s, mu, rho, k)
    book.add(
        "channel opening", body["opening_m"] * 1000.0, "mm", "25.4 mm/√(cells per square inch) - wall", by="brick-geometry"
    )
    book.add("open share of the face", body["open_fraction"], "", "opening² / (2 pitch²)")
    book.add("flow today", flow_m3_s, "m³/s", "flow of the spec / (flow, spec / today)")
    book.add(
        "speed into the channels",
        clean_filter.channel_speed(body, flow_m3_s),
        "m/s",
        "flow / (face x open share)",
        by="channel-speed",
    )
    book.add("clean, viscous", viscous, "Pa", f"permeability {k:.3g} m²", by="clean-drop")
    book.add("momentum in the channels", whole - viscous, "Pa", "channel-drop - clean-drop", by="channel-drop")
    book.add(
        "loss at both faces",
        clean_filter.face_losses(body, flow_m3_s, rho),
        "Pa",
        "ρ U²/2 (0.42 (1 - s) + (1 - s)²)",
        by="face-losses",
    )


def _add_window(book: Book, carried: bench.Carried, window: flow.Window, table: Table) -> None:
    coverage = table.limit("coverage")
    u_pa = math.sqrt(window.u_pa * window.u_pa + carried.u_pa * carried.u_pa)
    book.topic = f"Flow window ({window.source}, {window.revision})"
    book.add("lower end", quantise(window.low_pa, PA), "Pa", "")
    book.add("upper end", quantise(window.high_pa, PA), "Pa", "")
    book.add(
        "u of the reading",
        quantise(u_pa, PA),
        "Pa",
        f"√({window.u_pa:.5g}² + {carried.u_pa:.5g}²): the spec's own, and the way to its air",
        by="combined-uncertainty",
    )
    book.add(
        "guarded upper end",
        quantise(flow.guarded_high(window.low_pa, window.high_pa, u_pa, coverage), PA),
        "Pa",
        f"upper end - {coverage:.4g} u, never below the middle of the window",
        by="guarded-end",
    )
    book.add(
        "lower end with its margin", quantise(window.low_pa - coverage * u_pa, PA), "Pa", f"lower end - {coverage:.4g} u"
    )
    book.add(
        "upper end with its margin",
        quantise(window.high_pa + coverage * u_pa, PA),
        "Pa",
        f"upper end + {coverage:.4g} u: one reading alone up to there condemns nothing",
    )
    book.add(
        "restriction compared",
        quantise(carried.drop_pa, PA),
        "Pa",
        "corrected" if carried.is_corrected else "as read: no air on file",
    )
    chance = conformance_probability(carried.drop_pa, u_pa, window.low_pa, window.high_pa)
    book.add(
        "chance to lie in the window",
        quantise(chance, 4),
        "",
        "1 - Φ((x - high)/u) - Φ((low - x)/u)",
        by="conformance-probability",
    )
