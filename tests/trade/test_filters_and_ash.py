"""Whole filters whose story is in the weight: rounds, what is left inside, ash against oil, the next service, water.

Invented readings, common practice; each figure by a pocket calculator. What the scale can tell is 2 x √2 x 5 g = 14.1 g.
"""

import pytest

from tests.trade.readings import VISUAL, after, before, codes, flow, good, rod, rounds, told, value, weight
from webform.trade.judge import judge

BRICK = {"depth_m": 0.305, "shape": "round", "long_m": 0.267, "short_m": None, "cells_per_in2": 200.0, "wall_m": 0.0003}


def steps(*pairs):
    """Rounds from pairs of method and mass after it."""
    done = []
    for method, mass in pairs:
        done += rounds(mass, method=method)
    return done


def round_codes(verdict):
    """The codes of the rounds, in their order."""
    return [code for code in codes(verdict, "findings") if code in (
        "round_soot", "round_ash", "round_mixed", "round_nothing", "round_heavier")]


def test_many_rounds_with_diminishing_returns_end_in_a_pass_and_the_word_that_another_is_not_worth_it():
    done = steps(("oven", 14350.0), ("air", 14090.0), ("wash", 14010.0), ("air", 13998.0))
    last = judge(after(good(weight=weight(13998), flow=flow(1.86)), {"weight": weight(15200), "flow": flow(3.40)}, done))
    assert last["verdict"] == "ok_to_reinstall"
    # 15,200 - 14,350 = 850 soot; 14,350 - 14,090 = 260 and 14,090 - 14,010 = 80 ash; 12 g is no more than the scale tells.
    assert round_codes(last) == ["round_soot", "round_ash", "round_ash", "round_nothing"]
    assert [reason["values"]["removed_g"] for reason in last["findings"] if reason["code"] == "round_ash"] == [260.0, 80.0]
    assert value(last, "round_not_worth", "removed_g") == 12.0
    assert value(last, "removed_after_oven", "removed_g") == 1202.0  # 15,200 - 13,998


def test_the_same_filter_still_sooty_after_the_last_round_is_a_person_s_decision():
    done = steps(("oven", 14350.0), ("air", 14090.0), ("air", 14078.0))
    soft = rod((5, "soft", 250), (19, "free", None))
    last = judge(after(good(weight=weight(14078), rod=soft), {"weight": weight(15200)}, done))
    assert (last["verdict"], codes(last), codes(last, "settle")) == ("hold", ["soft_loading"], ["settle_person_decides"])


def test_air_before_the_oven_took_soot_and_ash_together_and_counts_as_neither():
    done = steps(("air", 14200.0), ("oven", 13900.0), ("air", 13780.0))
    last = judge(after(good(), {"weight": weight(14480)}, done, use={"oil_l": 15.0, "category": "CK-4"}))
    assert round_codes(last) == ["round_mixed", "round_soot", "round_ash"]
    # Only 13,900 - 13,780 = 120 g are ash. Oil: 15 L x 860 g/L x 1 % x 0.8 = 103.2 g.
    assert (value(last, "ash_as_expected", "removed_g"), value(last, "ash_as_expected", "expected_g")) == (120.0, 103.0)


def test_one_oven_alone_takes_soot_and_tells_nothing_of_ash():
    last = judge(after(good(), {"weight": weight(14480)}, steps(("oven", 13780.0)), use={"oil_l": 15.0, "category": "CK-4"}))
    assert round_codes(last) == [], "of one round the whole tells"
    assert "removed" in codes(last, "findings") and "removed_after_oven" not in codes(last, "findings")
    assert not [code for code in codes(last, "findings") if code.startswith("ash_")]


def test_heavier_after_although_called_cold_and_dry_is_held_as_water():
    # 13,960 - 13,930 = 30 g heavier, more than 14.1 g.
    done = judge(after(good(weight=weight(13960)), {"weight": weight(13930)}))
    assert (done["verdict"], codes(done), codes(done, "settle")) == (
        "hold", ["heavier_after"], ["settle_dry_and_cool"])
    assert value(done, "heavier_after", "margin_g") == 15.9


