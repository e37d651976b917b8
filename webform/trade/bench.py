"""The bench behind a flow reading: today's air, today's flow plate, and the reading carried to the flow spec's air.

A reading names the check that covered it. With that check the bench is judged by its plate in today's air and the
restriction is carried over; without one the person's own word about the plate counts and the raw figure stands.
"""

from .air import room_air
from .clean_filter import face_area, geometry
from .correction import corrected_drop, inertial_share
from .figures import quantise, reading
from .notes import Notes
from .plate import BENCH_MODES, flow_ratio, plate_check
from .rules import Table
from .words import sentence

DECIMALS = 1
MISSING_CODES = {"out": "bench_out", "air": "air_doubtful", "uncarried": "air_doubtful", "plate": "plate_unreadable",
                 "not_checked": "bench_not_checked"}
SETTLE_CODES = {"out": "settle_repair_bench", "air": "settle_check_air", "uncarried": "settle_fetch_check",
                "plate": "settle_check_plate", "not_checked": "settle_check_plate"}
# The air that a flow spec means unless it says otherwise: 20 °C, 1013.25 hPa, dry (common practice, no source).
REFERENCE: dict[str, object] = {"temperature_k": 293.15, "pressure_pa": 101325.0, "altitude_m": None,
                                "humidity": 0.0}


class Carried:
    """A restriction in the flow spec's air, in Pa: drop_pa, what the bench showed (raw_pa), and what the way added (u_pa)."""

    def __init__(self, raw_pa: float, drop_pa: float, u_pa: float, is_corrected: bool) -> None:
        self.raw_pa = raw_pa
        self.drop_pa = drop_pa
        self.u_pa = u_pa
        self.is_corrected = is_corrected


def is_good(blown: dict[str, object], drop_pa: float, table: Table, notes: Notes) -> bool:
    """Whether the bench may be believed today; else what is wrong stands among the missing. drop_pa: as it was read."""
    check = _check(blown)
    values: dict[str, object] = {"drop_pa": drop_pa}
    state = str(blown.get("bench")) if check is None else _by_plate(check, table, notes, values)
    if state == "good":
        return True
    state = state if state in MISSING_CODES else "not_checked"
    notes.missing.append(table.reason(MISSING_CODES[state], "plate_drift", values))
    notes.to_settle(table.reason(SETTLE_CODES[state], "plate_drift", {}))
    return False


def told(check: dict[str, object], rules: object, catalogue: dict[str, str]) -> dict[str, object]:
    """{"ok", "is_out", "texts", "drift_fraction" or None}: what a check says of the bench, in sentences.

    is_out: it is proven that the bench reads wrong; a check that proves nothing is neither ok nor out.
    """
    table, notes = Table(rules), Notes()
    values: dict[str, object] = {}
    state = _by_plate(check, table, notes, values)
    if state in ("air", "uncarried"):
        notes.findings.append(table.reason("check_air_doubtful", "plate_drift", values))
    if state not in ("good", "out"):
        notes.findings.append(table.reason(SETTLE_CODES[state], "plate_drift", {}))
    texts = [sentence(catalogue, "reason." + str(reason["code"]), _values(reason)) for reason in notes.findings]
    drifts = [_values(reason).get("drift_fraction") for reason in notes.findings]
    return {"ok": state == "good", "is_out": state == "out", "texts": texts, "drift_fraction": drifts[0] if drifts else None}


def _values(reason: dict[str, object]) -> dict[str, object]:
    values = reason["values"]
    return values if isinstance(values, dict) else {}


def carried(raw_pa: float, blown: dict[str, object], spec: object, brick: object, table: Table, notes: Notes) -> Carried:
    """The reading in the flow spec's air; the raw figure where the check holds no air."""
    check = _check(blown)
    air = None if check is None else room_air(_air(check.get("air")))
    given, reference = spec if isinstance(spec, dict) else {}, reference_air(spec)
    body = geometry_of(brick)
    mode = "" if check is None else str(check.get("mode"))
    share = inertial_share(body, flow_today(given, air, mode), air, drop_pa=raw_pa)
    # The flow spec's own uncertainty holds the gauge and the flow setting, so neither is added again here.
    found = corrected_drop(raw_pa, air, reference, mode, reading(share["share"]) or 0.0, reading(share["u_share"]) or 0.0,
                           u_flow_fraction=0.0)
    drop_pa = None if found is None else reading(found["corrected_pa"])
    if found is None or drop_pa is None:
        return Carried(raw_pa, raw_pa, 0.0, False)
    u_pa = reading(found["u_pa"]) or 0.0
    notes.findings.append(table.reason("flow_corrected", "air", {
        "raw_pa": quantise(raw_pa, DECIMALS), "drop_pa": quantise(drop_pa, DECIMALS), "u_pa": quantise(u_pa, DECIMALS),
        "share_fraction": quantise(reading(share["share"]) or 0.0, 4), "split": str(share["from"]), "mode": mode}))
    return Carried(raw_pa, drop_pa, u_pa, True)


