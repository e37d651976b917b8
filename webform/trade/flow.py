"""The restriction on the bench against the model's flow window, guarded by the uncertainty of a reading.

Invariants: with any window there is a passing restriction (the guard never goes past the middle of the window); a
doubtful reading, from a bench that is out or not checked today, neither passes nor fails a filter.
"""

from .figures import mean, quantise, reading
from .notes import Notes
from .rules import Table

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


def note(blown: dict[str, object], spec: object, released: object, table: Table, notes: Notes) -> bool:
    """Adds what the restriction says; whether it is soundly below the window."""
    given = blown.get("drops_pa")
    drops = [pa for pa in [reading(drop) for drop in given] if pa is not None] if isinstance(given, list) else []
    window = usable(spec)
    drop_pa = quantise(mean(drops), DECIMALS) if drops else None
    if window is None:
        _note_no_limit(drop_pa, released, table, notes)
    if drop_pa is None:
        notes.missing.append(table.reason("flow_unreadable", "all_tests", {"test": "flow"}))
        return False
    if blown.get("bench") != "good":
        code = "bench_out" if blown.get("bench") == "out" else "bench_not_checked"
        notes.missing.append(table.reason(code, "all_tests", {"drop_pa": drop_pa}))
        return False
    if window is None:
        return False
    return _compare(drop_pa, len(drops), window, table, notes)


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


def _compare(drop_pa: float, count: int, window: Window, table: Table, notes: Notes) -> bool:
    """Weighs the mean restriction against the window; whether it is soundly below it."""
    coverage = table.limit("coverage")
    high_pa, low_pa = quantise(window.high_pa, DECIMALS), quantise(window.low_pa, DECIMALS)
    guarded_pa = quantise(guarded_high(window.low_pa, window.high_pa, window.u_pa, coverage), DECIMALS)
    lowest_pa = quantise(window.low_pa - coverage * window.u_pa, DECIMALS)

    def reason(code: str, rule: str, limit_pa: float) -> dict[str, object]:
        values: dict[str, object] = {
            "drop_pa": drop_pa, "limit_pa": limit_pa, "margin_pa": quantise(abs(drop_pa - limit_pa), DECIMALS),
            "low_pa": low_pa, "high_pa": high_pa, "readings": count, "source": window.source,
            "revision": window.revision}
        return table.reason(code, rule, values, "flow_spec")

    if drop_pa > high_pa:
        notes.above.append(reason("flow_above", "coverage", high_pa))
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
