"""Parts of the cases that run in two interpreters: a generator of our own and readings in good order, all invented."""

import copy

from webform.trade.rules import START

INCH_PA = 249.08891  # conventional inch of water, NIST SP 811 (2008), Appendix B.8


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