def test_a_round_that_made_it_heavier_is_named_as_such_and_not_as_ash():
    done = judge(after(good(weight=weight(13760)), {"weight": weight(14480)},
                       steps(("oven", 13700.0), ("wash", 13760.0))))
    assert round_codes(done) == ["round_soot", "round_heavier"]
    assert told(done, "round_heavier") == (
        "After round 2 (wash) it was 60 g heavier: water, or something else was fitted. Weigh it again, cold and dry.")


def test_a_restriction_that_fell_while_no_weight_came_off_is_asked_about_and_condemns_nothing():
    # 3.00 - 1.80 = 1.20 inH2O = 298.9 Pa; 13,900 - 13,895 = 5 g, less than 14.1 g.
    done = judge(after(good(flow=flow(1.80), weight=weight(13895)), {"flow": flow(3.00), "weight": weight(13900)}))
    assert (done["verdict"], value(done, "fell_without_weight", "fell_pa")) == ("ok_to_reinstall", 298.9)
    assert told(done, "fell_without_weight") == (
        "The restriction fell by 1.20 inH2O (3.00 inH2O to 1.80 inH2O), yet hardly any weight came off (5 g). Look at "
        "seal, bench and scale again.")
    # 15 g are more than the scale's doubt, and 2.00 to 1.85 inH2O is less than a tenth.
    for found in ({"flow": flow(3.00), "weight": weight(13910)}, {"flow": flow(2.00), "weight": weight(13900)},
                  {"flow": flow(3.00), "weight": weight(13900, "warm")}, {"flow": {"skipped": "other"}}):
        other = judge(after(good(flow=flow(1.85), weight=weight(13895)), found))
        assert "fell_without_weight" not in codes(other, "findings")


def test_the_filter_s_own_last_weight_is_what_remains_is_told_against():
    own = judge(after(good(), {"weight": weight(14480)}, reference={"mass_g": 13640.0, "origin": "own"}))
    assert (own["verdict"], value(own, "mass_left", "left_g")) == ("ok_to_reinstall", 140.0)  # 13,780 - 13,640
    assert told(own, "mass_left") == (
        "It weighs 13780 g, 140 g above its own last weight after cleaning (13640 g). Weight alone condemns nothing.")
    model = judge(after(good(), {"weight": weight(14480)}, reference={"mass_g": 13900.0, "origin": "model"}))
    assert (model["verdict"], value(model, "mass_below", "left_g")) == ("ok_to_reinstall", 120.0)
    for unusable in ({"mass_g": None, "origin": "own"}, None, "heavy"):
        found = judge(after(good(), {"weight": weight(14480)}, reference=unusable))
        assert not [code for code in codes(found, "findings") if code.startswith("mass_")]


BURNT = steps(("oven", 14000.0), ("air", 13520.0))


def test_ash_far_above_what_the_oil_explains_asks_the_owner_and_condemns_nothing():
    # 20 L x 860 g/L x 1.0 % x 0.8 = 137.6 g. Upwards: oil 1.3, density 1.02, laboratory 1.2, reaching 1.25; logarithms
    # 0.2624, 0.0198, 0.1823, 0.2231; root of squares 0.3902; e^0.3902 = 1.477: 203 g. Downwards 0.7, 0.98, 0.8, 0.75
    # (the ceiling), 0.75: 0.3567, 0.0202, 0.2231, 0.2877, 0.2877; 0.5856; e^-0.5856 = 0.557: 77 g.
    use = {"hours": None, "distance_km": None, "oil_l": 20.0, "category": "CK-4", "ash_percent": None}
    done = judge(after(good(weight=weight(13520)), {"weight": weight(14600)}, BURNT, use=use))
    assert done["verdict"] == "ok_to_reinstall"
    assert value(done, "ash_more", "removed_g") == 480.0  # 14,000 - 13,520
    assert (value(done, "ash_more", "least_g"), value(done, "ash_more", "most_g")) == (77.0, 203.0)
    assert [code for code in codes(done, "findings") if code.startswith("ask_")] == [
        "ask_oil_burning", "ask_additive", "ask_turbo", "ask_injector", "ask_coolant", "ask_wrong_oil"]
    # A high-ash oil of 2 % is the first question.
    high = judge(after(good(weight=weight(13520)), {}, BURNT, use={**use, "category": "E4"}))
    assert next(code for code in codes(high, "findings") if code.startswith("ask_")) == "ask_wrong_oil"


