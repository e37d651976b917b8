"""Removed mass, and whether another cleaning round is worth it. Weight alone never condemns a filter.

Masses are net, in grams: what hung on the filter and was weighed on its own is off already, and stands in "parts" of the
weighing. What came off is soot, ash and water together; what a round after an oven takes off is ash.
"""

import math

from .figures import quantise, reading
from .notes import Notes
from .rules import Table

# What the scale's check says where the weighing decides nothing: it failed, is not at hand, or proves nothing.
DOUBTFUL_CODES = {"out": "scale_out", "unknown": "scale_unknown", "unproven": "scale_unproven"}
SETTLE_CODES = {"out": "settle_check_scale", "unknown": "settle_fetch_scale", "unproven": "settle_check_scale"}
DECIMALS = 1  # masses are compared to a tenth of a gram


def note(weighing: dict[str, object], case: dict[str, object], table: Table, notes: Notes) -> None:
    """Adds what the weight says at this stage, beside the weight as found."""
    mass_g = reading(weighing.get("mass_g"))
    if mass_g is None:
        notes.missing.append(table.reason("weight_unreadable", "all_tests", {"test": "weight"}))
        return
    scale = str(weighing.get("scale"))
    if scale in DOUBTFUL_CODES:
        notes.missing.append(table.reason(DOUBTFUL_CODES[scale], "all_tests", {"mass_g": _g(mass_g)}))
        notes.to_settle(table.reason(SETTLE_CODES[scale], "all_tests", {}))
    is_final = is_cold_and_dry(weighing)
    if case["stage"] != "after":
        if not is_final:
            notes.findings.append(table.reason("weight_not_final", "dry_and_cold", {"mass_g": _g(mass_g)}))
        return
    if not is_final:
        values = {"mass_g": _g(mass_g), "temperature": weighing.get("temperature"),
                  "moisture": weighing.get("moisture")}
        notes.dry.append(table.reason("warm_or_wet", "dry_and_cold", values))
        notes.to_settle(table.reason("settle_dry_and_cool", "dry_and_cold", {}))
    found = _before(case)
    found_g = reading(found.get("mass_g"))
    if found_g is not None and scale not in DOUBTFUL_CODES:
        _note_removed(found_g, mass_g, is_final, case, table, notes)


def worth(case: dict[str, object], table: Table, notes: Notes) -> bool:
    """Whether another round is proposed; True while too little is known. Adds a finding when it is not."""
    rounds = _rounds(case)
    if case["stage"] != "after" or not rounds:
        return True
    last, previous = _last_two(case, rounds)
    last_g, previous_g = reading(last.get("mass_g")), reading(previous.get("mass_g"))
    limit_g = _g(max(table.limit("worth_g"), least_change_g(table, last, previous)))
    if last_g is not None and previous_g is not None and len(rounds) >= table.limit("rounds_to_tell"):
        removed_g = _g(previous_g - last_g)
        # Heavier than before, or weighed with other things on it: that says nothing of the round.
        is_told = is_alike(last, previous) and removed_g >= -_g(least_change_g(table, last, previous))
        if is_told and removed_g <= limit_g:
            values: dict[str, object] = {"removed_g": removed_g, "limit_g": limit_g,
                                         "margin_g": _g(limit_g - removed_g), "rounds": len(rounds)}
            notes.findings.append(table.reason("round_not_worth", "worth_g", values))
            return False
    if len(rounds) >= table.limit("most_rounds"):
        done: dict[str, object] = {"rounds": len(rounds), "limit": table.limit("most_rounds")}
        notes.findings.append(table.reason("rounds_done", "most_rounds", done))
        return False
    return True


