"""Voids and links as the merge leaves them: whatever the order, the same state. Readings invented; changes made by hand."""

import itertools

import pytest

from sync import merge
from tests.checklist.views import NO_LIGHT, VISUAL, flow, number, rod, weight
from webform.checklist import void
from webform.checklist.case import job_state
from webform.checklist.links import group_of
from webform.checklist.lookup import policy_of

SPEC = {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
        "origin": "invented for tests", "revision": "1"}
# A filter that is OK: 1.78 inH2O lies below the guarded end 2.00 - 1.645 * 0.05 = 1.918 (as in test_case.py).
GOOD = {"filter": "filter:f", "after.visual": VISUAL, "after.weight": weight("13780"), "after.rod": rod((24, "free", None)),
        "after.light": NO_LIGHT, "after.flow": flow("1.78"), "before.visual": VISUAL, "before.weight": weight("14480"),
        "before.rod": rod((24, "soft", "170")), "before.light": NO_LIGHT, "before.flow": flow("2.75")}
TREATED = {"job": "job:j", "treatment": {"method": "wash", "minutes": number("480", "min")}}


def change(identity, record, answers, replaces=None, basis=None, lamport=1):
    made = {"id": identity, "kind": record.split(":")[0], "record": record, "set": answers, "replaces": replaces or {},
            "lamport": lamport, "at": "2026-11-25T08:00:00.000Z", "by": "person:kim", "schema": 1}
    return {**made, "basis": basis} if basis is not None else made


SHOP = [change("s.r.1", "model:m", {"number": "TEST-290", "depth": number("290", "mm"), "spec": SPEC}),
        change("s.r.2", "filter:f", {"unit_kind": "wall_flow", "model": "model:m", "serial": "S-1"}),
        change("s.r.3", "person:kim", {"name": "Kim", "may_sign": "yes"}),
        change("s.r.4", "job:j", GOOD), change("s.r.5", "round:a", TREATED)]


def views_of(changes):
    records = {}
    for one in changes:
        records.setdefault(one["record"], []).append(one)
    return {record: merge.view(merge.apply_all(None, found), policy_of) for record, found in records.items()}


def state_of(changes):
    """The state of the job, which must be the same in every order of the changes that come after the shop's own."""
    late = changes[len(SHOP):]
    found = [job_state("job:j", views_of([*SHOP, *order])) for order in itertools.permutations(late)]
    backwards = job_state("job:j", views_of([*reversed(changes), *changes]))
    assert all(one == found[0] for one in [*found, backwards])
    return found[0]


def voiding(identity, record, changes, children=(), state="void", replaces=(), reason="entered twice"):
    """A void made on a screen that showed these changes."""
    views = views_of(changes)
    basis = {"evidence": void.seen([views[record], *(views[child] for child in children)])}
    return change(identity, record, {"void": {"state": state, "reason": reason}}, {"void": list(replaces)}, basis)


def codes(state):
    return [why["code"] for why in state["why"]]


def test_a_void_job_reads_hold_and_is_issued_as_nothing_and_can_be_taken_back():
    assert state_of(SHOP)["verdict"] == "ok_to_reinstall"
    gone = [*SHOP, voiding("d.r.1", "job:j", SHOP, ["round:a"])]
    state = state_of(gone)
    assert (state["verdict"], codes(state), state["may_issue"]) == ("hold", ["state.void"], False)
    assert state["void"]["stands"] and state["void"]["reason"] == "entered twice"
    back = [*gone, voiding("d.r.2", "job:j", gone, ["round:a"], "stands", ["d.r.1"], "it was another")]
    state = state_of(back)
    assert (state["verdict"], state["void"], state["why"]) == ("ok_to_reinstall", None, [])


