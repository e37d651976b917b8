"""The shop's units move no verdict, no evidence and no sign-off; only sentences follow, on the phone's door too.

Readings invented; figures in other units by hand with NIST SP 811 (2008), Appendix B.8.
"""

import json

import pytest

from tests.checklist.test_case import A_BEFORE, GOOD_AFTER, round_of, sign
from tests.checklist.test_given import BENCH, SCALE
from tests.checklist.views import FILTER, KIM, MODEL, answer, book, flow, number, view
from webform.checklist import lookup, show
from webform.checklist.calls import call, with_texts
from webform.checklist.case import basis_of, job_state
from webform.checklist.units_shown import in_units_of
from webform.verdicts import key_of
from webform.words import catalogue

WORDS = catalogue()
METRIC = {"pressure": "mbar", "mass": "kg", "length": "mm", "temperature": "°C", "flow": "m³/h"}
POUNDS = {"pressure": "inH2O (60 °F)", "mass": "lb", "length": "in", "temperature": "°F", "flow": "cfm"}


def views(units=None, **fields):
    """The views of a job that has been cleaned, with the shop's pick of units."""
    shop = [] if units is None else [view("shop:rules", {"units": units})]
    return book(view("job:j", {"filter": "filter:f", **A_BEFORE, **GOOD_AFTER, **fields}), FILTER, MODEL, KIM,
                round_of("1", 5), *shop)


def told(state):
    """Every sentence of a state."""
    return [text for stage in ("before", "after") for part in ("reasons", "findings", "missing", "settle")
            for text in state[stage]["texts"][part]]


def test_what_the_shop_reads_in_feeds_nothing():
    step = lookup.step_named("units")
    assert not lookup.feeds_verdict("shop", step.slot) and not lookup.feeds_verdict("instrument", "display")
    assert lookup.policy_of("shop", step.slot) == "later"  # two desks that pick at once stop nobody


@pytest.mark.parametrize("units", [METRIC, POUNDS, {}, {"pressure": "Pa"}])
def test_a_change_of_units_leaves_the_state_a_basis_and_a_sign_off_as_they_are(units):
    plain = job_state("job:j", views())
    assert job_state("job:j", views(units)) == plain
    signed = views(units, signoff=[sign(plain)])
    assert basis_of(job_state("job:j", views(units))) == basis_of(plain)
    assert job_state("job:j", signed)["signoff"]["stands"] and job_state("job:j", signed)["may_issue"]
    assert key_of("job:j", views(units)) == key_of("job:j", views({}))  # so nothing is judged anew either
    two = views([answer(METRIC, "d.r.1"), answer(POUNDS, "d.r.2")], signoff=[sign(plain)])
    assert job_state("job:j", two)["signoff"]["stands"] and not job_state("job:j", two)["two_answers"]


def test_the_sentences_of_a_state_are_in_the_shop_s_units():
    # 2.75 x 249.08891 Pa = 684.99 Pa = 6.85 mbar; / 248.84 Pa = 2.753; 14.48 kg / 0.45359237 = 31.92 lb; 0.7 kg = 1.54 lb;
    # 14.1 g = 0.031 lb
    kilograms = "0.7 kg (± 0.014 kg) came off (14.48 kg to 13.78 kg)"
    pounds = "1.54 lb (± 0.031 lb) came off (31.92 lb to 30.38 lb)"
    for units, restriction, came_off in ((METRIC, "6.85 mbar", kilograms), (POUNDS, "2.753 inH2O (60 °F)", pounds)):
        seen = views(units)
        state = with_texts(job_state("job:j", seen), in_units_of(seen["shop:rules"], WORDS))
        assert any(text.startswith(f"Restriction {restriction} is ") for text in told(state))
        assert any(text.startswith(came_off) for text in told(state)), told(state)


def test_the_phone_s_door_takes_the_units_from_the_shop_s_record():
    call(json.dumps({"op": "words", "catalogue": WORDS}))
    for units, restriction in ((None, "2.75 inH2O"), (METRIC, "6.85 mbar"), ({}, "2.75 inH2O")):
        answered = json.loads(call(json.dumps({"op": "job", "job": "job:j", "views": list(views(units).values())})))
        assert any(text.startswith(f"Restriction {restriction} is ") for text in told(answered["value"]))


def test_a_check_of_an_instrument_is_told_in_the_shop_s_units():
    call(json.dumps({"op": "words", "catalogue": WORDS}))
    shop = view("shop:rules", {"units": {"pressure": "kPa", "mass": "lb"}})
    bench = {"instrument": BENCH["record"], "temperature": number("20", "°C"), "humidity": number("0", "%"),
             "plate": number("2.10", "inH2O (60 °F)")}
    scale = {"instrument": SCALE["record"], "weight": number("20", "kg"), "weight_class": "M1",
             "shown": number("20.005", "kg")}
    # 2.10 x 248.84 = 522.6 Pa; 5 g = 0.011 lb
    for kind, values, figure in (("bench_check", bench, "0.523 kPa"), ("scale_check", scale, "0.011 lb")):
        asked = {"op": "instrument", "kind": kind, "values": values, "views": [BENCH, SCALE, shop]}
        answered = json.loads(call(json.dumps(asked)))
        assert any(figure in text for text in answered["value"]["texts"]), answered


@pytest.mark.parametrize("unit", lookup.field_of(lookup.step_named("flow"), "drop").units)
def test_what_was_typed_is_shown_as_it_was_typed_whatever_the_shop_reads_in(unit):
    words = in_units_of(view("shop:rules", {"units": METRIC}), WORDS)
    lines = show.lines(lookup.step_named("flow"), {"drop": number("1.7800", unit)}, words)
    assert lines == [{"field": "drop", "label": "Restriction", "text": "1.7800 " + unit}]


def test_a_field_follows_the_pick_of_its_own_units_only():
    found = {(step.name, field.name): lookup.quantity_of(field) for step in lookup.steps() for field in step.fields}
    assert found["flow", "drop"] == found["spec", "low"] == found["instrument", "plate"] == "pressure"
    assert found["weight", "adapter_mass"] == "mass" and found["rod", "cells"] == "length" and found["spec", "flow"] == "flow"
    # a barometer stays in hPa, a check weight in what it is stamped with, a division in grams
    assert found["bench_check", "barometer"] is None and found["scale_check", "weight"] is None
    assert found["instrument", "division"] is None and found["flow", "bench"] is None
    assert lookup.quantity_of(lookup.field_of(lookup.step_named("check_in"), "odometer")) is None


def test_every_inch_of_water_is_offered_wherever_one_is():
    inches = {"inH2O", "inH2O (4 °C)", "inH2O (60 °F)"}
    for step in lookup.steps():
        for field in step.fields:
            assert not inches & set(field.units) or inches <= set(field.units), (step.name, field.name)
    assert flow("2.75", unit="inH2O (60 °F)")["drop"]["u"] in inches
