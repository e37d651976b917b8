"""What the report says for whole jobs. The readings are invented; the verdicts are common practice, no source."""

import pytest

from tests.checklist.views import MODEL, answer, flow, number, rod, view, weight
from tests.report.filters import (
    A_AFTER,
    A_BEFORE,
    A_ROUND,
    C_AFTER,
    C_ROUNDS,
    WORDS,
    job,
    report,
    round_of,
)
from webform.checklist import declaration, shapes
from webform.checklist.case import basis_of
from webform.report.content import content, when

OK = "ok_to_reinstall"


def texts(stage, part="reasons"):
    return [entry["text"] for entry in stage[part]]


def row_of(made, title, label):
    test = next(test for test in made["table"] if test["title"] == title)
    return next(row for row in test["rows"] if row["label"] == label)


def facts(made):
    return {fact["label"]: fact["text"] for fact in made["facts"]}


def test_filter_a_is_clean_as_found_and_ok_after_cleaning():
    made = report({**A_BEFORE, **A_AFTER}, A_ROUND, signed=OK)
    assert made["verdict"]["word"] == "OK to reinstall"
    assert [(stage["title"], stage["word"]) for stage in made["stages"]] == [
        ("As found", "Needs cleaning"), ("After cleaning", "OK to reinstall")]  # "Clean" beside "As found" says the opposite
    assert made["status"]["code"] == "final"
    # 14,480 - 13,780 = 700 g
    assert made["removed"] == {"figure": "700 g came off", "text": "Soot, ash and water together."}
    # guarded end 2.00 - 1.645 x 0.05 = 1.918; 1.918 - 1.78 = 0.138 inH2O
    within = next(text for text in texts(made["stages"][1]) if text.startswith("Restriction 1.78 inH2O"))
    assert "0.138 inH2O below the guarded end of 1.918 inH2O" in within


def test_the_figures_stand_beside_the_verdict_with_the_limit_and_where_it_comes_from():
    made = report({**A_BEFORE, **A_AFTER, "after.flow": flow("1.78", "1.80")}, A_ROUND)
    assert [stage["figures"] for stage in made["stages"]] == [
        ["Weight 14480 g", "Restriction 2.75 inH2O"], ["Weight 13780 g", "Restriction 1.78 inH2O, 1.80 inH2O"]]
    assert made["limit"] == {"figure": "1.60 to 2.00 inH2O", "from": "invented for tests, 1"}
    mixed = view("model:m", {"spec": {**MODEL["fields"]["spec"]["used"], "high": number("4.98", "mbar")}})
    assert report(A_BEFORE, model=mixed)["limit"]["figure"] == "1.60 inH2O to 4.98 mbar"
    assert filter_e()["limit"] is None
    assert report({"before.flow": {"skipped": "at_shop"}})["stages"][0]["figures"] == []


def test_what_to_do_next_defers_to_local_codes_the_maker_and_licensed_practice():
    assert report(A_BEFORE)["next_note"] == (
        "Common practice. Local codes, the maker's instructions and licensed practice come first.")


def test_a_check_of_an_instrument_is_told_by_its_time():
    check = view("scale_check:s", {"reading": {
        "instrument": "instrument:i", "weight": number("20", "kg"), "weight_class": "M1", "shown": number("20.005", "kg")}})
    made = report({**A_BEFORE, "before.weight": {**weight("14480"), "check": "scale_check:s"}}, check)
    assert row_of(made, "Weight", "Check of the scale")["before"] == "25 Nov 2026, 08:00 UTC"


def test_what_proves_the_instruments_is_told_apart_from_the_reasons():
    bench = view("instrument:b", {"name": "Bench", "type": "bench", "mode": "constant_volume",
                                  "plate": number("2.45", "inH2O")})
    check = view("bench_check:c", {"reading": {"instrument": "instrument:b", "temperature": number("20", "°C"),
                                               "barometer": number("1013", "hPa"), "plate": number("2.45", "inH2O")}})
    read = {"check": "bench_check:c", "drop": number("2.75", "inH2O")}
    made = report({**A_BEFORE, **A_AFTER, "before.flow": read, "after.flow": {**read, "drop": number("1.78", "inH2O")}},
                  A_ROUND, bench, check)
    assert [text.split(":")[0].split(".")[0] for text in made["measured"]][:2] == ["The bench is good", "The bench showed 2"]
    assert sum("The bench is good" in text for text in made["measured"]) == 1
    assert not [text for stage in made["stages"] for text in texts(stage) + texts(stage, "findings") if "bench" in text]


