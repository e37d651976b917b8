"""What holds for every case: an answer, whatever the order, and never a better one for a worse reading."""

import copy
import json
import random

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.trade.readings import PA, SPEC
from webform.trade.judge import judge
from webform.trade.rules import START
from webform.trade.words import sentences
from webform.words import catalogue

VERDICTS = ("ok_to_reinstall", "clean", "clean_again", "replace", "hold")
CATALOGUE = catalogue()
figures = st.one_of(st.none(), st.floats(-1e6, 1e6), st.floats(allow_nan=False, allow_infinity=False))
metres = st.one_of(st.none(), st.floats(0, 0.3))
skipped = st.fixed_dictionaries({"skipped": st.sampled_from(["at_shop", "other"])})


def or_missing(strategy):
    return st.one_of(st.none(), skipped, strategy)


visual = st.fixed_dictionaries({
    "outlet": st.sampled_from([None, "clean", "grey", "black"]),
    "brick": st.sampled_from([None, "sound", "sound", "chipped", "cracked", "melted", "loose"]),
    "can": st.sampled_from([None, "sound", "dented", "cracked"]),
    "wet": st.sampled_from([None, "dry", "dry", "water", "oil", "fuel", "coolant"])})
weight = st.fixed_dictionaries({
    "mass_g": st.one_of(st.none(), st.floats(10000, 15000), figures), "temperature": st.sampled_from(["cold", "warm"]),
    "moisture": st.sampled_from(["dry", "wet"])})
cell = st.fixed_dictionaries({
    "feel": st.sampled_from(["free", "free", "soft", "hard", "end_plug", "through"]), "depth_m": metres,
    "short_m": metres})
rod = st.fixed_dictionaries({"full_depth_m": metres, "cells": st.lists(cell, max_size=30)})
light = st.fixed_dictionaries({
    "kind": st.sampled_from(["none", "none", "cells", "crack", "edge", "melted"]),
    "lit": st.sampled_from(["none", "1_5", "6_20", "over_20"]), "count": st.one_of(st.none(), st.integers(0, 60))})
flow = st.fixed_dictionaries({
    "drops_pa": st.lists(st.one_of(st.floats(0, 1000), st.floats(allow_nan=False, allow_infinity=False)), max_size=3),
    "bench": st.sampled_from(["good", "good", "out", "not_checked"])})
five = st.fixed_dictionaries({"visual": or_missing(visual), "weight": or_missing(weight), "rod": or_missing(rod),
                              "light": or_missing(light), "flow": or_missing(flow)})
specs = st.one_of(st.none(), st.just(SPEC), st.fixed_dictionaries({
    "low_pa": figures, "high_pa": figures, "u_pa": figures, "origin": st.text(max_size=8),
    "revision": st.text(max_size=8)}))
done = st.lists(st.fixed_dictionaries({
    "method": st.sampled_from([None, "oven", "air", "wash"]), "minutes": figures, "temperature_k": figures,
    "mass_g": figures}), max_size=4)
cases = st.fixed_dictionaries({
    "stage": st.sampled_from(["before", "after"]), "unit_kind": st.sampled_from(["wall_flow"] * 3 + [
        "flow_through", "one_box"]),
    "brick": st.fixed_dictionaries({"depth_m": metres}), "spec": specs, "rules": st.just(START), "readings": five,
    "before": st.one_of(st.none(), five), "rounds": done,
    "released": st.one_of(st.none(), st.just({"person": "Kim", "reason": "told"}))})


@settings(max_examples=400)
@given(cases)
def test_every_case_has_a_verdict_with_reasons_and_sentences(case):
    untouched = copy.deepcopy(case)
    verdict = judge(case)
    assert case == untouched
    assert verdict["verdict"] in VERDICTS and verdict["reasons"]
    assert json.loads(json.dumps(verdict, allow_nan=False)) == verdict
    for texts in sentences(verdict, CATALOGUE).values():
        for text in texts:
            assert text and not text.startswith("reason."), text


@settings(max_examples=200)
@given(cases, st.randoms())
def test_the_order_of_cells_and_repeats_does_not_matter(case, order):
    other = copy.deepcopy(case)
    for name, part in (("rod", "cells"), ("flow", "drops_pa")):
        if part in (other["readings"][name] or {}):
            order.shuffle(other["readings"][name][part])
    assert judge(other) == judge(case)