@pytest.mark.parametrize("edit", [
    change("b.r.1", "job:j", {"after.flow": flow("1.79")}, {"after.flow": ["s.r.4"]}),
    change("b.r.1", "job:j", {"truck": "HL 1"}),
    change("b.r.1", "round:a", {"weight": weight("13780")}), change("b.r.1", "round:new", TREATED),
], ids=["a reading corrected", "a field added", "its round weighed", "a round added"])
def test_a_void_beside_an_edit_that_it_did_not_see_is_two_answers_until_somebody_decides(edit):
    both = [*SHOP, voiding("d.r.1", "job:j", SHOP, ["round:a"]), edit]
    state = state_of(both)
    assert (state["verdict"], codes(state), state["may_issue"]) == ("hold", ["state.void_beside_edit"], False)
    assert not state["void"]["stands"] and state["void"]["changed"]
    children = sorted({"round:a", edit["record"]} - {"job:j"})
    again = [*both, voiding("d.r.2", "job:j", both, children, replaces=["d.r.1"])]
    assert state_of(again)["void"]["stands"]
    back = [*both, voiding("d.r.2", "job:j", both, children, "stands", ["d.r.1"])]
    assert state_of(back)["void"] is None and "state.void_beside_edit" not in codes(state_of(back))


def test_an_equal_value_answered_again_does_not_shake_a_void():
    same = change("b.r.1", "job:j", {"after.flow": flow("1.78")}, {"after.flow": ["s.r.4"]})
    assert state_of([*SHOP, voiding("d.r.1", "job:j", SHOP, ["round:a"]), same])["void"]["stands"]


def test_one_says_void_and_one_says_it_stands():
    first = [*SHOP, voiding("d.r.1", "job:j", SHOP, ["round:a"])]
    both = [*first, voiding("d.r.2", "job:j", first, ["round:a"], "stands", ["d.r.1"]),
            voiding("e.r.1", "job:j", first, ["round:a"], "void", ["d.r.1"], "another reason")]
    state = state_of(both)
    assert state["void"]["is_disputed"] and (state["verdict"], codes(state)) == ("hold", ["state.void_beside_edit"])


def test_two_who_void_the_same_for_different_reasons_agree():
    both = [*SHOP, voiding("d.r.1", "job:j", SHOP, ["round:a"]),
            voiding("e.r.1", "job:j", SHOP, ["round:a"], reason="a trial")]
    assert state_of(both)["void"]["stands"]
    # one of them had not seen the round: the other's basis carries the void
    assert state_of([*SHOP, voiding("d.r.1", "job:j", SHOP), both[-1]])["void"]["stands"]


def test_a_void_without_a_basis_stands_on_nothing():
    bare = change("d.r.1", "job:j", {"void": {"state": "void", "reason": "x"}})
    assert not state_of([*SHOP, bare])["void"]["stands"]


def test_a_void_round_was_never_there_and_a_sign_off_that_saw_it_must_be_given_again():
    signed = job_state("job:j", views_of(SHOP))
    signoff = change("k.r.1", "job:j", {"signoff": {"decision": "ok_to_reinstall", "person": "person:kim"}},
                     basis={"evidence": signed["evidence"]}, lamport=5)
    with_signoff = [*SHOP, signoff]
    assert state_of(with_signoff)["may_issue"]
    state = state_of([*with_signoff, voiding("d.r.1", "round:a", SHOP)])
    assert (state["verdict"], codes(state)) == ("hold", ["state.evidence_changed"])
    assert state["signoff"]["changed"] == ["round:a/job", "round:a/treatment"] and state["void"] is None
    disputed = [*with_signoff, voiding("d.r.1", "round:a", SHOP), change("b.r.1", "round:a", {"weight": weight("13780")})]
    assert "state.void_beside_edit" in codes(state_of(disputed))


def test_another_job_of_the_filter_asks_until_it_is_void():
    other = change("b.r.1", "job:k", {"filter": "filter:f"})
    assert codes(state_of([*SHOP, other])) == ["state.second_open_job"]
    gone = [*SHOP, other, voiding("d.r.1", "job:k", [other])]
    assert codes(state_of(gone)) == [] and state_of(gone)["verdict"] == "ok_to_reinstall"
    edited = [*gone, change("b.r.2", "job:k", {"truck": "HL 9"})]
    assert codes(state_of(edited)) == ["state.second_open_job"]