def test_what_was_missing_before_cleaning_is_no_news_once_it_was_read_after_it():
    seen_before = {"before.visual": A_BEFORE["before.visual"], "before.light": A_BEFORE["before.light"]}
    for readings, rounds, expected in ((seen_before, [], True), ({**seen_before, **A_AFTER}, [A_ROUND], False)):
        stage = report(readings, *rounds)["stages"][0]
        told = texts(stage) + texts(stage, "findings") + texts(stage, "missing")
        assert any("Still missing or in doubt" in text for text in told) == expected, told


@pytest.mark.parametrize(("signed", "word"), [(None, "Clean it"), ("clean", "Clean it"), ("replace", "Replace")])
def test_the_verdict_is_told_as_what_to_do(signed, word):
    made = report(A_BEFORE, signed=signed, reason="invented")
    assert made["verdict"]["word"] == word
    assert signed != "replace" or "The readings alone say “Clean it”" in made["decision"]["lines"][1]


def test_a_question_to_the_owner_is_put_to_the_owner():
    uses = {"hours_since": number("3100", "h"), "oil_added": number("12", "L"), "oil_category": "CK-4"}
    rounds = [round_of(str(turn), 4 + turn, "oven", weight(str(14100 - 100 * turn))) for turn in (1, 2, 3)]
    made = report({**A_BEFORE, **A_AFTER, **uses}, *rounds)
    told = texts(made["stages"][1], "findings")
    assert "Please tell us: does it lose coolant?" in told and not [text for text in told if "Ask the owner" in text]
    assert "On average 41 % of the depth of a cell is blocked (24 cells)." in texts(made["stages"][0], "findings")


def test_filter_c_is_replace_and_says_which_limit_from_where():
    made = report(C_AFTER, *C_ROUNDS, signed="replace")
    assert made["verdict"]["word"] == "Replace"
    # 14/24 = 58 %, the limit is half of the cells.
    reason = made["stages"][-1]["reasons"][0]
    assert "14 of 24 cells (58 %)" in reason["text"]
    assert "limit of 50 %" in reason["text"]
    assert made["notes"][reason["note"] - 1] == "common practice, no published source"
    assert any("took off 8 g" in text for text in texts(made["stages"][-1], "findings"))


def test_nothing_read_before_cleaning_is_no_verdict_as_found():
    assert [stage["title"] for stage in report(C_AFTER, *C_ROUNDS)["stages"]] == ["After cleaning"]


def test_readings_stand_as_they_were_typed_before_beside_after():
    made = report({**A_BEFORE, **A_AFTER, "before.flow": flow("2.750")}, A_ROUND)
    assert (row_of(made, "Flow", "Restriction")["before"], row_of(made, "Flow", "Restriction")["after"]) \
        == ("2.750 inH2O", "1.78 inH2O")
    assert row_of(made, "Rod", "Inlet cells")["before"] == "24 cells: 24 Soft (170 mm)"
    assert row_of(made, "Weight", "Weight on the scale")["after"] == "13780 g"


def test_a_skipped_reading_says_why_and_a_missing_one_that_it_was_not_done():
    made = report({**A_BEFORE, "before.flow": {"skipped": "at_shop", "note": "no bench in the van"}})
    assert row_of(made, "Flow", "")["before"] == "Skipped: Will be done at the shop: no bench in the van"
    assert row_of(made, "Light", "Seen against the light")["after"] == "not done"


def test_the_weight_after_the_last_round_counts_where_no_other_was_taken():
    readings = {name: value for name, value in C_AFTER.items() if name != "after.weight"}
    made = report(readings, *C_ROUNDS)
    assert row_of(made, "Weight", "Weight on the scale")["after"] == "13892 g (weighed after round 2)"
    assert [line["label"] for line in made["rounds"]] == ["Round 1", "Round 2"]
    assert made["rounds"][0]["text"] == "Oven, 480 min, 600 °C"


def test_the_filter_truck_and_owner_are_named_and_not_numbered():
    told = facts(report(A_BEFORE))
    assert (told["Tag"], told["Model"], told["Serial number"]) == ("7K3M9QX07", "TEST-290", "S-1001")
    assert (told["Truck"], told["Owner"], told["Why it came in"]) == (
        "TEST 17", "Mara Quill", "Low power, Regenerates often")
    assert "not printed" not in str(report(A_BEFORE)), "an owner's telephone number is nobody else's business"


