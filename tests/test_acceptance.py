"""A quick yes is never a wrong one: what is plainly right, the check itself takes too. All data here is invented."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync import change as shape
from tests.bench import inspections
from webform import acceptance
from webform.checklist import check, lookup

NUMBERS = ["0", "1", "290", "2.75", "2,75", "-1", "0.5", "1.780", "150", "150.0", "1e3", "", " 7", "7 ", ".5", "5.", "00012",
           "٣", "²", "123456789012345", "1234567890123456", "99999999999999", "1_000", "200000", "30", "1000", "NaN"]
ODD = [None, "", [], {}, 0, 1, True, 2.5, "x", "x\ny", "x\x00", "x" * 1200, ["x"], [[]], [None], {"n": 1, "u": "g"},
       {"n": "1", "u": []}, {"n": ["1"], "u": "g"}, {"n": "1"}, {"skipped": "owner"}, {"skipped": "other"},
       {"n": "1", "u": "parsec"}]
PHOTO = {"sha256": "a" * 64, "bytes": 1, "taken_at": inspections.AT}
UNKNOWN = [2.5, 2**60, [[[[[[[[[1]]]]]]]]]]  # what no change may hold, where nobody looks for it


def change(kind, answers, schema=1):
    return {"id": "d.r.1", "kind": kind, "record": kind + ":x", "set": answers, "replaces": {}, "lamport": 1,
            "at": inspections.AT, "by": "person:kim", "schema": schema}


def number(units):
    return st.fixed_dictionaries({"n": st.sampled_from(NUMBERS) | st.integers(-5, 10**6).map(str) |
                                  st.decimals(-5, 10**4, places=3).map(str), "u": st.sampled_from([*units, "inch", ""])},
                                 optional={"more": st.sampled_from(UNKNOWN)})


def value_of(field):
    """Answers of a field, right ones more often than not."""
    codes = [*field.codes, "purple"]
    feel, depth = st.sampled_from(codes), number(("mm", "in"))
    more = {"zone": st.sampled_from([1, 12, 13, "1", None, True]), "short": depth, "depth": depth, "more": st.just(1)}
    photo = {"sha256": st.sampled_from(["a" * 64, "b" * 64, "A" * 64]), "taken_at": st.just(inspections.AT),
             "bytes": st.sampled_from([1, 0, 10**8])}
    kinds = {
        "number": number(field.units), "choice": feel, "text": st.text(max_size=8) | st.just("note"),
        "choices": st.lists(st.sampled_from(codes), max_size=3).map(lambda found: sorted(set(found))) | st.lists(
            st.sampled_from(codes), max_size=3),
        "ref": st.sampled_from([f"{field.to}:one", "person:one", "x"]),
        "photos": st.lists(st.fixed_dictionaries(photo), max_size=3),
        "cells": st.lists(st.fixed_dictionaries({"feel": feel}, optional=more), max_size=4),
    }
    return kinds[field.kind] | kinds[field.kind] | kinds[field.kind] | st.sampled_from(ODD)


def values_of(step, data):
    """What a screen might send for a step."""
    fields = {field.name: value_of(field) for field in step.fields}
    needed = {name: drawn for name, drawn in fields.items() if lookup.field_of(step, name).required}
    others = {name: drawn for name, drawn in fields.items() if name not in needed}
    return data.draw(st.fixed_dictionaries(needed, optional=others) | st.fixed_dictionaries({}, optional=fields) |
                     st.sampled_from(ODD))


@settings(max_examples=800)
@given(data=st.data(), step=st.sampled_from(lookup.steps()), schema=st.sampled_from([1, 1, 1, 2]))
def test_what_is_plainly_right_the_check_takes_too(data, step, schema):
    stored = data.draw(st.sampled_from(lookup.slots(step)))
    value = data.draw(value_of(lookup.field_of(step, stored))) if step.slot is None else values_of(step, data)
    given = change(step.record, {stored: value}, schema)
    if acceptance.is_plainly_right(given):
        assert check.refusal(given) is None
        shape.check(given)  # raises where a part of it is not known after all
    assert acceptance.refusal(given) == check.refusal(given)


@pytest.mark.parametrize("step", lookup.steps(), ids=lambda step: step.name)
def test_an_unknown_field_is_never_plainly_right(step):
    assert not acceptance.is_plainly_right(change(step.record, {"never.declared": "x"}))


def test_what_phones_send_is_plainly_right_so_that_a_push_is_quick():
    sent = [json.loads(text) for text in inspections.texts(0, 200)]
    assert sum(acceptance.is_plainly_right(one) for one in sent) == len(sent)


@pytest.mark.parametrize("spoilt", [
    {"before.flow": {"bench": "good"}}, {"before.flow": {"bench": "good", "drop": {"n": "2.75", "u": "inH2O"}, "more": 1}},
    {"before.rod": {"full_depth": {"n": "290", "u": "mm"}, "cells": [{"feel": "hard", "depth": {"n": "291", "u": "mm"}}]}},
    {"before.rod": {"cells": [{"feel": "free", "zone": 13}]}}, {"before.rod": {"cells": [{"feel": "free", "zone": True}]}},
    {"before.rod": {"cells": [{"feel": "hard"}]}}, {"before.rod": {"cells": [{"feel": "free", "more": 1}]}},
    {"before.weight": {"mass": {"n": "300", "u": "kg"}, "temperature": "cold", "moisture": "dry"}},
    {"before.weight": {"mass": {"n": "1.780", "u": "g"}, "temperature": "cold", "moisture": "dry"}},
    {"before.weight": {"mass": {"n": "900", "u": "g"}, "fitted": ["adapter"], "adapter_mass": {"n": "900", "u": "g"},
                       "temperature": "cold", "moisture": "dry"}},
    {"before.weight": {"mass": {"n": "900", "u": "g"}, "fitted": ["adapter"], "adapter_mass": {"n": "0.9", "u": "kg"},
                       "temperature": "cold", "moisture": "dry"}},
    {"before.weight": {"mass": {"n": "9000", "u": "g"}, "fitted": ["adapter"], "adapter_mass": {"n": "90", "u": "g"},
                       "fitted_mass": {"n": "90", "u": "g"}, "temperature": "cold", "moisture": "dry"}},
    {"before.light": {"kind": "none", "photos": [PHOTO, PHOTO]}},
    {"odometer": {"n": "12.345", "u": "km"}}, {"odometer": {"n": "5000001", "u": "km"}}, {"truck": "x" * 41},
    {"before.light": {"kind": "cells", "lit": "1_5", "count": {"n": "6.5", "u": ""}}}, {"truck": "x\x07"}])
def test_one_bad_answer_among_good_ones_is_refused(spoilt):
    good = inspections.answers(7)
    assert acceptance.refusal(change("job", good)) is None
    assert acceptance.refusal(change("job", {**good, **spoilt})) is not None
