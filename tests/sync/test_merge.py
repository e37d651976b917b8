"""The merge is a pure function of the set of changes."""

import copy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sync import merge

from .making import long_id, made, policy_of, values

JOB = "job:one"
FIELDS = ("weight", "flow", "note")


@st.composite
def histories(draw):
    """Changes of one record by devices that have seen any part of what came before."""
    changes = []
    for number in range(draw(st.integers(1, 9))):
        fields = draw(st.lists(st.sampled_from(FIELDS), min_size=1, max_size=3, unique=True))
        seen = [one["id"] for one in changes if draw(st.booleans())]
        replaces = {field: [identity for identity in seen if any(
            one["id"] == identity and field in one["set"] for one in changes)] for field in fields}
        answers = {field: draw(st.sampled_from(["1", "2", "3"])) for field in fields}
        change = made(f"{draw(st.sampled_from('abc'))}.{number}", JOB, answers, lamport=draw(st.integers(0, 5)))
        change["replaces"] = replaces
        changes.append(change)
    return changes


def oracle(changes):
    """The standing answers by the plain definition: (field, id, value) that no change of the set replaces."""
    return {(field, one["id"], one["set"][field]) for one in changes for field in one["set"]
            if not any(one["id"] in other["replaces"].get(field, []) for other in changes)}


def stood(snapshot):
    heads = snapshot["heads"]
    return {(field, answer["id"], answer["value"]) for field in heads for answer in heads[field]}


@settings(max_examples=300)
@given(histories(), st.data())
def test_any_order_any_repetition_and_any_batching_give_the_same_bytes(changes, data):
    expected = merge.canonical(merge.apply_all(None, changes))
    repeated = data.draw(st.permutations(changes + data.draw(st.lists(st.sampled_from(changes), max_size=5))))
    snapshot, rest = None, list(repeated)
    while rest:
        size = data.draw(st.integers(1, len(rest)))
        snapshot, rest = merge.apply_all(snapshot, rest[:size]), rest[size:]
    assert merge.canonical(snapshot) == expected


@settings(max_examples=300)
@given(histories())
def test_what_stands_is_what_nobody_replaced_and_nothing_else(changes):
    assert stood(merge.apply_all(None, changes)) == oracle(changes)


@settings(max_examples=200)
@given(histories(), st.data())
def test_replaced_answers_never_stand_while_changes_are_still_on_their_way(changes, data):
    order = data.draw(st.permutations(changes))
    for length in range(1, len(order) + 1):
        assert stood(merge.apply_all(None, order[:length])) == oracle(order[:length])


@settings(max_examples=100)
@given(histories())
def test_laying_over_leaves_the_given_snapshot_and_changes_as_they_were(changes):
    snapshot = merge.apply_all(None, changes[:1])
    before = copy.deepcopy((snapshot, changes))
    merge.apply_all(snapshot, changes)
    assert (snapshot, changes) == before


def test_two_different_answers_are_open_and_two_equal_ones_are_settled():
    one = made("a.1", JOB, {"weight": {"n": "18.0", "u": "kg"}})
    other = made("b.1", JOB, {"weight": {"u": "kg", "n": "18"}})
    read = merge.view(merge.apply_all(None, [one, other]), policy_of)["fields"]["weight"]
    assert read["open"] and read["used"] is None and len(read["answers"]) == 2  # 18.0 is not 18
    other = made("b.1", JOB, {"weight": {"u": "kg", "n": "18.0"}})
    read = merge.view(merge.apply_all(None, [one, other]), policy_of)["fields"]["weight"]
    assert not read["open"] and read["used"] == {"n": "18.0", "u": "kg"}


def test_different_fields_never_ask_a_question():
    changes = [made("a.1", JOB, {"weight": "1"}), made("b.1", JOB, {"flow": "2"})]
    fields = merge.view(merge.apply_all(None, changes), policy_of)["fields"]
    assert [fields[name]["open"] for name in ("flow", "weight")] == [False, False]