def test_ash_far_below_what_the_oil_explains_asks_where_it_went():
    # 200 L x 860 x 1.0 % x 0.8 = 1376 g, of which 0.557 = 766 g at least; 480 + 14.1 g are less.
    done = judge(after(good(weight=weight(13520)), {}, BURNT, use={"oil_l": 200.0, "category": "CK-4"}))
    assert (done["verdict"], value(done, "ash_less", "least_g")) == ("ok_to_reinstall", 766.0)
    assert [code for code in codes(done, "findings") if code.startswith("ask_")] == [
        "ask_left_inside", "ask_leak", "ask_cleaned_before", "ask_oil_leaked", "ask_use_wrong"]


def test_the_next_service_is_forecast_from_what_came_out():
    # Face π/4 x 0.267² = 0.05599 m²; x 0.305 = 17.077 L. Pitch 25.4/√200 = 1.79605 mm; (1 - 0.30/1.79605)² = 0.69383;
    # half: 5.924 L of inlets; a quarter of them at 0.30 g/cm³: 444.3 g.
    # 300 g in 5000 h: 5000 x 444.3/300 = 7405. Down: 300/314.1 = 0.9550 and 0.8: logarithms 0.0461, 0.2231; 0.2278;
    # 0.7963: 5896. Up: 300/285.9 = 1.0495 and 1.25: 0.0483, 0.2231; 0.2283; 1.2565: 9304. Two leading digits are told.
    done = steps(("oven", 14080.0), ("air", 13780.0))
    used = {"hours": 5000.0, "distance_km": 200000.0, "oil_l": None, "category": None, "ash_percent": None}
    last = judge(after(good(), {"weight": weight(14480)}, done, brick=BRICK, use=used))
    assert told(last, "next_service") == (
        "Next cleaning in about 7400 h (between 5900 and 9300 h), at the same use and oil.")
    # Without the hours the distance counts: 200,000 x 444.3/300 = 296,200 km.
    driven = judge(after(good(), {}, done, brick=BRICK, use={**used, "hours": 0.0}))
    assert (value(driven, "next_service", "mid"), value(driven, "next_service", "unit")) == (300000.0, "km")


def test_a_forecast_from_next_to_no_ash_says_only_not_before():
    # 10 g out, at most 24.1: 5000 x 444.3/10 = 222,150 h; 10/24.1 = 0.4142 and 0.8: 0.8813, 0.2231; 0.9091; 0.4029:
    # 89,500 h, told as 90,000 or 89,000.
    done = steps(("oven", 13790.0), ("air", 13780.0))
    last = judge(after(good(), {}, done, brick=BRICK, use={"hours": 5000.0}))
    assert value(last, "next_service_open", "low") == pytest.approx(89500, abs=500)
    assert told(last, "next_service_open").startswith("Next cleaning not before about ")
    unburnt = judge(after(good(), {}, steps(("air", 13780.0)), brick=BRICK, use={"hours": 5000.0}))
    assert not [code for code in codes(unburnt, "findings") if code.startswith("next_")]


@pytest.mark.parametrize(("depth_mm", "code"), [(230, "rod_agrees"), (60, "rod_gained_more"), (290, "rod_gained_less")])
def test_the_depth_that_the_rod_gained_stands_beside_the_ash_that_came_out(depth_mm, code):
    # 5.924 L of inlets hold 5924 x 0.30 = 1777 g in all. 600 g of ash: at least (600 - 14.1)/(5924 x 0.45)/2 = 11.0 %,
    # at most 614.1/(5924 x 0.17) = 61.0 %; 5 points either way are allowed for.
    # Gained: 1 - 230/305 = 24.6 %; 1 - 60/305 = 80.3 %; 1 - 290/305 = 4.9 %, less than 11.0 - 5.
    found = {"weight": weight(14700), "rod": rod((24, "hard", depth_mm), full_mm=305)}
    done = steps(("oven", 14380.0), ("air", 13780.0))
    last = judge(after(good(rod=rod((24, "free", None), full_mm=305)), found, done, brick=BRICK))
    assert (last["verdict"], code in codes(last, "findings")) == ("ok_to_reinstall", True)
    assert value(last, code, "low_fraction") == pytest.approx(0.110, abs=0.0005)
    assert value(last, code, "high_fraction") == pytest.approx(0.610, abs=0.0005)


