"""More cases for two interpreters: bench and air, correction, what remains, where the blocked cells lie, own limits.

Made by rule from a seed as in cases.py; figures invented.
"""

import math

from tests.vectors.parts import INCH_PA, case, flow, rod, visual, weight, window
from webform.trade.figures import quantise
from webform.trade.own_numbers import own_limits

FRACTION_STEP = 0.0001
PASCAL_STEP = 0.1
DRIFT = 0.03
MODES = ("constant_volume", "constant_mass", "uncorrected_element")
# Student's t, two-sided 95 %, of 34, 35 and 36 degrees of freedom (NIST/SEMATECH e-Handbook 1.3.6.7.2, more digits computed).
T_34, T_35, T_36 = 2.0322445, 2.0301079, 2.0280940


# --- one limit each ---------------------------------------------------------------------------------------------------

def plate_drift(draws, away, side):
    """A plate read 3 % off, in the air in which its own value was taken, so that it should read just that."""
    own_pa, low = draws.between(400, 700), draws.one_of(True, False)
    off = DRIFT + away * FRACTION_STEP
    air = room(draws)
    check = {"mode": draws.one_of(*MODES), "air": air,
             "plate": {"read_pa": own_pa * (1 - off if low else 1 + off), "own_pa": own_pa, "own_air": air}}
    spec = window(draws)
    return case(draws, spec={**spec, "air": air}, flow={**flow(draws, (spec["low_pa"] + spec["high_pa"]) / 2 - 1),
                                                        "check": check})


def more_cells(draws, away, side):
    """Seven of 24 cells hard after cleaning, so deep that twelve more cells would just settle it, or just not."""
    ends = [edge(t, count) for t, count in ((T_34, 35), (T_35, 36), (T_36, 37))]
    low, high = (ends[0], ends[1]) if side < 0 else (ends[1], ends[2])
    share = low + (high - low) * draws.between(0.02, 0.98)
    return case(draws, stage="after", rod=rod(draws, [share] * 7 + [0.0] * 17), before={})


def edge(t, count):
    """The share of seven of 24 cells at which so many cells are just not enough: t s/√count = 1/3 - average."""
    return (1 / 3) / (7 / 24 + t * math.sqrt(7 * 17 / (24 * 23)) / math.sqrt(count))


def repeats(draws, away, side):
    """Two readings on either side of the window's lower end, apart by just a tenth of its upper end."""
    spec = window(draws)
    limit = quantise(0.1 * spec["high_pa"], 1)
    first = spec["low_pa"] - limit * draws.between(0.2, 0.8)
    blown = flow(draws, first)
    return case(draws, spec=spec, flow={**blown, "drops_pa": [first, first + limit + away * PASCAL_STEP]})


NEAR = {"plate_drift": plate_drift, "more_cells": more_cells, "repeats": repeats}


# --- a broad mixture --------------------------------------------------------------------------------------------------

def mixed(draws, number):
    """(name, case) of one of eight kinds, in turn."""
    kind = (hill, shapes, weighed, placed, own, doubtful, whole, damaged)[number % 8]
    return kind.__name__, kind(draws)


def hill(draws):
    """A bench somewhere between the sea and 3000 m, checked well or badly."""
    return case(draws, flow=checked(draws, flow(draws, draws.between(1.4, 2.6) * INCH_PA)))


def shapes(draws):
    """A brick with its geometry and the flow of its spec: estimate, split, rod against restriction."""
    spec = {**window(draws), "flow_m3_s": draws.between(0.04, 0.25), "air": room(draws)}
    shares = [draws.between(0, 0.5) if draws.below(3) == 0 else 0.0 for _ in range(24)]
    made = case(draws, spec=spec, flow=checked(draws, flow(draws, draws.between(0.5, 4.0) * INCH_PA)),
                rod=rod(draws, shares, feel=draws.one_of("soft", "hard", "mixed")))
    return {**made, "brick": brick(draws)}


def weighed(draws):
    """Rounds with their masses, what was left the last time, and what the engine burned."""
    last = draws.between(11000, 15000)
    count = 1 + draws.below(3)
    masses = [last + draws.between(0, 60) * (count - place) * (count - place) for place in range(count)] + [last]
    done = [{"method": draws.one_of("oven", "oven", "air", "wash"), "minutes": 60.0, "temperature_k": None,
             "mass_g": None if draws.below(8) == 0 else mass} for mass in masses]
    spec = window(draws)
    found = {"weight": weight(masses[0] + draws.between(-20, 900)), "flow": flow(draws, draws.between(2.0, 4.0) * INCH_PA),
             "rod": rod(draws, [draws.between(0, 0.5) if draws.below(2) else 0.0 for _ in range(20)])}
    dirty = rod(draws, [draws.between(0, 0.3) for _ in range(6)] + [0.0] * 18, feel="soft")
    made = case(draws, stage="after", spec=spec, weight=weight(last), rounds=done, before=found,
                rod=dirty if draws.below(2) else None)
    use = {"hours": draws.one_of(None, draws.between(0, 9000)), "distance_km": draws.between(0, 400000),
           "oil_l": draws.one_of(None, 0.2, draws.between(1, 60)), "category": draws.one_of("CK-4", "E4", "E6", None),
           "ash_percent": draws.one_of(None, None, draws.between(0.5, 1.8))}
    reference = {"mass_g": last + draws.between(-300, 200), "origin": draws.one_of("own", "model")}
    return {**made, "brick": brick(draws), "use": use, "reference": reference}


