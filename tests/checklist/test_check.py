"""Answers that may not be stored as good get a code at their field; what is right passes. Bounds: common practice, no
source, unless named."""

import pytest

from tests.checklist.views import NO_LIGHT, VISUAL, flow, number, rod, weight
from webform.checklist import check, lookup


def codes(step, values, context=None, is_complete=True):
    found = check.problems(lookup.step_named(step), values, context, is_complete)
    return [(problem["field"], problem["code"]) for problem in found]


@pytest.mark.parametrize(("step", "values"), [
    ("visual", VISUAL), ("weight", weight("14480")), ("light", NO_LIGHT), ("flow", flow("2.75")),
    ("rod", rod((24, "soft", "170"))), ("weight", {"skipped": "at_shop"}),
    ("weight", {**weight("14,5"), "mass": number("14,5", "kg")}),
    ("light", {"kind": "cells", "lit": "over_20", "count": number("34", "")}),
    ("rod", {"cells": [{"feel": "free"}, {"feel": "end_plug"}]}),
    ("treatment", {"method": "air", "minutes": number("15", "min")}),
])
def test_a_good_answer_has_no_problem(step, values):
    assert codes(step, values) == []


@pytest.mark.parametrize(("step", "values", "expected"), [
    ("weight", weight("-14480"), ("mass", "answer.too_small")),
    ("weight", weight("9e99"), ("mass", "number.")),
    ("weight", weight("NaN"), ("mass", "number.")),
    ("weight", weight(""), ("mass", "number.")),
    ("weight", weight("14,480"), ("mass", "number.ambiguous")),
    ("weight", {"temperature": "cold", "moisture": "dry"}, ("mass", "answer.missing")),
    # grams typed as kilograms and the other way round: the other unit fits, and is proposed
    ("weight", {**weight("1"), "mass": number("14480", "kg")}, ("mass", "answer.too_large_other_unit")),
    ("weight", weight("14.48"), ("mass", "answer.too_small_other_unit")),
    ("weight", {**weight("14480"), "mass": number("14480", "stone")}, ("mass", "answer.unknown_unit")),
    ("weight", {**weight("14480"), "moisture": "damp"}, ("moisture", "answer.unknown_choice")),
    ("weight", {**weight("14480"), "colour": "red"}, ("colour", "answer.unknown_field")),
    ("weight", {**weight("900"), "fitted": ["clamps"], "fitted_mass": number("900", "g")},
     ("fitted_mass", "answer.fitted_heavier")),
    ("rod", rod((1, "soft", "291")), ("cells.1", "answer.beyond_brick")),
    ("rod", rod((1, "free", None), (1, "hard", None)), ("cells.2", "answer.no_depth")),
    ("rod", {"cells": []}, ("cells", "answer.missing")),
    ("rod", {"cells": [{"feel": "hard", "depth": number("130", "mm")}]}, ("full_depth", "answer.no_full_depth")),
    ("rod", {"cells": [{"feel": "free"}] * 61}, ("cells", "answer.too_many_cells")),
    ("light", {"kind": "cells", "lit": "1_5", "count": number("34", "")}, ("count", "answer.count_differs")),
    ("light", {"kind": "cells", "lit": "1_5", "count": number("2.5", "")}, ("count", "answer.not_whole")),
    ("light", {"kind": "cells"}, ("lit", "answer.missing")),
    ("flow", flow("inf"), ("drop", "number.")),
    ("flow", {**flow("2"), "drop": "2"}, ("drop", "answer.not_a_number")),
    ("visual", {**VISUAL, "note": "x" * 1001}, ("note", "answer.too_long")),
    ("visual", {**VISUAL, "note": "bell \x07"}, ("note", "answer.control_character")),
    ("weight", {"skipped": "because"}, ("skipped", "answer.no_skip_reason")),
    ("weight", {"skipped": "other"}, ("note", "answer.say_why")),
    ("treatment", {"skipped": "at_shop"}, ("skipped", "answer.cannot_skip")),
    ("spec", {"low": number("2", "kPa"), "high": number("20", "mbar"), "uncertainty": number("1", "Pa"),
              "origin": "x", "revision": "1"}, ("high", "answer.window_upside_down")),
    ("filter", {"model": "job:x"}, ("model", "answer.not_a_link")),
])
def test_a_bad_answer_gets_a_code_at_its_field(step, values, expected):
    found = codes(step, values)
    assert any(field == expected[0] and code.startswith(expected[1]) for field, code in found), found


