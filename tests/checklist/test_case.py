"""From standing answers to the state of a job: worked filters A to E, two answers, sign-offs that stand or hold.

The readings are invented; the answers are common practice as a good technician would give them, no source. The
figures were worked out by hand and stand in the comments."""

import itertools

import pytest

from tests.checklist.views import (
    FILTER,
    KIM,
    MODEL,
    NO_LIGHT,
    VISUAL,
    answer,
    book,
    flow,
    number,
    rod,
    view,
    weight,
)
from webform.checklist.calls import with_texts
from webform.checklist.case import basis_of, best_of, is_worse, job_state, worst_of
from webform.words import catalogue


def state_of(fields, *others, model=MODEL, calculation=""):
    views = book(view("job:j", {"filter": "filter:f", **fields}), FILTER, model, KIM, *others)
    return job_state("job:j", views, calculation=calculation)


def round_of(name, lamport, method="oven", after=None):
    fields = {"job": [answer("job:j", f"d.r.j{name}", lamport=lamport)],
              "treatment": {"method": method, "minutes": number("480", "min"), "temperature": number("600", "°C")}}
    if after is not None:
        fields["weight"] = after
    return view("round:" + name, fields)


# A: 24 cells soft at 170 of 290 mm: blocked 120/290 = 0.41 each; 2.75 inH2O is above 2.00.
A_BEFORE = {"before.visual": VISUAL, "before.weight": weight("14480"), "before.rod": rod((24, "soft", "170")),
            "before.light": NO_LIGHT, "before.flow": flow("2.75")}
GOOD_AFTER = {"after.visual": VISUAL, "after.weight": weight("13780"), "after.rod": rod((24, "free", None)),
              "after.light": NO_LIGHT, "after.flow": flow("1.78")}


def test_worked_filter_a_is_clean_then_hold_while_warm_and_wet_then_ok():
    before = state_of(A_BEFORE)
    assert (before["stage"], before["verdict"]) == ("before", "clean")
    # Washed, still warm: 14,520 g is 40 g more than before: water. 2.20 inH2O says nothing about a wet brick.
    wet = state_of({**A_BEFORE, "after.flow": flow("2.20")}, round_of("1", 5, "wash", weight("14520", "warm", "wet")))
    assert (wet["stage"], wet["verdict"]) == ("after", "hold")
    # Dried: 14,480 - 13,780 = 700 g came off; 1.78 is below the guarded end 2.00 - 1.645 * 0.05 = 1.918.
    dry = state_of({**A_BEFORE, **GOOD_AFTER}, round_of("1", 5, "wash", weight("14520", "warm", "wet")))
    assert dry["verdict"] == "ok_to_reinstall"
    assert dry["before"]["verdict"] == "clean"


def test_worked_filter_b_is_replace_although_flow_is_missing():
    # 20 cells hard at 130 of 290 mm: 160/290 = 0.552 each; (20 * 0.552 + 4 * 0) / 24 = 0.46, above one third.
    assert state_of({"before.visual": VISUAL, "before.rod": rod((20, "hard", "130"), (4, "free", None))})["verdict"] \
        == "replace"


def test_worked_filter_c_is_replace_although_flow_passes():
    # 14 hard at 145 of 290 mm: half blocked; 14/24 = 58 % of the cells; average 14 * 0.5 / 24 = 0.29 is below a third.
    done = state_of({"after.visual": VISUAL, "after.rod": rod((14, "hard", "145"), (10, "free", None)),
                     "after.light": NO_LIGHT, "after.flow": flow("1.90")},
                    round_of("1", 5, after=weight("13900")), round_of("2", 6, after=weight("13892")))
    assert done["verdict"] == "replace"


def test_worked_filter_d_is_clean_with_a_leak_suspected_then_replace():
    before = {"before.visual": {**VISUAL, "outlet": "black"}, "before.flow": flow("1.10")}
    first = state_of(before)
    assert first["verdict"] == "clean"
    assert first["before"]["findings"], "a leak is suspected and said"
    lit = {"kind": "cells", "lit": "over_20", "count": number("34", "")}
    assert state_of({**before, "after.light": lit}, round_of("1", 5))["verdict"] == "replace"


def worked_e(signoff=None):
    no_window = view("model:m", {"number": "TEST-290", "depth": number("290", "mm")})
    fields = {"before.weight": weight("11900"), "before.flow": flow("3.10"), "after.visual": VISUAL,
              "after.weight": weight("11452"), "after.rod": rod((24, "free", None)), "after.light": NO_LIGHT,
              "after.flow": flow("1.65")}
    if signoff is not None:
        fields["signoff"] = signoff
    rounds = (round_of("1", 5, after=weight("11460")), round_of("2", 6, after=weight("11452")))
    return state_of(fields, *rounds, model=no_window)


