"""Scale checks against the tables of OIML R 76-1, R 111-1 and NIST Handbook 44, and what holds for every weighing."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.trade import scales
from webform.trade.scales import scale_check

III_5G = {"rule": "r76_in_service", "class": "III", "division_g": 5.0, "max_g": 50000.0}
II_1G = {"rule": "r76_initial", "class": "II", "division_g": 1.0, "max_g": 30000.0}
OWN = {"rule": "own", "class": None, "division_g": 1.0, "max_g": 30000.0, "limit_g": 3.0}
numbers = st.one_of(st.none(), st.text(max_size=2), st.booleans(), st.integers(), st.floats())


@pytest.mark.parametrize(("scale_class", "e_g", "load_g", "limit_g"), [
    # OIML R 76-1:2006 Table 6 (read in a public table extract)
    ("III", 5, 2500, 2.5), ("III", 5, 5000, 5.0), ("III", 5, 20000, 7.5), ("II", 1, 20000, 1.0), ("II", 1, 30000, 1.5),
    ("III", 5, 2505, 5.0), ("II", 1, 5000, 0.5), ("III", 5, 50000, 7.5)])
def test_r76_limits_on_initial_verification_and_twice_in_service(scale_class, e_g, load_g, limit_g):
    assert scales.limit_g("r76_initial", scale_class, e_g, load_g) == pytest.approx(limit_g, abs=1e-9)
    assert scales.limit_g("r76_in_service", scale_class, e_g, load_g) == pytest.approx(2 * limit_g, abs=1e-9)


@pytest.mark.parametrize(("d_g", "load_g", "maintenance_g", "acceptance_g"), [
    # NIST Handbook 44 section 2.20 Table 6 (from memory)
    (5, 2500, 5.0, 2.5), (5, 20000, 15.0, 7.5), (5, 10000, 10.0, 5.0), (5, 20005, 25.0, 12.5)])
def test_handbook_44_limits(d_g, load_g, maintenance_g, acceptance_g):
    found = [scales.limit_g(rule, "III", d_g, load_g) for rule in ("hb44_maintenance", "hb44_acceptance")]
    assert found == pytest.approx([maintenance_g, acceptance_g], abs=1e-9)


def test_handbook_44_in_pounds():
    # metrology forum thread on Table 6 (read): 150 lb on a scale of 0.05 lb is 3000 divisions, 0.15 lb allowed
    assert scales.divisions(150, 0.05) == 3000
    assert scales.limit_g("hb44_maintenance", "III", 0.05, 150) == pytest.approx(0.15, abs=1e-9)


def test_class_iii_has_at_most_ten_thousand_divisions():
    assert scales.most_divisions("III") == 10000  # OIML R 76-1 Table 3 (read)
    assert scales.most_divisions("II") == 100000
    assert scales.limit_g("r76_initial", "III", 1.0, 10001.0) is None


@pytest.mark.parametrize(("max_g", "division_g", "classes"), [
    # OIML R 76-1 Table 3 (read in a public table extract)
    (30000, 1, ["II"]), (50000, 5, ["II", "III"]), (3000, 1, ["III"]), (50005, 5, ["II"]), (2000, 5, []),
    (5, 0.01, ["II"]), (150000, 1, []), (20000, 3, ["II"])])
def test_which_class_a_scale_may_have(max_g, division_g, classes):
    assert scales.classes_allowed(max_g, division_g) == classes


@pytest.mark.parametrize(("max_lb", "division_lb", "is_iii"), [
    # NIST Handbook 44, 2.20 Table 3, inch-pound units, class III: 0.0002 to 0.005 lb (or 0.005 to 0.125 oz), 100 to 10 000
    # divisions; from 0.01 lb (or 0.25 oz), 500 to 10 000 (read on a page of a scale's manual that prints the table)
    (100, 0.01, True), (100, 0.02, True), (50, 0.005, True), (4, 0.01, False), (10, 0.25 / 16, True), (25, 0.125 / 16, True),
    (0.5, 0.005, True), (0.4, 0.005, False), (200, 0.01, False), (1, 0.0002, True)])
def test_handbook_44_has_a_class_iii_in_pounds(max_lb, division_lb, is_iii):
    lb = 453.59237
    assert ("III" in scales.classes_allowed(max_lb * lb, division_lb * lb, "hb44_maintenance")) is is_iii


def test_a_bench_scale_in_pounds_can_be_checked_by_handbook_44():
    # 100 lb x 0.01 lb: 20 kg are 4409 divisions, 5 of them are allowed, 0.05 lb = 22.68 g (Table 6, from memory)
    scale = {"rule": "hb44_maintenance", "class": "III", "division_g": 4.5359237, "max_g": 45359.237}
    answer = scale_check(20004.5, 20000, "M1", scale)
    assert (answer["code"], answer["limit_g"]) == ("scale.good", pytest.approx(22.6796, abs=1e-4))
    assert scale_check(20004.5, 20000, "M1", {**scale, "rule": "r76_in_service"})["code"] == "scale.class_impossible"


@pytest.mark.parametrize(("weight_class", "nominal_g", "mg"), [
    # OIML R 111-1:2004 Table 1: M1 to M3 read in a national regulation, F1 and F2 in two public reprints
    ("M1", 20000, 1000), ("M2", 5000, 800), ("M2", 20000, 3000), ("F2", 1000, 16), ("F2", 5000, 80), ("F2", 10000, 160),
    ("F2", 20000, 300), ("F2", 50000, 800), ("F1", 10000, 50), ("F1", 50000, 250), ("M3", 20000, 10000), ("M1", 100, 5)])
def test_limits_of_check_weights(weight_class, nominal_g, mg):
    assert scales.weights_limit_g([float(nominal_g)], weight_class) == pytest.approx(mg / 1000, rel=1e-12)


def test_each_class_is_about_three_times_coarser_than_the_one_before():
    for nominal_g in scales.R111_MG["F1"]:
        row = [scales.R111_MG[name][nominal_g] for name in ("F1", "F2", "M1", "M2", "M3")]
        assert all(2.9 < coarse / fine < 3.4 for fine, coarse in pairwise(row))


@pytest.mark.parametrize(("weight_mg", "scale_g", "is_enough"), [
    (1000, 1.0, False), (300, 1.0, True), (250, 5.0, True)])  # OIML R 76-1 3.7.1 (from memory)
def test_a_check_weight_has_at_most_a_third_of_the_scales_limit(weight_mg, scale_g, is_enough):
    assert scales.is_fine_enough(weight_mg / 1000, scale_g) is is_enough


def test_a_sound_bench_scale_passes_with_a_common_weight():
    answer = scale_check(20005, 20000, "M1", III_5G)  # 4000 e: 1.5 e, twice in service, 15 g; weight 1 g
    assert answer == {"ok": True, "code": "scale.good", "error_g": 5.0, "limit_g": 15.0, "weight_limit_g": 1.0,
                      "divisions": 4000.0, "problems": []}


def test_a_scale_at_its_limit_passes_and_one_step_beyond_is_out():
    assert scale_check(20015, 20000, "M1", III_5G)["ok"]
    answer = scale_check(19980, 20000, "M1", III_5G)
    assert (answer["ok"], answer["code"], answer["error_g"]) == (False, "scale.out", -20.0)


def test_a_stack_of_weights_adds_their_limits():
    answer = scale_check(25005, [20000, 5000], "M1", III_5G)
    assert (answer["weight_limit_g"], answer["divisions"]) == (1.25, 5000.0)


@pytest.mark.parametrize(("shown_g", "code", "is_ok"), [
    (20000.0, "scale.good_coarse_weight", True), (20001.0, "scale.weight_too_coarse", False), (20003.0, "scale.out", False)])
def test_a_coarse_weight_proves_only_what_its_own_error_cannot_turn(shown_g, code, is_ok):
    answer = scale_check(shown_g, 20000, "M1", II_1G)  # limit 1.0 g, weight 1.0 g
    assert (answer["code"], answer["ok"]) == (code, is_ok)


def test_a_finer_weight_settles_it():
    assert scale_check(20001.0, 20000, "F2", II_1G)["code"] == "scale.good"


def test_a_scale_checked_against_its_own_limit():
    assert scale_check(10002, 10000, "M1", OWN)["code"] == "scale.good"
    assert scale_check(10004, 10000, "M1", OWN)["code"] == "scale.out"
    assert scale_check(10002, 10000, "M1", {**OWN, "limit_g": None})["code"] == "scale.bad_data"


def test_a_home_made_weight_counts_as_well_as_it_is_known():
    assert scale_check(12345, 12345, "block", OWN)["problems"] == ["scale.unknown_weight"]
    assert scale_check(12345, 12345, "block", OWN, known_within_g=0.5)["ok"]


def test_a_thirty_kilogram_scale_of_one_gram_cannot_be_class_iii():
    answer = scale_check(20000, 20000, "F2", {**II_1G, "class": "III"})
    assert answer["problems"] == ["scale.class_impossible", "scale.beyond_class"] and answer["limit_g"] is None


def test_every_problem_is_named():
    answer = scale_check(60000, 60000, "M1", III_5G)
    assert answer["problems"] == ["scale.beyond_max", "scale.beyond_class", "scale.unknown_weight"]


@pytest.mark.parametrize("change", [{"rule": "r76"}, {"class": "I"}, {"division_g": 0}, {"max_g": None}])
def test_a_scale_with_unusable_data_is_refused(change):
    assert scale_check(20000, 20000, "M1", {**III_5G, **change})["code"] == "scale.bad_data"


@pytest.mark.parametrize(("shown", "weight"), [(None, 20000), (20000, None), (20000, [5000, 0]), (20000, [])])
def test_a_weighing_that_cannot_be_read_is_refused(shown, weight):
    assert scale_check(shown, weight, "M1", III_5G)["code"] == "scale.bad_data"


@given(numbers, st.one_of(numbers, st.lists(numbers, max_size=3)), st.sampled_from(["M1", "F2", "x"]),
       st.fixed_dictionaries({}, optional={
           "rule": st.sampled_from([*scales.RULES, "x"]), "class": st.sampled_from(["II", "III", "I"]),
           "division_g": numbers, "max_g": numbers, "limit_g": numbers}), numbers)
def test_every_check_has_an_answer(shown, weight, weight_class, scale, known):
    answer = scale_check(shown, weight, weight_class, scale, known)
    assert answer["code"] and answer["ok"] == (not answer["problems"])
    assert all(answer[name] is None or math.isfinite(answer[name]) for name in ("error_g", "limit_g", "divisions"))


@given(st.sampled_from([rule for rule in scales.RULES if rule != "own"]), st.sampled_from(["II", "III"]),
       st.sampled_from([1.0, 2.0, 5.0]), st.floats(1, 40000), st.floats(0, 5000))
def test_the_limit_never_falls_with_the_load(rule, scale_class, division_g, load_g, more_g):
    here, there = (scales.limit_g(rule, scale_class, division_g, load) for load in (load_g, load_g + more_g))
    assert there is None or here <= there


@given(st.floats(19900, 20100), st.floats(0, 50))
def test_a_larger_error_never_makes_a_scale_good(shown_g, more_g):
    if not scale_check(shown_g, 20000, "M1", III_5G)["ok"]:
        further = shown_g + more_g if shown_g > 20000 else shown_g - more_g
        assert not scale_check(further, 20000, "M1", III_5G)["ok"]
