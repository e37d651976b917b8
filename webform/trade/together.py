"""What two tests say together: melted brick, a leak, and contradictions that are real."""

from . import flow, rod, weight
from .bench import Carried, geometry_of, reference_air
from .clean_filter import HIGHEST_PERMEABILITY, LOWEST_PERMEABILITY, allowed_band, channel_drop, face_losses
from .figures import quantise, reading
from .notes import Notes
from .rules import Table

ROD_CODES = {"within": "rod_allows_flow", "above": "flow_above_rod", "below": "flow_below_rod"}
LEAST_FALL = 0.1  # of the restriction before: less is no fall worth a question; shop's starting value


def note(outlet: str | None, hard_fraction: float, lit: int | None, is_below: bool, stage: str, table: Table,
         notes: Notes) -> None:
    """Adds the findings of the pairs.

    outlet: as read, or None; hard_fraction: blocked share of the deepest-blocked hard cell; lit: least number of lit
    cells, None where no light was tried; is_below: restriction soundly below the window.
    """
    is_hard = hard_fraction > quantise(table.limit("melt_depth"), 4)
    is_lit = lit is not None and lit > 0
    if is_hard and (outlet == "black" or (outlet == "grey" and is_lit)):
        values: dict[str, object] = {"hard_fraction": hard_fraction, "outlet": outlet,
                                    "limit_fraction": quantise(table.limit("melt_depth"), 4),
                                    "margin_fraction": quantise(hard_fraction - table.limit("melt_depth"), 4)}
        notes.replace.append(table.reason("melted_inside", "melt_depth", values))
    if is_lit and outlet in ("grey", "black"):
        notes.leak.append(table.reason("lit_and_dirty_outlet", "leak", {"count": lit, "outlet": outlet}))
        notes.to_settle(table.reason("settle_find_leak", "leak", {}))
        if stage == "before":
            notes.to_settle(table.reason("settle_tell_owner", "leak", {}))
    if is_lit and outlet == "clean":
        notes.findings.append(table.reason("lit_but_clean_outlet", "leak", {"count": lit}))
        if is_hard:
            notes.hold.append(table.reason("lit_and_hard", "melt_depth", {"count": lit}))
            notes.to_settle(table.reason("settle_rod_lit_cells", "melt_depth", {}))
    if lit == 0 and outlet == "black":
        notes.findings.append(table.reason("black_without_light", "leak", {}))
    if is_below and outlet == "black":
        below = [entry for entry in notes.hold if entry["code"] == "flow_below"]
        notes.hold = [entry for entry in notes.hold if entry["code"] != "flow_below"]
        notes.leak = notes.leak + [table.reason("leak_suspected", "leak", {})] + below
        notes.to_settle(table.reason("settle_find_leak", "leak", {}))
        notes.to_settle(table.reason("settle_tell_owner", "leak", {}))


def note_figures(case: dict[str, object], carried: Carried | None, table: Table, notes: Notes) -> None:
    """Adds what figures of two tests say of each other: restriction and weight, restriction and rod, none condemning."""
    _note_fall(case, table, notes)
    _note_rod_and_flow(case, carried, table, notes)


def _note_fall(case: dict[str, object], table: Table, notes: Notes) -> None:
    """The restriction fell, yet no weight left."""
    found, now = case.get("before"), case.get("readings")
    if case["stage"] != "after" or not isinstance(found, dict) or not isinstance(now, dict):
        return
    before_pa, after_pa = flow.raw(found.get("flow")), flow.raw(now.get("flow"))
    before_g, after_g = _dry_g(found.get("weight")), _dry_g(now.get("weight"))
    if before_pa is None or after_pa is None or before_g is None or after_g is None:
        return
    fell_pa, gone_g = quantise(before_pa - after_pa, 1), quantise(before_g - after_g, 1)
    least_g = quantise(weight.least_change_g(table, found.get("weight"), now.get("weight")), 1)
    if fell_pa > quantise(LEAST_FALL * before_pa, 1) and abs(gone_g) <= least_g:
        values: dict[str, object] = {"fell_pa": fell_pa, "before_pa": quantise(before_pa, 1),
                                     "after_pa": quantise(after_pa, 1), "gone_g": gone_g}
        notes.findings.append(table.reason("fell_without_weight", "contradiction", values))


def _note_rod_and_flow(case: dict[str, object], carried: Carried | None, table: Table, notes: Notes) -> None:
    """What a clean brick of this geometry would read, and whether the reading is within what the rod's finding allows."""
    body, spec, readings = geometry_of(case.get("brick")), case.get("spec"), case.get("readings")
    flow_m3_s = reading(spec.get("flow_m3_s")) if isinstance(spec, dict) else None
    air = reference_air(spec)
    if body is None or air is None or flow_m3_s is None or not 1e-3 <= flow_m3_s <= 2.0:
        return
    rodding = readings.get("rod") if isinstance(readings, dict) else None
    known = rod.shares(rodding, case.get("brick")) if isinstance(rodding, dict) else []
    fractions = [share for share in known if share is not None]
    band = allowed_band(body, fractions or [0.0], LOWEST_PERMEABILITY, HIGHEST_PERMEABILITY)
    density, viscosity = reading(air["density_kg_m3"]) or 0.0, reading(air["viscosity_pa_s"]) or 0.0
    clean = [channel_drop(body, flow_m3_s, viscosity, density, k) + face_losses(body, flow_m3_s, density)
             for k in (HIGHEST_PERMEABILITY, LOWEST_PERMEABILITY)]
    values: dict[str, object] = {"clean_low_pa": quantise(clean[0], 1), "clean_high_pa": quantise(clean[1], 1)}
    notes.findings.append(table.reason("clean_estimate", "flow_limit", values))
    if carried is None or band is None or not fractions:
        return
    drop_pa, low_pa, high_pa = quantise(carried.drop_pa, 1), quantise(clean[0] * band[0], 1), quantise(clean[1] * band[1], 1)
    side = "within" if low_pa <= drop_pa <= high_pa else "above" if drop_pa > high_pa else "below"
    found: dict[str, object] = {"drop_pa": drop_pa, "low_pa": low_pa, "high_pa": high_pa}
    notes.findings.append(table.reason(ROD_CODES[side], "contradiction", found))


def _dry_g(weighing: object) -> float | None:
    return reading(weighing.get("mass_g")) if isinstance(weighing, dict) and weight.counts(weighing) else None