def test_worked_filter_e_holds_until_a_named_person_releases_it():
    held = worked_e()
    assert held["verdict"] == "hold"
    decision = {"decision": "ok_to_reinstall", "reason": "Maker gave 1.8 on the telephone", "person": "person:kim"}
    released = worked_e([answer(decision, basis=basis_of(held), lamport=9)])
    assert (released["verdict"], released["may_issue"]) == ("ok_to_reinstall", True)
    without_reason = worked_e([answer({**decision, "reason": ""}, basis=basis_of(held), lamport=9)])
    assert without_reason["verdict"] == "hold"


def test_a_release_lifts_what_was_read_after_cleaning_and_leaves_the_filter_as_it_was_found():
    held = worked_e()
    decision = {"decision": "ok_to_reinstall", "reason": "Maker gave 1.8 on the telephone", "person": "person:kim"}
    released = worked_e([answer(decision, basis=basis_of(held), lamport=9)])
    assert (released["before"]["verdict"], released["after"]["verdict"]) == ("hold", "ok_to_reinstall")
    assert released["before"] == held["before"]  # found at 3.10 inH2O, it was never fit to go back


def test_a_release_names_the_person_and_no_record():
    held = worked_e()
    decision = {"decision": "ok_to_reinstall", "reason": "Maker gave 1.8 on the telephone", "person": "person:kim"}
    released = worked_e([answer(decision, basis=basis_of(held), lamport=9)])
    told = " ".join(with_texts(released, catalogue())["after"]["texts"]["findings"])
    assert "Released by Kim: Maker gave 1.8 on the telephone." in told
    assert "person:" not in told


def good_job(**more):
    return {**A_BEFORE, **GOOD_AFTER, **more}


def sign(state, decision="ok_to_reinstall", change="d.r.sign", person="person:kim"):
    return answer({"decision": decision, "reason": "", "person": person}, change, basis=basis_of(state), lamport=50)


ROUND = round_of("1", 5)


def test_a_sign_off_stands_on_what_its_author_saw():
    seen = state_of(good_job(), ROUND)
    done = state_of(good_job(signoff=[sign(seen)]), ROUND)
    assert (done["verdict"], done["may_issue"], done["signoff"]["changed"]) == ("ok_to_reinstall", True, [])


def test_an_ok_turns_to_hold_when_its_evidence_changes_elsewhere():
    seen = state_of(good_job(), ROUND)
    done = state_of(good_job(signoff=[sign(seen)], **{"after.flow": [answer(flow("1.79"), "e.r.9")]}), ROUND)
    assert (done["verdict"], done["may_issue"]) == ("hold", False)
    assert done["signoff"]["changed"] == ["job:j/after.flow"]


def test_an_equal_value_measured_again_does_not_shake_a_sign_off():
    seen = state_of(good_job(), ROUND)
    again = [answer(flow("1.78"), "e.r.9")]
    assert state_of(good_job(signoff=[sign(seen)], **{"after.flow": again}), ROUND)["verdict"] == "ok_to_reinstall"


def test_a_late_cleaning_round_turns_an_ok_to_hold():
    seen = state_of(good_job(), ROUND)
    assert state_of(good_job(signoff=[sign(seen)]), ROUND, round_of("2", 8))["verdict"] == "hold"


def test_a_new_window_turns_an_ok_to_hold():
    seen = state_of(good_job(), ROUND)
    tight = view("model:m", {"depth": number("290", "mm"), "number": "TEST-290", "spec": {
        "low": number("1.00", "inH2O"), "high": number("1.70", "inH2O"), "uncertainty": number("0.05", "inH2O"),
        "origin": "invented for tests", "revision": "2"}})
    assert state_of(good_job(signoff=[sign(seen)]), ROUND, model=tight)["verdict"] == "hold"


def test_an_ok_by_someone_who_may_not_sign_reads_hold():
    seen = state_of(good_job(), ROUND)
    alex = view("person:alex", {"name": "Alex", "may_sign": "no"})
    done = state_of(good_job(signoff=[sign(seen, person="person:alex")]), ROUND, alex)
    assert (done["verdict"], done["signoff"]["may_sign"]) == ("hold", False)
    assert state_of(good_job(signoff=[sign(seen, person="person:nobody")]), ROUND)["verdict"] == "hold"


def test_an_ok_never_stands_over_a_proven_replace():
    cracked = good_job(**{"after.light": {"kind": "crack"}})
    seen = state_of(cracked, ROUND)
    signoff = sign(seen)
    signoff["value"]["reason"] = "Owner insists"
    assert state_of({**cracked, "signoff": [signoff]}, ROUND)["verdict"] == "replace"