def test_no_release_lifts_a_hold_that_comes_from_a_question():
    # Without a window the calculation says hold, and a person may release that; with a second open job nobody may.
    bare = [change("s.r.1", "model:m", {"number": "TEST-300", "depth": number("290", "mm")}), *SHOP[1:]]
    signoff = {"decision": "ok_to_reinstall", "person": "person:kim", "reason": "known engine"}

    def signed(changes):
        evidence = job_state("job:j", views_of(changes))["evidence"]
        return job_state("job:j", views_of([*changes, change("k.r.1", "job:j", {"signoff": signoff},
                                                             basis={"evidence": evidence}, lamport=9)]))

    assert signed(bare)["verdict"] == "ok_to_reinstall"
    state = signed([*bare, change("b.r.1", "job:k", {"filter": "filter:f"})])
    assert (state["verdict"], state["may_issue"]) == ("hold", False)
    state = signed([*bare, change("b.r.2", "job:j", {"after.flow": flow("1.79")})])
    assert (state["verdict"], state["may_issue"]) == ("hold", False)


LINKS = [change("l.r.1", "link:1", {"one": "filter:f", "other": "filter:g"}),
         change("l.r.2", "link:2", {"one": "filter:h", "other": "filter:g"}),
         change("l.r.3", "link:3", {"one": "filter:x", "other": "filter:y"})]


def test_links_join_filters_into_groups_whatever_their_order_and_direction():
    for order in itertools.permutations(LINKS):
        views = views_of([*SHOP, *order])
        for one in ("filter:f", "filter:g", "filter:h"):
            assert group_of(one, views) == ["filter:f", "filter:g", "filter:h"]
        assert group_of("filter:x", views) == ["filter:x", "filter:y"] and group_of("filter:z", views) == ["filter:z"]


def test_voiding_a_link_takes_the_filters_apart_and_taking_that_back_joins_them_again():
    apart = [*LINKS, voiding("d.r.1", "link:2", LINKS, reason="another can")]
    assert group_of("filter:f", views_of(apart)) == ["filter:f", "filter:g"]
    assert group_of("filter:h", views_of(apart)) == ["filter:h"]
    back = [*apart, voiding("d.r.2", "link:2", apart, state="stands", replaces=["d.r.1"])]
    assert group_of("filter:h", views_of(back)) == ["filter:f", "filter:g", "filter:h"]


def test_a_link_that_is_half_made_or_has_two_answers_joins_nothing():
    half = [change("l.r.1", "link:1", {"one": "filter:f"})]
    assert group_of("filter:f", views_of(half)) == ["filter:f"]
    two = [LINKS[0], change("m.r.1", "link:1", {"other": "filter:k"})]
    assert group_of("filter:f", views_of(two)) == ["filter:f"]


def test_an_open_job_of_the_same_filter_under_its_other_name_asks():
    other = change("b.r.1", "job:k", {"filter": "filter:g"})
    assert codes(state_of([*SHOP, other])) == []
    assert codes(state_of([*SHOP, other, LINKS[0]])) == ["state.second_open_job"]


def test_a_tag_that_leads_to_two_filters_holds_the_job_until_they_are_known_to_be_one():
    tags = [change("a.r.1", "tag:T", {"filter": "filter:f"}), change("b.r.1", "tag:T", {"filter": "filter:g"})]
    assert codes(state_of([*SHOP, tags[0]])) == []
    state = state_of([*SHOP, *tags])
    assert (state["verdict"], codes(state)) == ("hold", ["state.tag_bound_twice"])
    assert codes(state_of([*SHOP, *tags, LINKS[0]])) == []
    settled = change("d.r.1", "tag:T", {"filter": "filter:f"}, {"filter": ["a.r.1", "b.r.1"]})
    assert codes(state_of([*SHOP, *tags, settled])) == []
    assert codes(state_of([*SHOP, change("b.r.1", "tag:T", {"filter": "filter:g"})])) == []  # another filter's tag
