"""What hangs on the filter while it is weighed: each part taken off by its own weight, old records counted as they are.

Masses invented, sums by hand. The uncertainty of a difference by GUM (JCGM 100:2008) 5.1.2: n readings of one scale, each
5 g (the shop's starting value), give √n x 5 g, and twice that is told: 2 x √2 x 5 = 14.14, 2 x √3 x 5 = 17.32,
2 x √4 x 5 = 20.00, 2 x √6 x 5 = 24.49 g.
"""

import itertools

import pytest

from tests.checklist.test_case import A_BEFORE, GOOD_AFTER, round_of
from tests.checklist.views import FILTER, KIM, MODEL, book, number, view, weight
from tests.trade.readings import after, codes, good, told, value
from tests.trade.readings import weight as net
from webform.checklist import check, show
from webform.checklist.book import Book
from webform.checklist.case import job_state
from webform.checklist.check import problems, refusal
from webform.checklist.fitted import left_on
from webform.checklist.given import case_of, rules_of
from webform.checklist.lookup import step_named
from webform.trade.judge import judge
from webform.trade.remains import burnt_and_last, weighings_of
from webform.trade.rules import START, Table
from webform.trade.weight import least_change_g, readings_between

STEP = step_named("weight")
PARTS = {"adapter_mass": number("1.2", "kg"), "clamps_mass": number("400", "g"), "sensors_mass": number("0.5", "lb")}


def weighed(grams, *fitted, **masses):
    """A weighing with what was fitted and what of it was weighed."""
    return {**weight(grams), "fitted": sorted(fitted), **masses}


def given(values, slot="before.weight"):
    """What the calculation is given of a weighing."""
    views = book(view("job:j", {"filter": "filter:f", slot: values}), FILTER, MODEL)
    made = Book("job:j", views)
    return case_of(made, "after", rules_of(made))["before" if slot.startswith("before") else "readings"]["weight"]


def test_each_part_that_is_ticked_is_taken_off():
    # 16,306.8 - 1,200 - 400 - 0.5 x 453.59237 = 14,480.0
    found = given(weighed("16306.8", "adapter", "clamps", "sensors", **PARTS))
    assert found["mass_g"] == pytest.approx(14480.004, abs=1e-3)
    assert [part["part"] for part in found["parts"]] == ["adapter", "clamps", "sensors"]
    # a part that is not ticked was not on the scale, whatever stands in its field
    assert given(weighed("16306.8", "adapter", **PARTS))["mass_g"] == pytest.approx(15106.8)
    assert "parts" not in given(weighed("16306.8", "adapter", "clamps")) and "parts" not in given(weight("14480"))


def test_a_weight_typed_before_the_parts_had_fields_counts_as_it_did():
    old = weighed("15680", "adapter", "clamps", fitted_mass=number("1200", "g"))
    assert problems(STEP, old) == [] and refusal({"schema": 1, "kind": "job", "set": {"before.weight": old}}) is None
    assert given(old)["mass_g"] == pytest.approx(14480.0)
    assert {"field": "fitted_mass", "label": "Weight of all that is fitted", "text": "1200 g"} in show.lines(STEP, old)
    assert given(weighed("15680", fitted_mass=number("1200", "g")))["mass_g"] == pytest.approx(15680.0)  # nothing was fitted


@pytest.mark.parametrize(("values", "field", "code"), [
    (weighed("1500", "adapter", "clamps", adapter_mass=number("1.2", "kg"), clamps_mass=number("300", "g")), "clamps_mass",
     "answer.fitted_heavier"),
    (weighed("1500", "adapter", adapter_mass=number("1.5", "kg")), "adapter_mass", "answer.fitted_heavier"),
    (weighed("900", "clamps", fitted_mass=number("900", "g")), "fitted_mass", "answer.fitted_heavier"),
    (weighed("15000", "adapter", adapter_mass=number("1.2", "kg"), fitted_mass=number("1.2", "kg")), "fitted_mass",
     "answer.fitted_twice"),
    (weighed("15000", "adapter", adapter_mass=number("31", "kg")), "adapter_mass", "answer.too_large_other_unit")])
def test_what_cannot_be_is_said_at_its_field(values, field, code):
    assert [(problem["field"], problem["code"]) for problem in problems(STEP, values)] == [(field, code)]