def test_markup_in_a_text_is_text():
    assert codes("visual", {**VISUAL, "note": "<script>alert(1)</script> & \"quotes\""}) == []


def test_a_half_filled_step_is_not_blamed_for_what_is_still_missing():
    assert codes("weight", {"mass": number("14480", "g")}, is_complete=False) == []


def test_the_models_depth_serves_where_the_rod_was_not_pushed_from_the_outlet():
    values = {"cells": [{"feel": "hard", "depth": number("130", "mm")}]}
    assert codes("rod", values, {"depth_m": 0.29}) == []
    assert codes("rod", values, {"depth_m": 0.12}) == [("cells.1", "answer.beyond_brick")]


def change(kind, fields, schema=1):
    return {"id": "d.r.1", "kind": kind, "record": kind + ":x", "set": fields, "replaces": {}, "lamport": 1,
            "at": "2026-11-25T08:00:00.000Z", "by": "person:kim", "schema": schema}


def test_the_server_takes_what_the_form_takes_and_names_what_it_refuses():
    assert check.refusal(change("job", {"before.weight": weight("14480"), "truck": "HL 42"})) is None
    assert check.refusal(change("job", {"before.rod": rod((24, "hard", "130"))})) is None
    assert check.refusal(change("job", {"before.weight": weight("-1")})) == "answer.too_small"
    assert check.refusal(change("job", {"before.colour": "red"})) == "unknown_field"
    assert check.refusal(change("job", {"before.weight": weight("14480")}, schema=2)) == "newer_schema"


@pytest.mark.parametrize("value", [
    None, 1, 1.5, "x", [], {}, [1], {"n": 1}, {"n": "1"}, True, [[]], [None], {"n": "1", "u": 3}, "x" * 5000,
    {"skipped": 1}, {"skipped": []}, [{"feel": []}], [{"feel": "hard", "depth": 3}]])
def test_no_value_of_any_shape_makes_a_check_fail(value):
    for step in lookup.steps():
        assert isinstance(check.problems(step, value), list)
        for field in step.fields:
            check.problems(step, {field.name: value})
            check.refusal(change(step.record, {lookup.slots(step)[0]: value}))


NUMBERS = [(step, field) for step in lookup.steps() for field in step.fields if field.kind == "number"]


@pytest.mark.parametrize(("step", "field"), NUMBERS, ids=[f"{step.name}.{field.name}" for step, field in NUMBERS])
def test_a_bound_is_told_in_the_unit_that_was_typed_and_is_itself_taken(step, field):
    for unit in field.units:
        (problem,) = check.value_problems(field, number("99999999999", unit))
        values = problem["values"]
        assert problem["code"].startswith("answer.too_large") and values["bound_unit"] == unit
        assert not field.is_whole_number or values["high"] == field.high
        for bound in ("low", "high"):
            text = f"{values[bound]:.3f}" + "0"  # four decimals: three could be thousands
            assert [found["code"] for found in check.value_problems(field, number(text, unit))] == [], (bound, text, unit)


def test_a_restriction_beyond_belief_is_told_its_bound_in_inches():
    # 20 000 Pa / 249.08891 = 80.2926 inH2O
    (problem,) = check.value_problems(lookup.field_of(lookup.step_named("flow"), "drop"), number("1000", "inH2O"))
    assert (problem["values"]["high"], problem["values"]["bound_unit"]) == (80.292, "inH2O")