def flow_today(spec: dict[str, object], air: dict[str, object] | None, mode: str) -> float | None:
    """The flow in m³/s that this bench sets today where the spec's flow stands in the spec's air; None where unknown."""
    flow_m3_s, reference = reading(spec.get("flow_m3_s")), reference_air(spec)
    if flow_m3_s is None or air is None or reference is None or mode not in BENCH_MODES:
        return None
    here, there = reading(air["density_kg_m3"]) or 0.0, reading(reference["density_kg_m3"]) or 0.0
    return flow_m3_s / flow_ratio(here, there, mode)


def reference_air(spec: object) -> dict[str, object] | None:
    """The air that the flow spec's limits mean: its own, else the usual one."""
    return room_air(_air(spec.get("air") if isinstance(spec, dict) else None)) or room_air(REFERENCE)


def geometry_of(brick: object) -> dict[str, float] | None:
    """The brick's geometry from the case, in m; None where a figure is missing. Source: clean_filter.geometry, face_area."""
    if not isinstance(brick, dict):
        return None
    long_m, short_m = reading(brick.get("long_m")), reading(brick.get("short_m"))
    if long_m is None or long_m <= 0.0:
        return None
    shape = str(brick.get("shape"))
    area_m2 = face_area(shape, long_m, long_m if shape == "round" or short_m is None else short_m)
    return geometry(area_m2, brick.get("depth_m"), brick.get("cells_per_in2"), brick.get("wall_m"))


def _by_plate(check: dict[str, object], table: Table, notes: Notes, values: dict[str, object]) -> str:
    """"good", "out", "air", "plate", "not_checked", "uncarried": by the plate in today's air; adds what is in doubt.

    A plate that seems to read wrong proves nothing where the pressure was guessed: 1600 m alone take 18 % off it.
    """
    if not check:
        values["doubt"] = "uncarried"
        return "uncarried"
    air = room_air(_air(check.get("air")))
    values["doubt"] = _doubt(air)
    if air is None or values["doubt"]:
        return "air"
    plate = check.get("plate")
    if not isinstance(plate, dict):
        return "not_checked"
    own_air = room_air(_air(plate.get("own_air"))) or room_air(REFERENCE)
    mode = str(check.get("mode"))
    found = plate_check(plate.get("read_pa"), plate.get("own_pa"), None if own_air is None else own_air["density_kg_m3"],
                        air, mode, table.limit("plate_drift"))
    if found is None or mode not in BENCH_MODES:
        return "plate"
    if mode == "uncorrected_element" and air["pressure_from"] == "standard":
        values["doubt"] = "height"  # its plate reads alike at any height, its filters do not
        return "air"
    is_proven = air["pressure_from"] == "barometer" or (air["pressure_from"] == "altitude" and found["is_clear"] is True)
    if found["ok"] is not True and not is_proven:
        values["doubt"] = "pressure"
        return "air"
    told = {name: found[name] for name in ("read_pa", "expected_pa", "drift_fraction", "u_drift_fraction")}
    told["off_fraction"] = abs(reading(found["drift_fraction"]) or 0.0)
    told["limit_fraction"] = quantise(table.limit("plate_drift"), 4)
    told["pressure_from"] = str(air["pressure_from"])
    code = "plate_good" if found["ok"] else "plate_out"
    notes.findings.append(table.reason(code, "plate_drift", told))
    return "good" if found["ok"] else "out"


def _doubt(air: dict[str, object] | None) -> str:
    """What is wrong with today's air, "" where it can be used."""
    if air is None:
        return "temperature"
    if air["refused"]:
        return "refused"
    return "misfit" if air["fits_altitude"] is False else ""


def _check(blown: dict[str, object]) -> dict[str, object] | None:
    check = blown.get("check")
    return check if isinstance(check, dict) else None


def _air(given: object) -> dict[str, object]:
    return given if isinstance(given, dict) else {}