def test_parts_that_fit_bring_no_problem():
    assert problems(STEP, weighed("16306", "adapter", "clamps", "sensors", **PARTS)) == []
    # the clamps stayed on, unweighed
    assert problems(STEP, weighed("16306", "adapter", "clamps", adapter_mass=number("1.2", "kg"))) == []
    assert problems(STEP, {"fitted": ["adapter"], "adapter_mass": number("1.2", "kg")}, is_complete=False) == []


def test_only_what_is_ticked_is_asked_for():
    fields = {field.name: field for field in STEP.fields}
    parts = ("adapter", "clamps", "sensors")
    for ticked in itertools.chain.from_iterable(itertools.combinations(parts, count) for count in range(4)):
        assert left_on({"fitted": list(ticked)}) == list(ticked)
        asked = [name for name in fields if name.endswith("_mass") and not fields[name].is_former
                 and check.is_asked(fields[name], {"fitted": list(ticked)})]
        assert asked == [part + "_mass" for part in ticked]


ADAPTER, CLAMPS = {"part": "adapter", "mass_g": 1200.0}, {"part": "clamps", "mass_g": 400.0}
OTHER = {"part": "adapter", "mass_g": 1203.0}


@pytest.mark.parametrize(("first", "second", "readings", "least_g"), [
    ([], [], 2, 14.142), ([ADAPTER], [], 3, 17.321), ([], [ADAPTER, CLAMPS], 4, 20.0), ([ADAPTER], [OTHER], 4, 20.0),
    ([ADAPTER, CLAMPS], [OTHER, {"part": "clamps", "mass_g": 401.0}], 6, 24.495),
    ([ADAPTER], [ADAPTER], 2, 14.142),  # the same was taken off twice: it cancels
    ([ADAPTER], [{"part": "adapter", "mass_g": 1200.00000001}], 2, 14.142),  # typed in pounds, the same all the same
    ([ADAPTER], [{"part": "clamps", "mass_g": 1200.0}], 4, 20.0)])
def test_each_weighing_enters_the_uncertainty_once(first, second, readings, least_g):
    one, other = {"parts": first}, {"parts": second}
    assert readings_between(one, other) == readings_between(other, one) == readings
    assert least_change_g(Table(START), one, other) == pytest.approx(least_g, abs=1e-3)


@pytest.mark.parametrize("broken", [
    None, {}, {"parts": None}, {"parts": "adapter"}, {"parts": ["adapter", {"part": "adapter"}]}])
def test_a_weighing_without_readable_parts_counts_as_one_reading(broken):
    assert readings_between(broken, {"parts": [ADAPTER]}) == 3 and readings_between(broken, None) == 2


def test_water_is_told_apart_from_the_doubt_of_more_weighings():
    # 16 g heavier: above 14.1 g for two weighings, within 17.3 g for three
    found, now = net(13764), net(13780)
    plain = judge(after(good(weight=now), {"weight": found}))
    assert (plain["verdict"], value(plain, "heavier_after", "limit_g")) == ("hold", 14.1)
    netted = judge(after(good(weight={**now, "parts": [ADAPTER]}), {"weight": found}))
    assert netted["verdict"] == "ok_to_reinstall" and "heavier_after" not in codes(netted)


def test_other_things_fitted_and_never_weighed_are_told_and_no_removal_is():
    def now_with(*fitted, grams="13780", **masses):
        fields = {**A_BEFORE, **GOOD_AFTER, "before.weight": weighed("15680", "adapter", "clamps"),
                  "after.weight": weighed(grams, *fitted, **masses)}
        state = job_state("job:j", book(view("job:j", {"filter": "filter:f", **fields}), FILTER, MODEL, KIM,
                                        round_of("1", 5)))
        assert state["verdict"] == ("ok_to_reinstall" if grams == "13780" else "hold")
        return codes(state["after"], "findings")

    assert "removed" in now_with("adapter", "clamps")  # the same things stayed on
    for fitted, masses in (((), {}), (("adapter",), {}), (("adapter", "clamps"), {"clamps_mass": number("400", "g")})):
        found = now_with(*fitted, **masses)
        assert "fitted_differs" in found and "removed" not in found
    assert "fitted_differs" in now_with("adapter", "clamps", "sensors", grams="16000")  # heavier: still a question
    both = {"adapter_mass": number("1.5", "kg"), "clamps_mass": number("400", "g")}
    assert "fitted_differs" in now_with("adapter", "clamps", **both)  # they hung on it before, and were not weighed then
    assert given(weighed("15680", "adapter", "clamps", fitted_mass=number("1200", "g"))).get("left_on") is None
    assert given(weighed("15680", "clamps", "adapter"))["left_on"] == ["adapter", "clamps"]


