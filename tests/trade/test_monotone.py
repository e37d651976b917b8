"""A worse reading never gives a better verdict.

The order: OK to reinstall is better than anything else, replace worse than anything else; clean, clean again and hold
stand between and are not ranked among themselves (a soft cell turns a hold for a missing flow limit into clean again).
Worse is: a free cell that turns hard, a hard stop that comes earlier, more lit cells or light through damage, a dirtier
outlet, more restriction from the window's lower end upwards. Soft and hard are not ranked: soot asks for another round,
where a few hard cells may stay. Below the window more restriction is better.
"""

import copy
import random

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trade.readings import PA, SPEC
from tests.trade.strategies import done, modes
from webform.trade.judge import judge
from webform.trade.rules import START

RANK = {"ok_to_reinstall": 0, "clean": 1, "clean_again": 1, "hold": 1, "replace": 2}
FULL_M = 0.29
LOW_PA = 1.6 * PA  # of the window
GEOMETRY = {"depth_m": FULL_M, "shape": "round", "long_m": 0.267, "short_m": None, "cells_per_in2": 200.0, "wall_m": 0.0003}


def free(zone=None):
    return {"feel": "free", "depth_m": None, "short_m": None, "zone": zone}


def hard(share):
    return {"feel": "hard", "depth_m": FULL_M * (1.0 - share), "short_m": None, "zone": None}


@st.composite
def faces(draw):
    """Cells near the limits: a few groups of equal ones, or each for itself."""
    kind = draw(st.integers(0, 5))
    if kind == 0:
        return [free(zone) for zone in range(1, 13)] * 2
    if kind == 1:
        count = draw(st.integers(10, 36))
        blocked = draw(st.integers(0, count))
        return [hard(draw(st.floats(0.05, 1.0)))] * blocked + [free()] * (count - blocked)
    if kind == 2:
        share, other = draw(st.floats(0.25, 0.34)), draw(st.floats(0.0, 0.4))
        return [hard(share)] * draw(st.integers(15, 24)) + [hard(other)] * draw(st.integers(0, 9))
    if kind == 3:  # blocked whole, in up to half of the cells: the average alone condemns
        blocked = draw(st.integers(7, 12))
        return [hard(draw(st.floats(0.8, 1.0)))] * blocked + [free()] * (24 - blocked)
    cells = st.one_of(st.just(free()), st.floats(0.0, 1.0).map(hard),
                      st.floats(0.0, 1.0).map(lambda share: {**hard(share), "feel": "soft"}))
    return draw(st.lists(cells, min_size=1, max_size=30))


@st.composite
def checks(draw):
    """None, or a bench that is in order, somewhere between the sea and 3000 m."""
    if draw(st.booleans()):
        return None
    air = {"temperature_k": draw(st.floats(278, 308)), "pressure_pa": draw(st.floats(70000, 104000)), "altitude_m": None,
           "humidity": draw(st.one_of(st.none(), st.floats(0, 1)))}
    return {"mode": draw(modes), "air": air, "plate": {"read_pa": 500.0, "own_pa": 500.0, "own_air": air}}


@st.composite
def complete(draw):
    """A whole case in which every test can be read."""
    drops, first = st.lists(st.floats(1.3 * PA, 2.5 * PA), min_size=1, max_size=3), draw(st.floats(1.5 * PA, 2.2 * PA))
    near = st.lists(st.floats(-0.1 * PA, 0.1 * PA), max_size=2).map(lambda more: [first, *[first + pa for pa in more]])
    flow = {"drops_pa": draw(st.one_of(near, near, drops)), "bench": "good"}
    check = draw(checks())
    readings = {
        "visual": {"outlet": draw(st.sampled_from(["clean", "clean", "grey", "black"])), "brick": "sound", "can": "sound",
                   "wet": "dry"},
        "weight": {"mass_g": 13000.0, "temperature": "cold", "moisture": "dry"},
        "rod": {"full_depth_m": FULL_M, "cells": draw(faces())},
        "light": {"kind": draw(st.sampled_from(["none", "none", "cells"])), "lit": "1_5", "count": draw(st.integers(1, 25))},
        "flow": flow if check is None else {**flow, "check": check}}
    return {"stage": draw(st.sampled_from(["before", "after", "after"])), "unit_kind": "wall_flow",
            "brick": draw(st.sampled_from([{"depth_m": FULL_M}, GEOMETRY])), "rules": START, "readings": readings,
            "before": {},
            "spec": draw(st.sampled_from([None, SPEC, SPEC, {**SPEC, "flow_m3_s": 0.1}])), "rounds": draw(done),
            "released": draw(st.sampled_from([None, None, {"person": "Kim", "reason": "seen"}]))}