def test_settling_covers_what_was_seen_and_a_late_third_answer_opens_it_again():
    two = [made("a.1", JOB, {"flow": "1"}), made("b.1", JOB, {"flow": "2"})]
    settled = two + [made("desk.1", JOB, {"flow": "2"}, {"flow": ["a.1", "b.1"]})]
    view = merge.view(merge.apply_all(None, settled), policy_of)
    assert values(view, "flow") == ["2"] and not view["fields"]["flow"]["open"]
    late = settled + [made("c.1", JOB, {"flow": "3"})]
    view = merge.view(merge.apply_all(None, late), policy_of)
    assert values(view, "flow") == ["3", "2"] and view["fields"]["flow"]["open"]


@pytest.mark.parametrize("years", [-10, 10])
def test_the_clock_decides_nothing(years):
    at = f"{2026 + years}-11-25T17:40:00.000Z"
    changes = [made("a.1", JOB, {"note": "x"}, lamport=2), made("b.1", JOB, {"note": "y"}, lamport=1, at=at)]
    read = merge.view(merge.apply_all(None, changes), policy_of)["fields"]["note"]
    assert read["used"] == "x" and read["open"]


def test_a_harmless_field_shows_the_highest_lamport_and_then_the_highest_id():
    changes = [made("a.1", JOB, {"note": "x"}, lamport=5), made("b.1", JOB, {"note": "y"}, lamport=5)]
    assert merge.view(merge.apply_all(None, changes), policy_of)["fields"]["note"]["used"] == "y"


def test_a_change_that_was_replaced_before_it_came_still_replaces_what_it_had_seen():
    first, second = made("a.1", JOB, {"flow": "1"}), made("a.2", JOB, {"flow": "2"}, {"flow": ["a.1"]})
    third = made("b.1", JOB, {"flow": "3"}, {"flow": ["a.2"]})
    assert stood(merge.apply_all(None, [third, second, first])) == {("flow", long_id("b.1"), "3")}


def test_lay_names_exactly_the_fields_whose_standing_answers_changed():
    snapshot = merge.empty(JOB, "job")
    assert merge.lay(snapshot, made("b.1", JOB, {"flow": "2", "note": "n"}, {"flow": ["a.1"]})) == ["flow", "note"]
    assert merge.lay(snapshot, made("a.1", JOB, {"flow": "1", "weight": "w"})) == ["weight"]
    assert merge.lay(snapshot, made("a.1", JOB, {"flow": "1", "weight": "w"})) == []


def test_a_change_of_another_record_is_refused_loudly():
    with pytest.raises(ValueError, match="does not belong"):
        merge.apply(merge.empty(JOB, "job"), made("a.1", "job:two", {"flow": "1"}))
    with pytest.raises(ValueError, match="no record"):
        merge.apply_all(None, [])


def test_the_basis_travels_with_the_answer():
    change = made("a.1", JOB, {"signoff": {"decision": "replace"}}, basis={"verdict": "replace"})
    assert merge.standing(merge.apply(None, change), "signoff")[0]["basis"] == {"verdict": "replace"}
    assert merge.standing(None, "signoff") == []


def test_canonical_text_is_equal_for_equal_values_only():
    assert merge.canonical({"b": [1, 2.0, True, None, False], "a": 'q"\\\n\x1f'}) == \
        '{"a":"q\\"\\\\\\u000a\\u001f","b":[1,2,true,null,false]}'
    assert merge.canonical(True) != merge.canonical(1)
    assert merge.canonical("1") != merge.canonical(1)
    assert merge.canonical(0.25) == "0.25"
    assert merge.canonical("é") == '"é"'
    for bad in (float("nan"), float("inf"), object()):
        with pytest.raises(ValueError, match=r"not a finite|no JSON"):
            merge.canonical(bad)


def test_a_field_whose_answers_replace_each_other_in_a_circle_is_not_shown():
    changes = [made("a.1", JOB, {"flow": "1"}, {"flow": ["b.1"]}), made("b.1", JOB, {"flow": "2"}, {"flow": ["a.1"]})]
    assert merge.view(merge.apply_all(None, changes), policy_of)["fields"] == {}
