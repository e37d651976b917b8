"""The restriction on the bench against the model's flow window, guarded by the uncertainty of a reading.

The reading is carried to the flow spec's air first (bench.py); the raw figure stands beside it in every reason.

Invariants: with any window there is a passing restriction (the guard never goes past the middle of the window); a
doubtful reading, from a bench that is out or not checked today, neither passes nor fails a filter.
"""

import math

from . import bench
from .bench import Carried
from .figures import mean, quantise, reading
from .notes import Notes
from .rules import Table
from .uncertainty import conformance_probability

OWN = "own_numbers"  # source of a window that the shop learned from its own accepted filters
DECIMALS = 1  # restrictions are compared to a tenth of a pascal


def guarded_high(low_pa: float, high_pa: float, u_pa: float, coverage: float) -> float:
    """The highest restriction that passes at once, in Pa: high - k u, but not below the middle of the window.

    Source: JCGM 106:2012 clause 8 (guarded acceptance); k = 1.645 gives 95 % one-sided.
    """
    return max(high_pa - coverage * u_pa, (low_pa + high_pa) / 2.0)


class Window:
    """The usable limits of a flow spec, in Pa, and where they come from."""

    def __init__(self, low_pa: float, high_pa: float, u_pa: float, source: str, revision: str) -> None:
        self.low_pa = low_pa
        self.high_pa = high_pa
        self.u_pa = u_pa
        self.source = source
        self.revision = revision


def usable(spec: object) -> Window | None:
    """The window of a flow spec, or None where there are no usable limits."""
    if not isinstance(spec, dict):
        return None
    low_pa, high_pa, u_pa = reading(spec.get("low_pa")), reading(spec.get("high_pa")), reading(spec.get("u_pa"))
    if low_pa is None or high_pa is None or low_pa > high_pa:
        return None
    return Window(low_pa, high_pa, max(0.0, u_pa or 0.0), str(spec.get("origin")), str(spec.get("revision")))


def readable(blown: object) -> list[float]:
    """The readings as the bench showed them, in Pa, without those that are no figures."""
    given = blown.get("drops_pa") if isinstance(blown, dict) else None
    return [pa for pa in [reading(drop) for drop in given] if pa is not None] if isinstance(given, list) else []


def raw(blown: object) -> float | None:
    """The mean of the readings as the bench showed them, in Pa; None without one."""
    drops = readable(blown)
    return mean(drops) if drops else None


def note(blown: dict[str, object], case: dict[str, object], table: Table, notes: Notes) -> tuple[bool, Carried | None]:
    """Adds what the restriction says; whether it is soundly below the window, and the reading that may be believed."""
    spec, released = case.get("spec"), case.get("released")
    window, raw_pa = usable(spec), raw(blown)
    if window is None:
        _note_no_limit(None if raw_pa is None else quantise(raw_pa, DECIMALS), released, table, notes)
    if raw_pa is None:
        notes.missing.append(table.reason("flow_unreadable", "all_tests", {"test": "flow"}))
        return False, None
    if not bench.is_good(blown, quantise(raw_pa, DECIMALS), table, notes):
        return False, None
    carried = bench.carried(raw_pa, blown, spec, case.get("brick"), table, notes)
    if window is None:
        return False, carried
    if _are_apart(blown, case, window, table, notes):
        return False, None
    return _compare(carried, len(readable(blown)), case["stage"] == "after", window, table, notes), carried


def note_no_reading(spec: object, released: object, table: Table, notes: Notes) -> None:
    """Says that there is no limit on file although flow was not read yet."""
    if usable(spec) is None:
        _note_no_limit(None, released, table, notes)


def _note_no_limit(drop_pa: float | None, released: object, table: Table, notes: Notes) -> None:
    values: dict[str, object] = {} if drop_pa is None else {"drop_pa": drop_pa}
    if isinstance(released, dict):
        values["person"], values["why"] = str(released.get("person")), str(released.get("reason"))
        notes.findings.append(table.reason("flow_limit_released", "flow_limit", values))
        return
    notes.hold.append(table.reason("no_flow_limit", "flow_limit", values))
    notes.to_settle(table.reason("settle_find_limit", "flow_limit", {}))