@settings(max_examples=200)
@given(cases)
def test_what_is_missing_never_passes_and_never_rescues(case):
    verdict = judge(case)["verdict"]
    for name in ("visual", "weight", "rod", "light", "flow"):
        fewer = copy.deepcopy(case)
        fewer["readings"][name] = None
        left = judge(fewer)["verdict"]
        if name in ("visual", "weight", "flow") or case["unit_kind"] == "wall_flow":
            assert left != "ok_to_reinstall"
        if verdict == "ok_to_reinstall":
            assert left in ("hold", "ok_to_reinstall")


# --- worse readings ---------------------------------------------------------------------------------------------------

def worsen_cell(case, seed):
    """A cell a step worse: free to hard or soft to hard at the same depth, or hard and deeper blocked."""
    cells = [entry for entry in case["readings"]["rod"]["cells"] if entry["feel"] in ("free", "soft", "hard")]
    if not cells:
        return
    chosen = cells[seed.randrange(len(cells))]
    if chosen["feel"] != "hard":
        chosen.update(feel="hard" if seed.random() < 0.5 else "soft", short_m=None,
                      depth_m=chosen["depth_m"] if chosen["feel"] == "soft" else 0.29)
    elif chosen["depth_m"] is not None:
        chosen["depth_m"] = chosen["depth_m"] * seed.random()


def worsen_light(case, seed):
    seen = case["readings"]["light"]
    if seen["kind"] == "none":
        seen.update(kind="cells", lit="1_5", count=seed.choice([1, 5]))
    elif seen["kind"] == "cells":
        seen.update(kind=seed.choice(["cells", "crack", "edge", "melted"]), count=(seen["count"] or 20) + 1)


def worsen_outlet(case, seed):
    seen = case["readings"]["visual"]
    seen["outlet"] = {"clean": "grey", "grey": "black", "black": "black", None: None}[seen["outlet"]]


def worsen_brick(case, seed):
    case["readings"]["visual"]["brick"] = seed.choice(["cracked", "melted", "loose"])


def worsen_flow(case, seed):
    """More restriction, from within the window upward: below it, more restriction is better."""
    drops = case["readings"]["flow"]["drops_pa"]
    if drops and all(1.6 * PA <= drop <= 1000 for drop in drops):
        case["readings"]["flow"]["drops_pa"] = [drop + seed.choice([0.2, 5, 60, 400]) for drop in drops]


complete_cell = st.one_of(
    st.just({"feel": "free", "depth_m": None, "short_m": None}),
    st.fixed_dictionaries({"feel": st.sampled_from(["soft", "hard"]), "depth_m": st.floats(0, 0.29),
                           "short_m": st.none()}))
complete = st.fixed_dictionaries({
    "stage": st.sampled_from(["before", "after"]), "unit_kind": st.just("wall_flow"),
    "brick": st.just({"depth_m": 0.29}), "spec": st.one_of(st.none(), st.just(SPEC)), "rules": st.just(START),
    "before": st.just({}), "rounds": done, "released": st.none(),
    "readings": st.fixed_dictionaries({
        "visual": st.fixed_dictionaries({"outlet": st.sampled_from(["clean", "grey", "black"]),
                                         "brick": st.just("sound"), "can": st.just("sound"), "wet": st.just("dry")}),
        "weight": st.just({"mass_g": 13000.0, "temperature": "cold", "moisture": "dry"}),
        "rod": st.fixed_dictionaries({"full_depth_m": st.just(0.29), "cells": st.one_of(
            st.lists(complete_cell, min_size=1, max_size=26),
            st.just([{"feel": "free", "depth_m": None, "short_m": None}] * 24).map(copy.deepcopy))}),
        "light": st.fixed_dictionaries({"kind": st.sampled_from(["none", "cells"]), "lit": st.just("1_5"),
                                        "count": st.integers(1, 25)}),
        "flow": st.fixed_dictionaries({
            "drops_pa": st.lists(st.floats(1.5 * PA, 2.2 * PA), min_size=1, max_size=3), "bench": st.just("good")})})})


@settings(max_examples=600)
@given(complete, st.sampled_from([worsen_cell, worsen_light, worsen_outlet, worsen_brick, worsen_flow]),
       st.integers(0, 10**6))
def test_a_worse_reading_never_passes_nor_takes_a_filter_out_of_replace(case, worsen, number):
    first = judge(case)["verdict"]
    worse = copy.deepcopy(case)
    worsen(worse, random.Random(number))
    second = judge(worse)["verdict"]
    if first == "replace":
        assert second == "replace"
    if first != "ok_to_reinstall":
        assert second != "ok_to_reinstall"
