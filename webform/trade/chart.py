"""An instrument over time: control chart of its checks, which check covers a reading, and what a failed one puts in doubt.

Which check came before which is said by names, never by clocks: a check names the one before it, a reading names the
check that it was taken under. Clocks only say when the next check is due.
"""

from .figures import mean, reading

# Source: NIST/SEMATECH e-Handbook 6.3.2.2, moving range of two: d2 and D4 as the handbook rounds them.
D2 = 1.128
D4 = 3.267
FEWEST = 10  # as many as the handbook's example; with fewer the limits mean little. Shop's starting value
LIMIT_SIGMA = 3.0

# Western Electric (1956), as listed in NIST/SEMATECH e-Handbook 6.3.2: rule, points of, out of, beyond so many sigma.
ZONES = ((1, 1, 1, 3.0), (2, 2, 3, 2.0), (3, 4, 5, 1.0), (4, 8, 8, 0.0))


def individuals(values: list[float], fewest: int = FEWEST) -> dict[str, object]:
    """{"ok": True, "centre", "low", "high", "sigma", "mean_range", "range_high", "n"} in the unit of the values.

    Or {"ok": False, "code": "chart.too_few" or "chart.no_spread", "n", "needed"}. Source: NIST/SEMATECH e-Handbook
    6.3.2.2: centre ± 3·MR/d2; the moving range at most D4·MR.
    """
    needed = max(2, fewest)
    readable = [value for value in [reading(value) for value in values] if value is not None]
    refused: dict[str, object] = {"ok": False, "code": "chart.too_few", "n": len(readable), "needed": needed}
    if len(readable) < needed:
        return refused
    mean_range = mean([abs(readable[place] - readable[place - 1]) for place in range(1, len(readable))])
    centre, sigma = mean(readable), mean_range / D2
    if not sigma > 0.0:
        refused["code"] = "chart.no_spread"
        return refused
    return {"ok": True, "centre": centre, "low": centre - LIMIT_SIGMA * sigma, "high": centre + LIMIT_SIGMA * sigma,
            "sigma": sigma, "mean_range": mean_range, "range_high": D4 * mean_range, "n": len(readable)}


def distances(values: list[float], centre: float, sigma: float) -> list[float]:
    """How many sigma each value lies above (or, below 0, under) the centre; sigma > 0.

    Source: NIST/SEMATECH e-Handbook 6.3.2, (value - centre)/sigma; sigma as individuals gives it.
    """
    return [(value - centre) / sigma for value in values]


def signals(z: list[float]) -> list[list[int]]:
    """[place, rule] for each point that completes a pattern and itself lies beyond, in that order.

    Rules: 1: beyond 3 sigma; 2: two of three beyond 2 sigma; 3: four of five beyond 1 sigma; 4: eight in a row beyond
    the centre; all on one side. Exactly on a line is not beyond it.
    Source: NIST/SEMATECH e-Handbook 6.3.2, the zone rules on one side (Western Electric 1956).

    >>> signals([0.2, -0.4, 3.1, 0.5]), signals([0.0, 3.0, -3.0, 0.0])
    ([[2, 1]], [])
    """
    found = []
    for place in range(len(z)):
        for rule, points, of, beyond in ZONES:
            recent = z[max(0, place + 1 - of):place + 1]
            side = 1.0 if z[place] > 0.0 else -1.0
            if z[place] * side > beyond and len([point for point in recent if point * side > beyond]) >= points:
                found.append([place, rule])
    return found


def covering_check(checks: list[dict[str, object]], taken: dict[str, object]) -> dict[str, object]:
    """{"ok", "code", "check"}: what the check named by a reading says of it.

    checks: {"id", "instrument", "before": id of the check before it or None, "ok": True, False where it failed, None where
    it proves nothing}; taken: {"id", "check"}. Codes: check.good; check.none, the reading names no check; check.unknown,
    that check has not arrived; check.failed; check.unproven; and check.failed_later: it did not fail itself, but a failed
    one follows it with no good one between.
    """
    if taken.get("check") is None:
        return {"ok": False, "code": "check.none", "check": None}
    name, named = str(taken.get("check")), _by_id(checks)
    code = "check.good"
    if name not in named:
        code = "check.unknown"
    elif named[name].get("ok") is False:
        code = "check.failed"
    elif to_recheck(checks, [taken]):
        code = "check.failed_later"
    elif named[name].get("ok") is not True:
        code = "check.unproven"
    return {"ok": code == "check.good", "code": code, "check": name}


def to_recheck(checks: list[dict[str, object]], readings: list[dict[str, object]]) -> list[dict[str, object]]:
    """{"id", "failed", "since"} for each reading that a failed check throws doubt on, in the order of readings.

    These are all readings since the last good check: those that name the failed check, a failed one before it, or the
    last good one itself (since; None where there is none). Which of them were taken early, nobody knows. A reading that
    names no check is in doubt where no good check goes before the failed one and it says "instrument". A check that
    proves nothing is neither: it fails nobody, and what was taken under it is in doubt with the rest. failed: the id of
    the failed check; of several the one whose id comes first. Equal sets give equal answers, in any order of checks.
    """
    named = _by_id(checks)
    doubts: dict[str, tuple[str, str | None]] = {}
    unnamed: dict[object, tuple[str, str | None]] = {}
    for name in [name for name in sorted(named) if named[name].get("ok") is False]:
        chain, since = _back_to_good(named, name)
        for entry in chain:
            doubts.setdefault(entry, (name, since))
        if since is None:
            unnamed.setdefault(named[name].get("instrument"), (name, None))
    found = []
    for taken in readings:
        if taken.get("check") is not None:
            doubt = doubts.get(str(taken.get("check")))
        else:
            doubt = unnamed.get(taken.get("instrument")) if taken.get("instrument") is not None else None
        if doubt is not None:
            found.append({"id": taken.get("id"), "failed": doubt[0], "since": doubt[1]})
    return found


def is_due(last_at_s: object, now_s: float, period_s: float) -> bool:
    """Whether the next check is due, times in seconds since one fixed moment; without a last check it is.

    A last check that seems to lie in the future (a clock was put back) counts for a period as well, and no longer.
    Source: common practice, no source.
    """
    last = reading(last_at_s)
    return last is None or not abs(now_s - last) < period_s


def _back_to_good(named: dict[str, dict[str, object]], failed: str) -> tuple[list[str], str | None]:
    """The checks from a failed one back to the last good one of that instrument, both counted, and the good one's id.

    A name that has not arrived yet counts as the last good one: what was taken under it is in doubt with the rest.
    """
    chain: list[str] = []
    name: str | None = failed
    while name is not None and name not in chain:
        entry = named.get(name)
        if entry is not None and entry.get("instrument") != named[failed].get("instrument"):
            return chain, None
        chain.append(name)
        if entry is None or entry.get("ok") is True:
            return chain, name
        name = None if entry.get("before") is None else str(entry.get("before"))
    return chain, None


def _by_id(checks: list[dict[str, object]]) -> dict[str, dict[str, object]]:
    return {str(check.get("id")): check for check in checks}