def placed(draws):
    """Cells with their zones: in the centre, in a ring, on one side, anywhere."""
    zones = draws.one_of((6, 7), (1, 2, 3, 4, 5, 8, 9, 10, 11, 12), (1, 5, 9), (9, 10, 11, 12), (2, 7, 12))
    readings = rod(draws, [0.0] * 24)
    for place in range(24):
        zone = place % 12 + 1
        cell = readings["cells"][place]
        cell["zone"] = zone
        if zone in zones and draws.below(6):
            cell.update(feel="hard", short_m=readings["full_depth_m"] * draws.between(0.12, 0.6))
    return case(draws, rod=readings)


def own(draws):
    """Limits from the shop's own accepted filters, one of them a slip."""
    middle = draws.between(1.4, 2.2) * INCH_PA
    values = [middle + draws.between(-25, 25) for _ in range(10 + draws.below(8))] + [middle * draws.one_of(1, 10)]
    limits = own_limits(values)
    spec = {"low_pa": limits["low"], "high_pa": limits["high"], "u_pa": 0.0, "origin": "our own filters",
            "revision": str(limits["n"])}
    return case(draws, spec=spec, flow=flow(draws, middle + draws.between(-60, 130)))


def doubtful(draws):
    """After cleaning, with hard cells about where more would settle it or a person must decide."""
    count = 18 + draws.below(19)
    share, hits = draws.one_of(0.2, 0.3, 0.36, 0.5, 0.8), 2 + draws.below(12)
    return case(draws, stage="after", rod=rod(draws, [share] * hits + [0.0] * max(0, count - hits)), before={})


def damaged(draws):
    """After cleaning, with damage as found that this stage's test denies, shows again or has not looked for."""
    face, light = rod(draws, [0.0] * 24), {"kind": "none", "lit": "none", "count": None}
    face["cells"][draws.below(24)]["feel"] = draws.one_of("through", "caked", "free")
    before = {"visual": visual(brick=draws.one_of("sound", "cracked", "loose")), "rod": draws.one_of(face, None),
              "light": {**light, "kind": draws.one_of("none", "none", "crack", "melted")},
              "weight": {**weight(0.0, draws.one_of("cold", "warm")),
                         "scale": draws.one_of("good", "out", "unproven")}}
    now = rod(draws, [0.0] * 24)
    for place in range(draws.below(3)):
        now["cells"][place]["feel"] = "caked"
    made = case(draws, stage="after", before=before, light=light, rod=now)
    before["weight"]["mass_g"] = made["readings"]["weight"]["mass_g"] + draws.between(-60, 60)
    for test in ("visual", "light"):
        made["readings"][test] = draws.one_of(made["readings"][test], None)
    return made


def whole(draws):
    """Everything at once."""
    made = weighed(draws)
    made["spec"] = {**made["spec"], "flow_m3_s": draws.between(0.04, 0.25)}
    made["readings"]["flow"] = checked(draws, made["readings"]["flow"])
    made["readings"]["rod"] = placed(draws)["readings"]["rod"]
    made["unit_kind"] = draws.one_of("wall_flow", "wall_flow", "wall_flow", "one_box")
    return made


# --- parts ------------------------------------------------------------------------------------------------------------

def room(draws):
    """A room's air, mostly with a barometer."""
    altitude_m = draws.between(0, 3000)
    return {"temperature_k": draws.between(278, 308),
            "pressure_pa": draws.one_of(None, *[101325.0 - 11.5 * altitude_m + draws.between(-1500, 1500)] * 3),
            "altitude_m": draws.one_of(None, altitude_m), "humidity": draws.one_of(None, draws.between(0, 1))}


def checked(draws, readings):
    """Those readings under a check of the bench: good in most cases, else out or not believable."""
    air, mode, own_pa = room(draws), draws.one_of(*MODES), draws.between(450, 650)
    density = (air["pressure_pa"] or 101325.0 - 11.5 * (air["altitude_m"] or 0.0)) / 101325.0 * 293.15 / air["temperature_k"]
    reads = {"constant_volume": density, "constant_mass": 1 / density, "uncorrected_element": 1.0}[mode]
    plate = {"read_pa": own_pa * reads * draws.one_of(1.0, 1.004, 0.995, 1.01, 0.98, 1.05), "own_pa": own_pa,
             "own_air": draws.one_of(None, None, {"temperature_k": 293.15, "pressure_pa": 101325.0, "humidity": 0.4})}
    return {**readings, "check": {"mode": mode, "air": air, "plate": draws.one_of(None, *[plate] * 9)}}


def brick(draws):
    """A wall-flow brick."""
    return {"depth_m": draws.between(0.2, 0.36), "shape": draws.one_of("round", "oval", "rectangular"),
            "long_m": draws.between(0.2, 0.33), "short_m": draws.one_of(None, draws.between(0.15, 0.2)),
            "cells_per_in2": draws.one_of(100.0, 200.0, 300.0), "wall_m": draws.between(0.0002, 0.0004)}