def test_a_rod_that_goes_less_deep_after_cleaning_is_told_so_without_a_minus():
    # Found free, now 20 of 24 cells blocked by (305 - 275)/305 = 0.0984: 0.0820 of the depth lost, 600 g of ash out.
    done = steps(("oven", 14380.0), ("air", 13780.0))
    now = rod((20, "hard", 275), (4, "free", None), full_mm=305)
    last = judge(after(good(rod=now), {"rod": rod((24, "free", None), full_mm=305)}, done, brick=BRICK))
    assert told(last, "rod_lost") == (
        "The rod goes less deep than before cleaning, by 8 % of the depth, although 600 g of ash came out. "
        "Look at both again.")


def test_rod_and_ash_are_not_compared_where_one_of_them_is_missing():
    done = steps(("oven", 14380.0), ("air", 13780.0))
    for found, rounds_done in (({"rod": None}, done), ({"rod": {"skipped": "other"}}, done),
                               ({"rod": rod((5, "end_plug", None))}, done), ({"rod": rod((24, "hard", 700))}, done),
                               ({"rod": rod((24, "hard", 100))}, done[1:])):
        last = judge(after(good(), found, rounds_done, brick=BRICK))
        assert not [code for code in codes(last, "findings") if code in ("rod_agrees", "rod_gained_more", "rod_gained_less")]


def test_an_oil_wet_filter_is_washed_before_any_oven_and_then_passed():
    # As found: 15,900 g with the oil in it, soft at 180 of 290 mm: 110/290 = 0.3793.
    oily = {"visual": {**VISUAL, "wet": "oil"}, "weight": weight(15900, moisture="wet"), "rod": rod((24, "soft", 180)),
            "light": {"kind": "none", "lit": "none", "count": None}, "flow": flow(2.60)}
    found = judge(before(oily))
    assert (found["verdict"], codes(found)) == ("clean", ["oily_before", "soft_loading", "flow_above"])
    assert told(found, "oily_before") == "Wet with oil: drain and wash it first, never straight into an oven."
    done = judge(after(good(), oily, steps(("wash", 14210.0), ("oven", 13850.0), ("air", 13780.0))))
    # The wet weight as found is no base: round 1 is not told, 14,210 - 13,850 = 360 g soot, 70 g ash.
    assert (done["verdict"], round_codes(done)) == ("ok_to_reinstall", ["round_soot", "round_ash"])


@pytest.mark.parametrize("wet", ["oil", "fuel", "coolant"])
def test_nothing_wet_with_oil_fuel_or_coolant_is_passed_as_found(wet):
    assert judge(before(good(visual={**VISUAL, "wet": wet})))["verdict"] == "clean"


def test_a_filter_wet_with_water_is_dried_before_it_can_be_passed_as_found():
    found = judge(before(good(visual={**VISUAL, "wet": "water"})))
    assert (found["verdict"], codes(found), codes(found, "settle")) == ("hold", ["wet_before"], ["settle_dry_and_cool"])


def test_a_round_whose_method_was_not_entered_is_told_as_such():
    done = judge(after(good(), {"weight": weight(14480)}, steps((None, 13780.0), ("air", 13780.0))))
    assert told(done, "round_mixed").startswith("Round 1 (method not entered) took off 700 g")


# --- what hung on it --------------------------------------------------------------------------------------------------

SENSORS = {"left_on": ["sensors"]}