def test_another_round_is_worth_it_only_beyond_the_doubt_of_its_weighings():
    # 22 g came off: worth it above 20 g, yet not above 2 x √6 x 5 = 24.5 g
    hard = {"depth_m": 0.145, "short_m": None}
    rodded = {"full_depth_m": 0.29, "cells": [{"feel": "soft", **hard}] * 24}
    rounds = [{"method": "oven", "minutes": 60.0, "temperature_k": 873.15, "mass_g": mass_g} for mass_g in (13822.0, 13800.0)]
    plain = judge(after(good(rod=rodded, weight=net(13800)), {"weight": net(14000)}, rounds))
    assert "round_not_worth" not in codes(plain, "findings") and plain["verdict"] == "clean_again"
    rounds[0]["parts"] = [ADAPTER, CLAMPS]
    other = [OTHER, {"part": "clamps", "mass_g": 402.0}]
    doubtful = judge(after(good(rod=rodded, weight={**net(13800), "parts": other}), {"weight": net(14000)}, rounds))
    assert value(doubtful, "round_not_worth", "limit_g") == 24.5
    assert "took off 22 g, no more than the scale can tell (24.5 g)" in told(doubtful, "round_nothing")


def test_ash_carries_the_doubt_of_the_two_weighings_that_tell_it():
    # as found, after the burn with the adapter on, after air without a weight, at the end without anything: 3 readings
    rounds = [{"method": "oven", "minutes": 60.0, "temperature_k": 873.15, "mass_g": 13900.0, "parts": [ADAPTER]},
              {"method": "air", "minutes": 20.0, "temperature_k": None, "mass_g": None}]
    case = after(good(weight=net(13700)), {"weight": {**net(14480), "parts": [CLAMPS]}}, rounds)
    burnt, last = burnt_and_last(weighings_of(case))
    assert (burnt["mass_g"], last["mass_g"], readings_between(burnt, last)) == (13900.0, 13700.0, 3)
    assert burnt_and_last(weighings_of({**case, "rounds": rounds[1:]})) == []  # nothing was burnt
    assert [entry["mass_g"] for entry in burnt_and_last(weighings_of({**case, "rounds": rounds[:1]}))] == [13700.0]


def test_the_same_job_in_any_unit_of_mass_is_judged_alike():
    # 2 lb = 907.18474 g, to fifteen digits in each unit
    def job(unit):
        mass, part, last = {"g": ("15387.18474", "907.18474", "14687.18474"),
                            "kg": ("15.38718474", "0.90718474", "14.68718474"),
                            "lb": ("33.9229356172", "2", "32.3796902472")}[unit]
        fields = {**A_BEFORE, **GOOD_AFTER}
        for name, whole in (("before.weight", mass), ("after.weight", last)):
            fields[name] = {"mass": number(whole, unit), "fitted": ["adapter"], "adapter_mass": number(part, unit),
                            "temperature": "cold", "moisture": "dry"}
        done = view("job:j", {"filter": "filter:f", **fields})
        state = job_state("job:j", book(done, FILTER, MODEL, KIM, round_of("1", 5)))
        return [state[name] for name in ("verdict", "before", "after", "is_close")]

    assert job("g") == job("kg") == job("lb")
    assert job("g")[0] == "ok_to_reinstall"


def test_what_hung_unweighed_on_it_goes_along_with_rounds_and_with_its_own_last_weight():
    bare, hung = weight("13800"), weighed("14200", "clamps")
    jobs = [view("job:j", {"filter": "filter:f", **A_BEFORE, **GOOD_AFTER, "after.weight": hung}),
            round_of("1", 5, after=hung), round_of("2", 6, method="air", after=bare)]
    made = Book("job:j", book(*jobs, FILTER, MODEL, KIM))
    case = case_of(made, "after", rules_of(made))
    assert [entry.get("left_on") for entry in case["rounds"]] == [["clamps"], None]
    # 14,200 g with the clamps, 13,800 g bare, 14,200 g with them again: no round is told by 400 g of clamps.
    told_of = codes(judge(case), "findings")
    assert not {"round_soot", "round_ash", "round_heavier", "round_mixed"} & set(told_of)