def _note_removed(found_g: float, mass_g: float, is_final: bool, case: dict[str, object], table: Table,
                  notes: Notes) -> None:
    removed_g, noise_g = _g(found_g - mass_g), _g(least_change_g(table, _before(case), _now(case)))
    values: dict[str, object] = {"before_g": _g(found_g), "after_g": _g(mass_g), "limit_g": noise_g}
    found = _before(case)
    is_other = not is_alike(found, _now(case))
    if is_other:  # what hung on it then or now nobody weighed
        notes.findings.append(table.reason("fitted_differs", "scale_u_g", {"before_g": _g(found_g), "after_g": _g(mass_g)}))
    if removed_g < -noise_g:
        values["heavier_g"], values["margin_g"] = -removed_g, _g(-removed_g - noise_g)
        if found.get("temperature") != "cold" or found.get("scale") in DOUBTFUL_CODES:
            # A warm filter reads light, by more than a scale's doubt: what is heavier now may only be cold.
            notes.findings.append(table.reason("heavier_unproven", "dry_and_cold", values))
            return
        if is_other:  # water, or what hangs on it now: the next weighing tells
            notes.hold.append(table.reason("heavier_fitted", "dry_and_cold", values))
            notes.to_settle(table.reason("settle_weigh_alike", "dry_and_cold", {}))
            return
        notes.dry.append(table.reason("heavier_after", "dry_and_cold", values))
        notes.to_settle(table.reason("settle_dry_and_cool", "dry_and_cold", {}))
        return
    if is_other or not is_final:
        return
    values["removed_g"] = removed_g
    methods = [entry.get("method") for entry in _rounds(case)]
    code = "removed_after_oven" if counts(found) and "oven" in methods[:-1] else "removed"
    if abs(removed_g) <= noise_g:
        notes.findings.append(table.reason("removed_nothing", "scale_u_g", values))
        return
    notes.findings.append(table.reason(code, "scale_u_g", values))


def _last_two(case: dict[str, object], rounds: list[dict[str, object]]) -> tuple[dict[str, object], dict[str, object]]:
    """The weighing after the last round and the one ahead of it; without a mass where it does not count."""
    last, after = rounds[-1], _now(case)
    if after.get("scale") in DOUBTFUL_CODES:
        last = {}
    elif counts(after) and reading(after.get("mass_g")) is not None:
        last = after
    if len(rounds) > 1:
        return last, rounds[-2]
    found = _before(case)
    return last, found if counts(found) else {}


def _before(case: dict[str, object]) -> dict[str, object]:
    before = case.get("before")
    found = before.get("weight") if isinstance(before, dict) else None
    return found if isinstance(found, dict) else {}


def _now(case: dict[str, object]) -> dict[str, object]:
    readings = case["readings"]
    weighing = readings.get("weight") if isinstance(readings, dict) else None
    return weighing if isinstance(weighing, dict) else {}


def _rounds(case: dict[str, object]) -> list[dict[str, object]]:
    rounds = case.get("rounds")
    return rounds if isinstance(rounds, list) else []


def is_cold_and_dry(weighing: object) -> bool:
    """Whether a weighing is final: only a cold, dry filter has one; False where there is no weighing."""
    return isinstance(weighing, dict) and weighing.get("temperature") == "cold" and weighing.get("moisture") == "dry"


def is_alike(first: object, second: object) -> bool:
    """Whether the same things hung unweighed on the filter at both weighings, so that the two can be compared."""
    one, other = [sorted(weighing.get("left_on") or []) if isinstance(weighing, dict) else [] for weighing in (first, second)]
    return one == other


def counts(weighing: object) -> bool:
    """Whether a weighing may be reckoned with: cold, dry, and on a scale that is not in doubt."""
    return is_cold_and_dry(weighing) and isinstance(weighing, dict) and weighing.get("scale") not in DOUBTFUL_CODES


def least_change_g(table: Table, first: object = None, second: object = None) -> float:
    """The smallest change between two weighings that counts: 2·√n standard uncertainties (about 95 %), in grams.

    n counts the times that the scale was read: twice for the filter, and once more for each part that was weighed on its
    own and taken off. A part that was taken off both with the same figure cancels: whatever it truly weighs, the same was
    taken off. Source: GUM (JCGM 100:2008) 5.1.2, readings of one scale taken as independent; coverage factor 2.
    """
    return 2.0 * math.sqrt(float(readings_between(first, second))) * table.limit("scale_u_g")


def readings_between(first: object, second: object) -> int:
    """How often the scale was read for the difference of two weighings, parts that cancel left out."""
    one, other = _parts(first), _parts(second)
    return 2 + len([part for part in one if part not in other]) + len([part for part in other if part not in one])


def _parts(weighing: object) -> list[tuple[str, float]]:
    """(part, grams) of what was weighed on its own and taken off."""
    listed = weighing.get("parts") if isinstance(weighing, dict) else None
    found = []
    for entry in listed if isinstance(listed, list) else []:
        mass_g = reading(entry.get("mass_g")) if isinstance(entry, dict) else None
        if mass_g is not None:
            found.append((str(entry.get("part")), _g(mass_g)))
    return found


def _g(mass_g: float) -> float:
    return quantise(mass_g, DECIMALS)