def test_two_sign_offs_show_the_worse_one():
    seen = state_of(good_job(), ROUND)
    both = [sign(seen), sign(seen, "replace", "e.r.sign")]
    assert state_of(good_job(signoff=both), ROUND)["verdict"] == "replace"


@pytest.mark.parametrize(("other", "worse", "shown"), [
    (flow("2.40"), "clean_again", "hold"), (flow("1.79"), "ok_to_reinstall", "hold")])
def test_two_answers_in_a_reading_read_hold_and_name_the_worse(other, worse, shown):
    forked = [answer(flow("1.78"), "d.r.1"), answer(other, "e.r.1")]
    done = state_of(good_job(**{"after.flow": forked}), ROUND)
    assert done["verdict"] == shown
    assert done["why"][0]["values"]["worse"] == worse
    assert done["two_answers"] == [{"record": "job:j", "field": "after.flow"}]


def test_two_answers_that_both_prove_replace_read_replace():
    forked = [answer({"kind": "crack"}, "d.r.1"), answer({"kind": "melted"}, "e.r.1")]
    assert state_of(good_job(**{"after.light": forked}), ROUND)["verdict"] == "replace"


def test_a_second_open_job_of_the_filter_holds_it():
    other = view("job:other", {"filter": "filter:f"})
    assert state_of(good_job(), ROUND, other)["verdict"] == "hold"


# The readings of a "clean_again" filter: 2.40 inH2O is above the window of 1.60 to 2.00, one round was done.
TIGHT = {"after.flow": flow("2.40")}


def signed_tight(seen, decision, calculation="new", **basis):
    fields = good_job(**TIGHT)
    seen_state = {**state_of(fields, ROUND), "verdict": seen, "calculated": seen, "calculation": "old"}
    made = sign(seen_state, decision)
    made["basis"] = {name: value for name, value in {**made["basis"], **basis}.items() if value is not None}
    return state_of({**fields, "signoff": [made]}, ROUND, calculation=calculation)


def test_an_ok_of_an_older_calculation_holds_when_the_new_one_reads_worse():
    done = signed_tight("ok_to_reinstall", "ok_to_reinstall")
    assert (done["verdict"], done["may_issue"], done["signoff"]["stands"]) == ("hold", False, False)
    assert done["why"] == [{"code": "state.calculation_changed",
                            "values": {"seen": "ok_to_reinstall", "verdict": "clean_again"}}]
    assert "OK to reinstall then, Clean again now" in with_texts(done, catalogue())["why"][0]["text"]


def test_signing_again_under_the_new_calculation_ends_the_hold():
    held = signed_tight("ok_to_reinstall", "ok_to_reinstall")
    again = [sign(held, "clean_again", "d.r.again")]
    done = state_of(good_job(signoff=again, **TIGHT), ROUND, calculation="new")
    assert (done["verdict"], done["why"], done["may_issue"]) == ("clean_again", [], True)


@pytest.mark.parametrize("seen", ["clean_again", "hold", "replace"])
def test_a_sign_off_stands_where_the_new_calculation_reads_no_worse(seen):
    done = signed_tight(seen, "clean_again")
    assert (done["verdict"], done["why"], done["may_issue"]) == ("clean_again", [], True)


def test_an_ok_of_an_older_calculation_stands_where_the_new_one_says_the_same():
    made = sign(state_of(good_job(), ROUND, calculation="old"))
    done = state_of(good_job(signoff=[made]), ROUND, calculation="new")
    assert (done["verdict"], done["why"], done["may_issue"]) == ("ok_to_reinstall", [], True)


def test_any_decision_but_replace_holds_under_a_calculation_that_reads_worse():
    assert signed_tight("clean", "clean")["verdict"] == "hold"
    assert signed_tight("ok_to_reinstall", "hold")["why"][0]["code"] == "state.calculation_changed"
    replaced = signed_tight("ok_to_reinstall", "replace")  # nothing can be worse than what was decided
    assert (replaced["verdict"], replaced["why"], replaced["may_issue"]) == ("replace", [], True)


def test_a_replace_that_the_new_calculation_proves_is_not_hidden_behind_a_hold():
    cracked = good_job(**{"after.light": {"kind": "crack"}})
    seen = {**state_of(cracked, ROUND), "verdict": "ok_to_reinstall", "calculated": "ok_to_reinstall", "calculation": "old"}
    done = state_of({**cracked, "signoff": [sign(seen)]}, ROUND, calculation="new")
    assert (done["verdict"], done["signoff"]["stands"]) == ("replace", False)
    assert done["why"][0]["code"] == "state.calculation_changed"


