"""A seal proves every part of a report, and goes on proving the rest when a part was erased. All contents are invented."""

import copy
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform import sealing
from webform.sealing import ERASED

CONTENT = {"shop": {"name": "Häfen"}, "facts": [{"label": "Owner", "text": "Mara Quill"}, {"label": "Tag", "text": "7K3M"}],
           "stages": [], "removed": None, "may_issue": True, "count": 4, "a/b~c": "x", "decision": {}}
OWNER = "/facts/0/text"
ANYTHING = st.recursive(st.none() | st.booleans() | st.integers(-5, 5) | st.text(max_size=4), lambda inner: st.lists(
    inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3), max_leaves=8)


def altered():
    """CONTENT with one thing changed, added, taken out or moved, each in turn."""
    for path in ("shop", "stages", "removed", "may_issue", "count", "a/b~c", "decision"):
        changed = copy.deepcopy(CONTENT)
        changed[path] = "something else"
        yield changed
        gone = copy.deepcopy(CONTENT)
        del gone[path]
        yield gone
    yield {**CONTENT, "more": ""}
    yield {**CONTENT, "facts": CONTENT["facts"][::-1]}
    yield {**CONTENT, "facts": CONTENT["facts"][:1]}
    yield {**CONTENT, "count": "4"}
    yield {**CONTENT, "may_issue": 1}


def test_a_seal_fits_what_was_sealed_and_nothing_else():
    seal, opening = sealing.seal(CONTENT)
    assert sealing.is_sealed(json.loads(json.dumps(CONTENT)), opening, seal) and len(seal) == 32
    for content in altered():
        assert not sealing.is_sealed(content, opening, seal), content
    assert not sealing.is_sealed(CONTENT, opening, "0" * 32)
    assert sealing.seal(CONTENT)[0] != seal, "each seal has salts of its own"


def test_what_is_left_after_erasing_is_still_proven_by_the_same_seal():
    seal, opening = sealing.seal(CONTENT)
    content, left = sealing.erase(CONTENT, opening, [OWNER])
    assert content["facts"] == [{"label": "Owner", "text": ERASED}, {"label": "Tag", "text": "7K3M"}]
    assert sealing.is_sealed(content, left, seal)
    again, less = sealing.erase(content, left, ["/shop/name"])
    assert again["shop"]["name"] == again["facts"][0]["text"] == ERASED and sealing.is_sealed(again, less, seal)
    for changed in ({**again, "count": 5}, {**again, "facts": [{"label": "Owner", "text": "Mara Quill"}, again["facts"][1]]},
                    {**again, "facts": [{"label": "Owner", "text": "Somebody"}, again["facts"][1]]}):
        assert not sealing.is_sealed(changed, less, seal), changed


def test_whoever_guesses_an_erased_text_cannot_prove_the_guess():
    _seal, opening = sealing.seal(CONTENT)
    _content, left = sealing.erase(CONTENT, opening, [OWNER])
    assert "key" not in left and OWNER not in left["salts"] and set(left["marks"]) == {OWNER}
    assert opening["key"] not in json.dumps(left)


@pytest.mark.parametrize("opening", [{}, {"key": "no hex"}, {"salts": {}}, {"salts": {}, "marks": {OWNER: "0"}}, [], None,
                                     {"key": 5}])
def test_an_opening_that_is_spoilt_proves_nothing(opening):
    assert not sealing.is_sealed(CONTENT, opening, sealing.seal(CONTENT)[0])


@given(ANYTHING, ANYTHING)
def test_any_two_contents_that_differ_have_marks_that_differ(one, other):
    seal, opening = sealing.seal(one)
    assert sealing.is_sealed(one, opening, seal)
    assert sealing.is_sealed(other, opening, seal) == (json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True))