def _are_apart(blown: dict[str, object], case: dict[str, object], window: Window, table: Table, notes: Notes) -> bool:
    """Whether the repeats disagree, so that their mean says nothing: far apart, and not all below, inside or above.

    Each is carried by itself, and the limit is a share of the window's end, not of the readings: so more restriction
    above the lower end can never make them agree.
    """
    drops_pa = readable(blown)
    apart_pa = quantise(max(drops_pa) - min(drops_pa), DECIMALS)
    limit_pa = quantise(table.limit("repeats") * window.high_pa, DECIMALS)
    if apart_pa <= limit_pa:
        return False
    least_pa, most_pa = [
        quantise(bench.carried(pa, blown, case.get("spec"), case.get("brick"), table, Notes()).drop_pa, DECIMALS)
        for pa in (min(drops_pa), max(drops_pa))]
    low_pa, high_pa = quantise(window.low_pa, DECIMALS), quantise(window.high_pa, DECIMALS)
    if least_pa > high_pa or most_pa < low_pa or (low_pa <= least_pa and most_pa <= high_pa):
        return False
    notes.missing.append(table.reason("flow_apart", "repeats", {
        "drop_pa": quantise(mean(drops_pa), DECIMALS), "least_pa": quantise(min(drops_pa), DECIMALS),
        "most_pa": quantise(max(drops_pa), DECIMALS), "apart_pa": apart_pa, "limit_pa": limit_pa,
        "margin_pa": quantise(apart_pa - limit_pa, DECIMALS), "readings": len(drops_pa)}))
    notes.to_settle(table.reason("settle_repeats", "repeats", {}))
    return True


def _compare(
    carried: Carried, count: int, is_after: bool, window: Window, table: Table, notes: Notes,
) -> bool:
    """Weighs the mean of so many readings against the window; whether it is soundly below it."""
    coverage, drop_pa = table.limit("coverage"), quantise(carried.drop_pa, DECIMALS)
    u_pa = math.sqrt(window.u_pa * window.u_pa + carried.u_pa * carried.u_pa)
    high_pa, low_pa = quantise(window.high_pa, DECIMALS), quantise(window.low_pa, DECIMALS)
    guarded_pa = quantise(guarded_high(window.low_pa, window.high_pa, u_pa, coverage), DECIMALS)
    lowest_pa = quantise(window.low_pa - coverage * u_pa, DECIMALS)
    highest_pa = quantise(window.high_pa + coverage * u_pa, DECIMALS)

    def reason(code: str, rule: str, limit_pa: float) -> dict[str, object]:
        values = _figures(carried, count, window, u_pa)
        values["limit_pa"], values["margin_pa"] = limit_pa, quantise(abs(drop_pa - limit_pa), DECIMALS)
        return table.reason(code, rule, values, OWN if window.source == OWN else "flow_spec")

    if drop_pa > high_pa:
        notes.above.append(reason("flow_above", "above_after" if is_after else "above_before", high_pa))
        if count == 1 and drop_pa <= highest_pa:
            notes.once.append(reason("flow_above_once", "above_after", highest_pa))
            notes.to_settle(table.reason("settle_repeat_flow", "coverage", {}))
    elif drop_pa < lowest_pa:
        notes.hold.append(reason("flow_below", "leak", lowest_pa))
        notes.to_settle(table.reason("settle_check_seal", "leak", {}))
        return True
    elif low_pa <= drop_pa <= guarded_pa:
        notes.passed.append(reason("flow_within", "coverage", guarded_pa))
    elif count > 1:
        notes.is_close = True
        is_high = drop_pa > guarded_pa
        notes.passed.append(reason("flow_close", "coverage", high_pa) if is_high
                            else reason("flow_close_below", "coverage", lowest_pa))
    else:
        is_high = drop_pa > guarded_pa
        notes.hold.append(reason("flow_too_close", "coverage", guarded_pa) if is_high
                          else reason("flow_too_close_below", "coverage", low_pa))
        notes.to_settle(table.reason("settle_repeat_flow", "coverage", {}))
    return False


def _figures(carried: Carried, count: int, window: Window, u_pa: float) -> dict[str, object]:
    """What every reason about the window names beside its limit."""
    chance = conformance_probability(carried.drop_pa, u_pa, window.low_pa, window.high_pa)
    return {
        "drop_pa": quantise(carried.drop_pa, DECIMALS), "low_pa": quantise(window.low_pa, DECIMALS),
        "high_pa": quantise(window.high_pa, DECIMALS), "readings": count, "source": window.source,
        "revision": window.revision, "raw_pa": quantise(carried.raw_pa, DECIMALS), "u_pa": quantise(u_pa, DECIMALS),
        "chance_fraction": quantise(chance, 4)}
