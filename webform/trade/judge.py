"""From the readings of one stage to a verdict with its reasons: the order in which the rules are weighed.

Invariants:
- a proven *replace* wins over everything, also over missing tests;
- missing or doubtful tests block *OK to reinstall* and nothing else;
- before cleaning, restriction and soft loading mean *clean*, never *replace*;
- the same case gives the same verdict, whatever the order of its cells and repeats;
- a worse reading never turns into *OK*, nor takes a filter out of *replace*;
- judge() answers for every case of the documented shape and never raises.
"""

from . import flow, lasting, light, remains, rod, together, visual, weight
from .notes import Notes
from .rules import TESTS, Table

# Tests that apply to each kind of unit; rod and light need a wall-flow brick.
APPLY = {"wall_flow": TESTS, "flow_through": ("visual", "weight", "flow"), "one_box": ("visual", "weight", "flow")}


def judge(case: dict[str, object]) -> dict[str, object]:
    """The verdict of one stage; shapes of case and verdict are in DEVELOPERS.md, "Data"."""
    table, notes, case = Table(case.get("rules")), Notes(), as_judged(case)
    is_after = case["stage"] == "after"
    _note_tests(case, table, notes)
    is_worth = weight.worth(case, table, notes)
    code, reasons = _decide(is_after, is_worth, table, notes)
    return {
        "verdict": code,
        "close": notes.is_close and code == "ok_to_reinstall",
        "reasons": reasons,
        "findings": _findings(reasons, notes),
        "missing": notes.missing,
        "settle": _settle(code, notes),
        "rules": table.revision,
    }


def as_judged(case: dict[str, object]) -> dict[str, object]:
    """The case without the brick's figures where they are not of one wall-flow brick: its formulas do not apply."""
    if APPLY.get(str(case.get("unit_kind")), TESTS) == TESTS:
        return case
    other = dict(case)
    other["brick"] = None
    return other


def _note_tests(case: dict[str, object], table: Table, notes: Notes) -> None:
    stage = "after" if case["stage"] == "after" else "before"
    applied = APPLY.get(str(case.get("unit_kind")), TESTS)
    done = {name: _reading(case, name, table, notes) for name in applied}
    seen, weighing, blown = done["visual"], done["weight"], done["flow"]
    kind = str(case.get("unit_kind"))
    outlet = None if seen is None else visual.note(seen, stage, kind, table, notes)
    if weighing is not None:
        weight.note(weighing, case, table, notes)
    rodding, lighted = done.get("rod"), done.get("light")
    hard_fraction = 0.0 if rodding is None else rod.note(rodding, case, table, notes)
    lit = None if lighted is None else light.note(lighted, stage, table, notes)
    is_below, carried = False, None
    if blown is None:
        flow.note_no_reading(case.get("spec"), case.get("released"), table, notes)
    else:
        is_below, carried = flow.note(blown, case, table, notes)
    lasting.note(case, done, table, notes)
    together.note(outlet, hard_fraction, lit, is_below, stage, table, notes)
    together.note_figures(case, carried, table, notes)
    remains.note(case, table, notes)


def _reading(case: dict[str, object], name: str, table: Table, notes: Notes) -> dict[str, object] | None:
    """The reading of one test, or None with a note that it is missing or skipped."""
    readings = case["readings"]
    found = readings.get(name) if isinstance(readings, dict) else None
    if not isinstance(found, dict):
        notes.missing.append(table.reason("test_missing", "all_tests", {"test": name}))
        return None
    if "skipped" in found:
        values: dict[str, object] = {"test": name, "skipped": str(found["skipped"])}
        notes.missing.append(table.reason("test_skipped", "all_tests", values))
        return None
    return found


def _decide(is_after: bool, is_worth: bool, table: Table, notes: Notes) -> tuple[str, list[dict[str, object]]]:
    """The verdict and the reasons that decided it. The order of these lines is the order of the rules."""
    dirty = notes.dirty + ([] if notes.is_wet and not is_after else notes.above)
    if notes.replace:
        return "replace", notes.replace
    if notes.dry:
        return "hold", notes.dry
    if is_after and notes.above and not is_worth:
        return ("hold", notes.once) if notes.once else ("replace", notes.above)
    if notes.unproven:
        return "hold", notes.unproven
    if is_after and notes.leak:
        return "hold", notes.leak
    if dirty and not is_after:
        return "clean", dirty
    if dirty and is_worth:
        return "clean_again", dirty
    if dirty:
        notes.to_settle(table.reason("settle_person_decides", "left_after", {}))
        return "hold", dirty
    if notes.leak or notes.hold:
        return "hold", notes.leak + notes.hold
    if notes.missing:
        return "hold", [table.reason("tests_missing", "all_tests", {"count": len(notes.missing)})]
    return "ok_to_reinstall", notes.passed


def _findings(reasons: list[dict[str, object]], notes: Notes) -> list[dict[str, object]]:
    """Everything else that was found and did not decide."""
    above = [] if reasons and reasons == notes.once else notes.above
    others = notes.dry + above + notes.unproven + notes.leak + notes.dirty + notes.hold
    return [reason for reason in others if reason not in reasons] + notes.findings


def _settle(code: str, notes: Notes) -> list[dict[str, object]]:
    """What would settle a *hold*; before cleaning, that the owner is told ahead of the expense."""
    if code == "hold":
        return notes.settle
    if code in ("clean", "clean_again"):
        return [reason for reason in notes.settle if reason["code"] == "settle_tell_owner"]
    return []
