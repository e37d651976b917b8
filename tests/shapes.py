"""Strategies for what `ashbook judge` and `ashbook calc` may be given: what a shape allows, and garbage."""

import math

from hypothesis import strategies as st

from webform.commands.shape import Choice, ListOf, Number, Record, YesNo

GARBAGE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8)
    | st.sampled_from(
        ["2.75 inH2O", "3 kg", "-5 °C", "50 %", "hard", "after", {"n": "2.75", "u": "inH2O"}, {"n": 3, "u": "g"}]
    ),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["n", "u", "skipped", "cells", "x"]), inner, max_size=3)
    ),
    max_leaves=8,
)


def values_of(shape):
    """A strategy for what a shape allows, its ends included."""
    if isinstance(shape, Number):
        low = math.nextafter(shape.low, math.inf) if shape.is_without_low else shape.low
        return st.integers(int(shape.low), int(shape.high)) if shape.is_whole else st.floats(low, shape.high)
    if isinstance(shape, Choice):
        return st.sampled_from(shape.codes)
    if isinstance(shape, YesNo):
        return st.booleans()
    if isinstance(shape, ListOf):
        return st.lists(values_of(shape.item), min_size=shape.fewest, max_size=min(shape.most, shape.fewest + 12))
    if isinstance(shape, Record):
        whole = st.fixed_dictionaries(
            {name: values_of(part.shape) for name, part in shape.parts.items() if part.is_needed},
            optional={name: values_of(part.shape) for name, part in shape.parts.items() if not part.is_needed},
        )
        return whole | st.fixed_dictionaries({"skipped": st.sampled_from(shape.skips)}) if shape.skips else whole
    return st.text(st.characters(codec="utf-8"), min_size=1, max_size=min(8, shape.longest))