def test_a_report_without_a_sign_off_is_a_draft():
    made = report({**A_BEFORE, **A_AFTER}, A_ROUND)
    assert (made["status"]["word"], made["decision"]) == ("Draft, not signed", None)


def test_two_answers_make_a_report_not_final_and_both_are_shown():
    two = {**A_BEFORE, **A_AFTER, "after.flow": [answer(flow("1.78"), "d.r.1"), answer(flow("2.30"), "d.r.2")]}
    made = report(two, A_ROUND)
    assert (made["status"]["word"], made["verdict"]["word"]) == ("Not final", "Hold")
    assert made["stages"][-1]["word"] == "Undecided", "one of the two answers alone would read OK"
    assert made["stages"][-1]["reading"] == "with one of the two answers"
    assert row_of(made, "Flow", "Restriction")["after"] == "1.78 inH2O or 2.30 inH2O"
    assert any("Flow (after cleaning)" in line for line in made["why"])
    # 2.30 inH2O is above 2.00 with the cells free and 700 g gone: the worse answer condemns or asks for another round.
    assert any("The worse one reads" in line and "_" not in line for line in made["why"])


def test_two_answers_of_a_harmless_field_stop_nobody():
    hours = [answer(number("9800", "h"), "d.r.1", lamport=1), answer(number("9900", "h"), "d.r.2", lamport=2)]
    made = report({**A_BEFORE, **A_AFTER, "engine_hours": hours}, A_ROUND, signed=OK)
    assert made["status"]["code"] == "final"
    assert "9900 h" in facts(made)["Engine hours"]


def test_a_sign_off_whose_evidence_changed_is_not_final():
    _records, seen = job({**A_BEFORE, **A_AFTER}, A_ROUND)
    signed = answer({"decision": OK, "reason": "", "person": "person:kim"}, "d.r.s", lamport=9, basis=basis_of(seen))
    made = report({**A_BEFORE, **A_AFTER, "after.flow": flow("1.80"), "signoff": [signed]}, A_ROUND)
    assert (made["status"]["word"], made["verdict"]["word"]) == ("Not final", "Hold")
    assert made["why"] == ["A reading changed after the sign-off. Look at it again and sign again."]


def test_a_decision_that_differs_is_told_with_its_reason():
    made = report({**A_BEFORE, **A_AFTER}, A_ROUND, signed="replace", reason="Owner saw a crack in the can")
    assert made["verdict"]["word"] == "Replace"
    assert made["decision"]["lines"] == [
        "Decided by Kim on 25 Nov 2026, 08:00 UTC.",
        "The readings alone say “OK to reinstall”. Kim decided “Replace” and gave this reason: "
        "Owner saw a crack in the can"]


def filter_e(**more):
    """E: 11,900 -> 11,460 -> 11,452 g, no window on file, all free, 3.10 -> 1.65 inH2O."""
    no_window = view("model:m", {"number": "TEST-290", "depth": number("290", "mm")})
    readings = {"before.weight": weight("11900"), "before.flow": flow("3.10"), "after.visual": A_AFTER["after.visual"],
                "after.weight": weight("11452"), "after.rod": rod((24, "free", None)),
                "after.light": A_AFTER["after.light"], "after.flow": flow("1.65")}
    return report(readings, *C_ROUNDS, model=no_window, **more)


def test_filter_e_says_that_no_flow_limit_is_on_file_before_and_after_its_release():
    assert filter_e()["limit_note"] == "No flow limit on file for this model."
    made = filter_e(signed=OK, reason="The maker gave a figure on the telephone")
    assert (made["verdict"]["word"], made["status"]["code"]) == ("OK to reinstall", "final")
    assert made["limit_note"] == ("No flow limit on file for this model. Kim released it with this reason: "
                                  "The maker gave a figure on the telephone")
    assert "no limit to be compared with" in made["verdict"]["meaning"]
    assert "person:kim" not in str(made)