@pytest.mark.parametrize("wrong", [1, [], "x", {"job:j/after.flow": 1}, {"job:j/after.flow": {}}, None])
def test_a_basis_of_any_shape_is_read_and_holds_nothing(wrong):
    made = sign(state_of(good_job(), ROUND))
    made["basis"] = {"evidence": wrong, "calculation": wrong, "calculated": wrong}
    done = state_of(good_job(signoff=[made]), ROUND)
    assert (done["verdict"], done["why"][0]["code"]) == ("hold", "state.evidence_changed")


def test_an_old_phones_sign_off_counts_by_its_own_calculation():
    # made before "calculated" was part of the basis: what its author saw is all there is
    assert signed_tight("ok_to_reinstall", "clean_again", calculated=None)["verdict"] == "hold"
    # nothing that is a verdict: the best is taken for what was shown, so that any worse one holds
    assert signed_tight("ok_to_reinstall", "clean_again", calculated=None, verdict=None)["verdict"] == "hold"
    assert signed_tight("ok_to_reinstall", "clean_again", calculated=["x"])["verdict"] == "hold"
    # and the other way round: seen under the calculation that judges now, an OK over it is an OK over it
    same = signed_tight("clean_again", "ok_to_reinstall", calculation="old")
    assert same["why"][0]["code"] == "state.signed_over"


def test_a_release_of_a_missing_limit_stands_under_another_calculation():
    no_window = view("model:m", {"number": "TEST-290", "depth": number("290", "mm")})
    held = state_of(good_job(), ROUND, model=no_window, calculation="old")
    assert held["verdict"] == "hold"
    made = sign(held)
    made["value"]["reason"] = "Maker gave 1.8 on the telephone"
    first = state_of(good_job(signoff=[made]), ROUND, model=no_window, calculation="new")
    assert (first["verdict"], first["may_issue"]) == ("ok_to_reinstall", True)
    again = sign(first)  # signed once more on the page that showed it as released
    again["value"]["reason"] = "Asked again"
    assert state_of(good_job(signoff=[again]), ROUND, model=no_window, calculation="newest")["verdict"] == "ok_to_reinstall"


def test_is_worse_follows_the_same_order():
    order = ("replace", "hold", "clean_again", "clean", "ok_to_reinstall")
    for place, code in enumerate(order):
        assert [is_worse(code, than) for than in order] == [place < other for other in range(5)]
    assert is_worse("clean", "nonsense") and not is_worse("ok_to_reinstall", "nonsense")


def test_two_answers_in_a_harmless_field_stop_nobody():
    policies = {"note": "later", "cross": "later"}
    forked = view("job:j", {"filter": "filter:f", **good_job(note=[answer("seized bolt", "d.r.1"), answer("", "e.r.1")])})
    model = view("model:m", {**{name: field["used"] for name, field in MODEL["fields"].items()},
                             "cross": [answer("A-1", "d.r.1", lamport=1), answer("A-2", "e.r.1", lamport=2)]})
    for each in (forked, model):  # as the merge does: of a harmless field the later answer is used meanwhile
        for name, field in each["fields"].items():
            if field["open"] and name in policies:
                field["used"] = field["answers"][-1]["value"]
    state = job_state("job:j", book(forked, FILTER, model, KIM, ROUND))
    assert (state["verdict"], state["why"]) == ("ok_to_reinstall", [])
    assert {entry["field"] for entry in state["two_answers"]} == {"note", "cross"}


def test_a_note_does_not_shake_a_sign_off():
    seen = state_of(good_job(), ROUND)
    fields = good_job(signoff=[sign(seen)])
    assert state_of({**fields, "note": "left bolt seized"}, ROUND)["verdict"] == "ok_to_reinstall"


def test_the_state_does_not_depend_on_the_order_of_the_views():
    views = [view("job:j", {"filter": "filter:f", **good_job()}), FILTER, MODEL, KIM, ROUND]
    states = [job_state("job:j", book(*order)) for order in itertools.permutations(views)]
    assert all(state == states[0] for state in states)


def test_an_empty_job_holds_and_says_what_is_missing():
    empty = job_state("job:j", {})
    assert empty["verdict"] == "hold"
    assert empty["before"]["missing"]


def test_worst_and_best_follow_the_order_worse_for_the_filter():
    assert worst_of(["clean", "replace", "hold"]) == "replace"
    assert worst_of(["ok_to_reinstall", "hold"]) == "hold"
    assert best_of(["clean", "replace", "ok_to_reinstall"]) == "ok_to_reinstall"
    assert best_of(["replace"]) == "replace"
