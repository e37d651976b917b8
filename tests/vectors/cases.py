"""Cases for running the calculation in two interpreters: made by rule from a seed, with no answers stored.

cases() gives the same list everywhere: for each limit at least forty cases within one quantum of it, twenty on either
side, and a broad mixture in which every verdict is common. The figures are invented.
"""

import copy

from webform.trade.rules import START

INCH_PA = 249.08891  # conventional inch of water, NIST SP 811 (2008), Appendix B.8
EACH_SIDE = 20
MIXED = 260
FRACTION_STEP = 0.0001
PASCAL_STEP = 0.1
GRAM_STEP = 0.1
COVERAGE = 1.645


class Draws:
    """A generator of our own, so that no library's change can change the cases."""

    def __init__(self, seed):
        self.state = seed

    def below(self, count):
        """A whole number from 0 to count - 1."""
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (self.state >> 33) % count

    def between(self, low, high):
        """A figure from low to high, in 100,000 steps."""
        return low + (high - low) * self.below(100001) / 100000

    def one_of(self, *choices):
        """One of the choices."""
        return choices[self.below(len(choices))]


def cases():
    """[{"name", "near": limit or None, "side": "at_or_below", "above" or None, "case"}], always the same."""
    draws = Draws(20261125)
    made = []
    for near in sorted(NEAR):
        for number in range(2 * EACH_SIDE):
            side = 1 if number % 2 else -1
            # From almost nothing to almost a whole quantum away, never exactly on the half step.
            away = side * (number // 2 + 0.5) / EACH_SIDE
            made.append({"name": f"{near} {number}", "near": near, "side": "above" if side > 0 else "at_or_below",
                         "case": NEAR[near](draws, away, side)})
    for number in range(MIXED):
        made.append({"name": f"mixed {number}", "near": None, "side": None, "case": mixed(draws)})
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


NEAR = {"hard_average": hard_average, "most_of_face": most_of_face, "lit_cells": lit_cells,
        "guarded_high": guarded_high, "high": high, "low": low, "lowest": lowest, "worth": worth, "heavier": heavier}


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


# --- parts ------------------------------------------------------------------------------------------------------------

def case(draws, stage=None, **given):
    """A whole case in good order with some of its parts given."""
    stage = stage or draws.one_of("before", "after")
    spec = given["spec"] if "spec" in given else window(draws)
    middle = 400.0 if spec is None else (spec["low_pa"] + spec["high_pa"]) / 2
    mass = draws.between(11000, 15000)
    found = given.get("weight") or weight(mass, draws.one_of("cold", "cold", "cold", "warm"))
    readings = {
        "visual": given.get("visual") or visual(), "weight": found,
        "rod": given.get("rod") or rod(draws, [0.0] * 24), "flow": given.get("flow") or flow(draws, middle - 1),
        "light": given.get("light") or {"kind": "none", "lit": "none", "count": None}}
    is_after = stage == "after"
    before = given.get("before", {"weight": weight(mass + draws.between(0, 900))} if is_after else None)
    done = given.get("rounds", rounds(mass + draws.between(0, 60), mass)[:draws.below(3)] if is_after else [])
    return {"stage": stage, "unit_kind": "wall_flow", "brick": {"depth_m": 0.3}, "spec": spec,
            "rules": copy.deepcopy(START), "readings": readings, "before": before, "rounds": done,
            "released": {"person": "Kim", "reason": "told by the owner"} if draws.below(10) == 0 else None}


def window(draws):
    """A flow spec; in one of eight the uncertainty is so wide that the guard would leave nothing."""
    low_pa = draws.between(0.8, 2.2) * INCH_PA
    high_pa = low_pa + draws.between(0.3, 0.6) * INCH_PA
    return {"low_pa": low_pa, "high_pa": high_pa, "u_pa": draws.one_of(4, 8, 10, 12, 12, 15, 20, 80) * 1.01,
            "origin": "invented sheet", "revision": "A"}


def rod(draws, shares, feel="hard"):
    """Cells blocked by those shares of the depth, said as a depth or as what the rod fell short."""
    full = draws.between(0.15, 0.35)
    cells = []
    for share in shares:
        kind = draws.one_of("soft", "hard") if feel == "mixed" else feel
        is_short, is_free = draws.below(3) == 0, share == 0
        cells.append({"feel": "free" if is_free else kind,
                      "depth_m": None if is_short or is_free else full * (1 - share),
                      "short_m": full * share if is_short and not is_free else None})
    return {"full_depth_m": full, "cells": cells}


def flow(draws, mean_pa):
    """One to three readings with that mean."""
    away = draws.between(0.2, 6)
    drops = draws.one_of([mean_pa], [mean_pa - away, mean_pa + away], [mean_pa - away, mean_pa, mean_pa + away])
    return {"drops_pa": drops, "bench": draws.one_of("good", "good", "good", "good", "good", "good", "not_checked")}


def visual(outlet="clean", brick="sound", wet="dry"):
    """The outside."""
    return {"outlet": outlet, "brick": brick, "can": "sound", "wet": wet}


def weight(grams, temperature="cold"):
    """A net weight."""
    return {"mass_g": grams, "temperature": temperature, "moisture": "dry"}


def rounds(*masses):
    """Oven rounds with the mass after each."""
    return [{"method": "oven", "minutes": 480.0, "temperature_k": 873.15, "mass_g": mass} for mass in masses]