def test_heavier_with_other_things_on_it_is_weighed_again_and_not_called_water():
    # 13,700 g bare as found, 14,300 g now with the sensors: 600 g more, 14.1 g is the scale.
    done = judge(after(good(weight={**weight(14300), **SENSORS}), {"weight": weight(13700)}))
    assert (done["verdict"], codes(done), codes(done, "settle")) == ("hold", ["heavier_fitted"], ["settle_weigh_alike"])
    assert value(done, "heavier_fitted", "margin_g") == 585.9  # 600 - 14.1
    alike = judge(after(good(weight={**weight(14300), **SENSORS}), {"weight": {**weight(13700), **SENSORS}}))
    assert codes(alike) == ["heavier_after"]


def test_a_last_weighing_with_other_things_on_it_does_not_say_that_another_round_is_useless():
    # 14,100 g bare after the first round, 14,700 g at the end with the sensors on: -600 g is no yield of a round.
    high = good(flow=flow(2.30), weight={**weight(14700), **SENSORS})
    done = judge(after(high, {"weight": {**weight(15200), **SENSORS}}, steps(("oven", 14100.0), ("air", None))))
    assert (done["verdict"], "round_not_worth" in codes(done, "findings")) == ("clean_again", False)
    assert "round_heavier" not in codes(done, "findings")
    # With the same things on it after both, 14,708 - 14,700 = 8 g: not worth another, and 2.30 is above 2.00.
    alike = steps(("oven", 14708.0), ("air", None))
    alike[0].update(SENSORS)
    assert judge(after(high, {"weight": {**weight(15200), **SENSORS}}, alike))["verdict"] == "replace"
    # Heavier, cold and dry, by 40 g: something is wrong with the weighing, so it ends nothing either.
    odd = judge(after(good(flow=flow(2.30), weight=weight(14140)), {}, steps(("oven", 14100.0), ("air", None))))
    assert odd["verdict"] == "clean_again"


def test_what_hangs_on_it_is_not_told_as_ash_nor_as_what_remains():
    bare = {"mass_g": 13500.0, "origin": "model"}
    done = steps(("oven", 14100.0), ("air", 13780.0))
    use = {"oil_l": 15.0, "category": "CK-4"}
    fitted = judge(after(good(weight={**weight(13780), **SENSORS}), {"weight": {**weight(14480), **SENSORS}}, done,
                         reference=bare, use=use))
    told_of = set(codes(fitted, "findings"))
    assert not {"mass_left", "round_ash", "ash_as_expected", "ash_more", "ash_less"} & told_of
    same = judge(after(good(weight={**weight(13780), **SENSORS}), {}, reference={**bare, **SENSORS}))
    assert value(same, "mass_left", "left_g") == 280.0  # 13,780 - 13,500


def test_what_came_off_is_told_with_its_uncertainty_and_only_of_a_cold_dry_weighing():
    done = judge(after(good(), {"weight": weight(14480)}))
    assert told(done, "removed") == "700 g (± 14.1 g) came off (14480 g to 13780 g): soot, ash and water together."
    warm = judge(after(good(weight=weight(13780, "warm")), {"weight": weight(14480)}))
    assert (warm["verdict"], "removed" in codes(warm, "findings")) == ("hold", False)


def test_rounds_that_nobody_weighed_are_told_together_with_the_next_one():
    # Found 14,480 g, oven and air not weighed, 13,780 g after the wash: 700 g of all three, the burn's soot among them.
    unweighed = judge(after(good(), {"weight": weight(14480)}, steps(("oven", None), ("air", None), ("wash", 13780.0))))
    assert told(unweighed, "rounds_together") == (
        "Rounds 1 to 3 together took off 700 g (± 14.1 g): soot, ash and water, as nobody weighed in between.")
    assert "round_ash" not in codes(unweighed, "findings")
    # Weighed after the burn, 14,100 g, then only at the end: 320 g of rounds 2 and 3, all of it ash.
    burnt = judge(after(good(), {"weight": weight(14480)}, steps(("oven", 14100.0), ("air", None), ("wash", 13780.0))))
    assert value(burnt, "round_soot", "removed_g") == 380.0
    assert (value(burnt, "rounds_ash", "removed_g"), value(burnt, "rounds_ash", "first")) == (320.0, 2)