def worsen_cell(case, seed):
    """A free cell turns hard, or a hard stop comes earlier."""
    cells = [copy.deepcopy(entry) for entry in case["readings"]["rod"]["cells"]]
    case["readings"]["rod"]["cells"] = cells
    chosen = [entry for entry in cells if entry["feel"] in ("free", "hard")]
    for entry in seed.sample(chosen, min(len(chosen), seed.choice([1, 1, 3, 30]))):
        share = 0.0 if entry["feel"] == "free" else 1.0 - entry["depth_m"] / FULL_M
        goal = seed.choice([1.0, 0.3333, 0.34, seed.random()])
        entry.update(feel="hard", depth_m=FULL_M * (1.0 - max(share, goal)))


def worsen_light(case, seed):
    seen = case["readings"]["light"]
    if seen["kind"] == "none":
        seen.update(kind="cells", lit="1_5", count=seed.choice([1, 5, 21]))
    elif seen["kind"] == "cells":
        seen.update(kind=seed.choice(["cells", "crack", "edge", "melted"]), count=(seen["count"] or 20) + 1)


def worsen_outlet(case, seed):
    seen = case["readings"]["visual"]
    seen["outlet"] = {"clean": seed.choice(["grey", "black"]), "grey": "black", "black": "black"}[seen["outlet"]]


def worsen_brick(case, seed):
    case["readings"]["visual"]["brick"] = seed.choice(["cracked", "melted", "loose"])


def worsen_flow(case, seed):
    """More restriction in each reading that is not below the window in the spec's air; as much in all, or in some more."""
    blown, same = case["readings"]["flow"], seed.choice([0, 0.2, 5, 60, 400])
    above = [in_spec_air(case, drop) > LOW_PA + 0.1 for drop in blown["drops_pa"]]
    blown["drops_pa"] = [drop + (same or seed.choice([0, 0.2, 5, 60, 400])) if is_above else drop
                         for drop, is_above in zip(blown["drops_pa"], above, strict=True)]


def in_spec_air(case, drop):
    """One reading alone in the air of the flow spec, as a verdict on it says."""
    alone = {**case, "readings": {**case["readings"], "flow": {**case["readings"]["flow"], "drops_pa": [drop]}}}
    verdict = judge(alone)
    carried = [reason["values"]["drop_pa"] for reason in verdict["findings"] if reason["code"] == "flow_corrected"]
    return carried[0] if carried else drop


WORSE = [worsen_cell, worsen_cell, worsen_light, worsen_outlet, worsen_brick, worsen_flow, worsen_flow]


@settings(max_examples=1500)
@given(complete(), st.sampled_from(WORSE), st.integers(0, 10**6))
def test_a_worse_reading_never_gives_a_better_verdict(case, worsen, number):
    first = judge(case)["verdict"]
    worse = copy.deepcopy(case)
    worsen(worse, random.Random(number))
    second = judge(worse)["verdict"]
    assert RANK[second] >= RANK[first], (first, second)


@settings(max_examples=300)
@given(complete(), st.integers(0, 10**6))
def test_worse_readings_one_after_the_other_only_go_down(case, number):
    seed, last = random.Random(number), judge(case)["verdict"]
    for _ in range(6):
        seed.choice(WORSE)(case, seed)
        verdict = judge(case)["verdict"]
        assert RANK[verdict] >= RANK[last], (last, verdict)
        last = verdict
