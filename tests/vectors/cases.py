"""Cases for running the calculation in two interpreters: made by rule from a seed, with no answers stored.

cases() gives the same list everywhere: for each limit at least forty cases within one quantum of it, twenty on either
side, and a broad mixture in which every verdict is common. The figures are invented.
"""

from tests.vectors import more_cases
from tests.vectors.parts import Draws, case, flow, rod, rounds, visual, weight, window

EACH_SIDE = 20
MIXED = 260
MORE = 256
FRACTION_STEP = 0.0001
PASCAL_STEP = 0.1
GRAM_STEP = 0.1
COVERAGE = 1.645


def cases():
    """[{"name", "near": limit or None, "side": "at_or_below", "above" or None, "case"}], always the same."""
    draws = Draws(20261125)
    made = near_cases(draws, OLD_NEAR)
    for number in range(MIXED):
        made.append({"name": f"mixed {number}", "near": None, "side": None, "case": mixed(draws)})
    draws = Draws(20261126)
    made += near_cases(draws, more_cases.NEAR)
    for number in range(MORE):
        kind, case_made = more_cases.mixed(draws, number)
        made.append({"name": f"{kind} {number}", "near": None, "side": None, "case": case_made})
    return made


def near_cases(draws, limits):
    """The cases within one quantum of each limit; limits: {name: maker}."""
    made = []
    for near in sorted(limits):
        for number in range(2 * EACH_SIDE):
            side = 1 if number % 2 else -1
            # From almost nothing to almost a whole quantum away, never exactly on the half step.
            away = side * (number // 2 + 0.5) / EACH_SIDE
            made.append({"name": f"{near} {number}", "near": near, "side": "above" if side > 0 else "at_or_below",
                         "case": limits[near](draws, away, side)})
    return made


# --- one limit each ---------------------------------------------------------------------------------------------------

def hard_average(draws, away, side):
    """Ten of 24 cells hard by 0.8, so that the average is one third; the share of cells stays below a half."""
    share = 0.8 + 2.4 * away * FRACTION_STEP
    return case(draws, rod=rod(draws, [share] * 10 + [0.0] * 14))


def most_of_face(draws, away, side):
    """Twelve of 24 cells blocked by half, the thirteenth by a third: it decides between 12 and 13 of 24."""
    share = 1 / 3 + away * FRACTION_STEP
    return case(draws, rod=rod(draws, [0.5] * 12 + [share] + [0.0] * 11))


def lit_cells(draws, away, side):
    """Twenty lit cells, and twenty-one: the quantum of a count is one."""
    count = 21 if side > 0 else 20
    seen = {"kind": "cells", "lit": "over_20" if count > 20 else "6_20", "count": count}
    return case(draws, light=seen, visual=visual(draws.one_of("clean", "grey", "black")))


def guarded_high(draws, away, side):
    """Restriction at the guarded upper end of the window."""
    spec = window(draws)
    high, low, u = spec["high_pa"], spec["low_pa"], spec["u_pa"]
    return case(draws, spec=spec, flow=flow(draws, max(high - COVERAGE * u, (low + high) / 2) + away * PASCAL_STEP))


def high(draws, away, side):
    """Restriction at the upper end of the window."""
    spec = window(draws)
    return case(draws, spec=spec, flow=flow(draws, spec["high_pa"] + away * PASCAL_STEP))


def low(draws, away, side):
    """Restriction at the lower end of the window."""
    spec = window(draws)
    return case(draws, spec=spec, flow=flow(draws, spec["low_pa"] + away * PASCAL_STEP))


def lowest(draws, away, side):
    """Restriction at the lower end with its margin."""
    spec = window(draws)
    return case(draws, spec=spec, flow=flow(draws, spec["low_pa"] - COVERAGE * spec["u_pa"] + away * PASCAL_STEP))


def worth(draws, away, side):
    """The last of two rounds took off just twenty grams; something is left to clean."""
    last = draws.between(11000, 15000)
    return case(draws, stage="after", rod=rod(draws, [0.2] * 6 + [0.0] * 18, feel="soft"), weight=weight(last),
                rounds=rounds(last + 20 + away * GRAM_STEP, last))


def heavier(draws, away, side):
    """Heavier after cleaning by just what the scale can tell: 2 root 2 times 5 g."""
    found = draws.between(11000, 15000)
    return case(draws, stage="after", weight=weight(found + 14.142135623730951 + away * GRAM_STEP),
                before={"weight": weight(found)})


OLD_NEAR = {"hard_average": hard_average, "most_of_face": most_of_face, "lit_cells": lit_cells,
            "guarded_high": guarded_high, "high": high, "low": low, "lowest": lowest, "worth": worth, "heavier": heavier}
NEAR = {**OLD_NEAR, **more_cases.NEAR}


# --- a broad mixture --------------------------------------------------------------------------------------------------

def mixed(draws):
    """A case with anything in it, mostly in good order, so that every verdict comes up."""
    made = case(draws, spec=None if draws.below(12) == 0 else window(draws))
    readings, kind = made["readings"], draws.below(6)
    if kind in (0, 1):
        shares = [draws.between(0, 0.6) if draws.below(3) else 0.0 for _ in range(12 + draws.below(20))]
        readings["rod"] = rod(draws, shares, feel=draws.one_of("soft", "soft", "hard", "mixed"))
    if kind == 2 and made["spec"] is not None:
        readings["flow"] = flow(draws, made["spec"]["high_pa"] * draws.between(0.7, 1.4))
    if kind == 3:
        readings["visual"] = visual(draws.one_of("clean", "grey", "black"), draws.one_of("sound", "chipped", "loose"),
                                    draws.one_of("dry", "water", "oil"))
    if kind == 4:
        seen = draws.one_of("none", "cells", "cells", "crack")
        readings["light"] = {"kind": seen, "lit": draws.one_of("1_5", "6_20", "over_20") if seen == "cells" else "none",
                             "count": None}
    if draws.below(4) == 0:
        readings[draws.one_of("visual", "weight", "rod", "light", "flow")] = draws.one_of(
            None, {"skipped": "at_shop"})
    made["unit_kind"] = draws.one_of("wall_flow", "wall_flow", "wall_flow", "wall_flow", "flow_through")
    return made
