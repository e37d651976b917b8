"""Hypothesis strategies for cases of the documented shape, with every part there, missing or absurd."""

from hypothesis import strategies as st

from tests.trade.readings import PA, SPEC
from webform.trade.rules import START, rows_of

figures = st.one_of(st.none(), st.floats(-1e6, 1e6), st.floats(allow_nan=False, allow_infinity=False))
metres = st.one_of(st.none(), st.floats(0, 0.3))
skipped = st.fixed_dictionaries({"skipped": st.sampled_from(["at_shop", "other"])})
words = st.text("abc XYZ", max_size=8)


def or_missing(strategy):
    return st.one_of(st.none(), skipped, strategy)


def or_none(strategy):
    return st.one_of(st.none(), strategy)


# --- air, plate, brick ------------------------------------------------------------------------------------------------

believable_air = st.fixed_dictionaries({
    "temperature_k": st.floats(263, 313), "pressure_pa": or_none(st.floats(60000, 105000)),
    "altitude_m": or_none(st.floats(-100, 4000)), "humidity": or_none(st.floats(0, 1))})
any_air = st.one_of(believable_air, believable_air, st.none(), st.just({}), st.fixed_dictionaries({
    "temperature_k": figures, "pressure_pa": figures, "altitude_m": figures, "humidity": figures}))
modes = st.sampled_from(["constant_volume", "constant_mass", "uncorrected_element"])
plates = st.one_of(
    st.none(), st.fixed_dictionaries({"read_pa": st.floats(350, 600), "own_pa": st.floats(450, 550), "own_air": any_air}),
    st.fixed_dictionaries({"read_pa": figures, "own_pa": st.one_of(figures, st.just(0.0)), "own_air": any_air}))
checks = st.fixed_dictionaries({"mode": st.one_of(modes, modes, st.just("other")), "air": any_air, "plate": plates})
bricks = st.one_of(
    st.fixed_dictionaries({"depth_m": metres}),
    st.fixed_dictionaries({
        "depth_m": st.floats(0.1, 0.4), "shape": st.sampled_from(["round", "oval", "rectangular"]),
        "long_m": st.floats(0.1, 0.4), "short_m": or_none(st.floats(0.1, 0.4)), "cells_per_in2": st.floats(50, 400),
        "wall_m": st.floats(1e-4, 6e-4)}),
    st.fixed_dictionaries({
        "depth_m": figures, "shape": st.one_of(st.none(), words), "long_m": figures, "short_m": figures,
        "cells_per_in2": figures, "wall_m": figures}))

# --- readings ---------------------------------------------------------------------------------------------------------

visual = st.fixed_dictionaries({
    "outlet": st.sampled_from([None, "clean", "grey", "black"]),
    "brick": st.sampled_from([None, "sound", "sound", "chipped", "cracked", "melted", "loose"]),
    "can": st.sampled_from([None, "sound", "dented", "cracked"]),
    "wet": st.sampled_from([None, "dry", "dry", "water", "oil", "fuel", "coolant"])})
weight = st.fixed_dictionaries({
    "mass_g": st.one_of(st.none(), st.floats(10000, 15000), figures), "temperature": st.sampled_from(["cold", "warm"]),
    "moisture": st.sampled_from(["dry", "wet"])}, optional={"scale": st.sampled_from([None, "good", "out", "unknown"])})
cell = st.fixed_dictionaries(
    {"feel": st.sampled_from(["free", "free", "soft", "hard", "end_plug", "through"]), "depth_m": metres, "short_m": metres},
    optional={"zone": or_none(st.integers(1, 12))})
rod = st.fixed_dictionaries({"full_depth_m": metres, "cells": st.lists(cell, max_size=60)})
light = st.fixed_dictionaries({
    "kind": st.sampled_from(["none", "none", "cells", "crack", "edge", "melted"]),
    "lit": st.sampled_from(["none", "1_5", "6_20", "over_20"]), "count": st.one_of(st.none(), st.integers(0, 60))})
flow = st.fixed_dictionaries(
    {"drops_pa": st.lists(st.one_of(st.floats(0, 1000), st.floats(allow_nan=False, allow_infinity=False)), max_size=3),
     "bench": st.sampled_from(["good", "good", "out", "not_checked"])},
    optional={"check": or_none(checks)})
five = st.fixed_dictionaries({"visual": or_missing(visual), "weight": or_missing(weight), "rod": or_missing(rod),
                              "light": or_missing(light), "flow": or_missing(flow)})

# --- the rest of a case -----------------------------------------------------------------------------------------------

specs = st.one_of(st.none(), st.just(SPEC), st.fixed_dictionaries(
    {"low_pa": figures, "high_pa": figures, "u_pa": figures, "origin": words, "revision": words},
    optional={"air": any_air, "flow_m3_s": st.one_of(st.floats(0.01, 0.5), figures)}),
    st.fixed_dictionaries({"low_pa": st.just(1.6 * PA), "high_pa": st.just(2.0 * PA), "u_pa": st.just(0.05 * PA),
                           "origin": words, "revision": words, "air": any_air, "flow_m3_s": st.floats(0.02, 0.3)}))
masses = st.one_of(st.none(), st.floats(10000, 15000), figures)
done = st.lists(st.fixed_dictionaries({
    "method": st.sampled_from([None, "oven", "oven", "air", "wash"]), "minutes": figures, "temperature_k": figures,
    "mass_g": masses}), max_size=5)
uses = or_none(st.fixed_dictionaries({
    "hours": st.one_of(st.floats(0, 20000), figures), "distance_km": st.one_of(st.floats(0, 1e6), figures),
    "oil_l": st.one_of(st.floats(0, 200), figures), "category": st.sampled_from([None, "CK-4", "E4", "E6", "other"]),
    "ash_percent": st.one_of(st.none(), st.floats(0.2, 2), figures)}))
references = or_none(st.fixed_dictionaries({"mass_g": masses, "origin": st.sampled_from(["own", "model"])}))


@st.composite
def tables(draw):
    """The shop's own rule table: some rows with another value, sensible or not."""
    rows = []
    for row in rows_of(START):
        if draw(st.integers(0, 3)) == 0:
            rows.append({**row, "value": draw(st.one_of(st.integers(0, 40), st.floats(0, 1), st.floats(0, 1e11), figures))})
    return {"revision": "ours", "rows": rows}


cases = st.fixed_dictionaries({
    "stage": st.sampled_from(["before", "after"]), "unit_kind": st.sampled_from(["wall_flow"] * 3 + [
        "flow_through", "one_box"]),
    "brick": bricks, "spec": specs, "rules": st.one_of(st.just(START), st.just(START), tables()), "readings": five,
    "before": st.one_of(st.none(), five), "rounds": done,
    "released": st.one_of(st.none(), st.just({"person": "Kim", "reason": "told"}))},
    optional={"use": uses, "reference": references})