def test_a_round_names_the_check_of_the_scale_by_its_time():
    shown = {"weight": number("20", "kg"), "weight_class": "M1", "shown": number("20", "kg")}
    check = view("scale_check:s", {"reading": [answer(shown)]})
    weighed = round_of("1", 5, after={**weight("13900"), "check": "scale_check:s"})
    [line] = report(A_BEFORE, weighed, check)["rounds"]
    assert line["weight"].endswith("Check of the scale: 25 Nov 2026, 08:00 UTC")
    assert "scale_check:" not in line["weight"]


@pytest.mark.parametrize(("readings", "others", "owner_says", "first"), [
    ({**A_BEFORE, **A_AFTER}, (A_ROUND,), "clean", "Fit it with new gaskets"),
    (C_AFTER, C_ROUNDS, "replace", "Fit another filter"),
    (A_BEFORE, (), None, "Tell us whether to clean it"),
    (A_BEFORE, (), "clean", "It is cleaned next"),
    (A_BEFORE, (), "return_uncleaned", "You asked for it back uncleaned"),
])
def test_the_first_next_step_fits_verdict_and_owner(readings, others, owner_says, first):
    more = {} if owner_says is None else {"owner_answer": {"answer": owner_says}}
    assert report(readings, *others, **more)["next"][0].startswith(first)


def test_a_hold_says_what_is_missing_first():
    made = report({"before.visual": A_BEFORE["before.visual"]})
    assert made["verdict"]["word"] == "Hold"
    assert made["next"][0].startswith("Still to do")
    assert made["next"][-3] == "Wait for the final report before it is fitted or paid for."


def test_oil_in_the_filter_is_followed_up():
    oily = {**A_BEFORE, "before.visual": {**A_BEFORE["before.visual"], "wet": "oil"}}
    assert ("It was wet with oil. Find where that comes from, or the next filter goes the same way."
            in report(oily)["next"])


def test_law_heat_and_ash_are_always_told():
    cautions = " ".join(report(A_BEFORE)["cautions"])
    for piece in ("never removed or opened up", "Let it cool", "Ash is fine and easily breathed"):
        assert piece in cautions


def test_the_small_print_names_calculation_rules_job_and_people():
    small = " ".join(report(A_BEFORE)["small"])
    assert small == ("Readings by Kim. Verdict calculated with c0ffee012345. Job j. "
                     "Printed 26 Nov 2026, 09:05 UTC.")


def test_the_report_names_the_thresholds_that_it_was_judged_by():
    assert report(A_BEFORE)["thresholds"] == (
        "Judged by the starting thresholds (start-4): common practice, not set by this shop.")
    own = {"lit_cells": number("10", ""), "why": "invented"}
    for by, name in (("person:kim", "Kim"), ("desk:office", "Office")):
        rules = view("shop:rules", {"rules": [answer(own, "desk.r.7", by=by)]})
        assert report(A_BEFORE, rules)["thresholds"] == (
            f"Judged by this shop's own thresholds, set by {name} on 25 Nov 2026, 08:00 UTC (start-4+desk.r.7).")
    records, state = job(A_BEFORE)
    gone = content(records, {**state, "rules": "start-4+desk.r.6"}, WORDS, "2026-11-26T09:05:00.000Z")
    assert gone["thresholds"] == "Judged by this shop's own thresholds (start-4+desk.r.6)."


def test_a_field_that_is_declared_appears_by_itself(monkeypatch):
    extra = shapes.text("humming", "Hums when tapped")
    for name in ("flow", "check_in"):
        steps = tuple(step._replace(fields=step.fields + (extra,)) if step.name == name else step
                      for step in declaration.STEPS)
        monkeypatch.setattr(declaration, "STEPS", steps)
    made = report({**A_BEFORE, "before.flow": {**flow("2.75"), "humming": "a little"}, "humming": "yes"})
    assert row_of(made, "Flow", "Hums when tapped")["before"] == "a little"
    assert facts(made)["Hums when tapped"] == "yes"


def test_a_job_without_anything_still_has_a_report():
    records, state = job({}, model=view("model:other", {}))
    made = content(records, state, WORDS, "not a time")
    assert made["verdict"]["word"] == "Hold"
    assert "Printed not a time." in made["small"]


@pytest.mark.parametrize(("stored", "shown"), [
    ("2026-01-05T07:04:00.000Z", "5 Jan 2026, 07:04 UTC"), ("", ""), ("yesterday", "yesterday"),
    ("2026-13-05T07:04:00.000Z", "2026-13-05T07:04:00.000Z")])
def test_times_are_written_for_people(stored, shown):
    assert when(stored) == shown
