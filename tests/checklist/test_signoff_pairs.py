"""Every pair of decisions that two persons sign at the same time, neither having seen the other's, through the real merge.

What must come of it is worked out here by hand, not by the calculation: two different words are a hold until somebody
settles them, and replace where one of them says so; nobody's worse word is ever overridden.
"""

import itertools

import pytest

from sync import merge
from tests.checklist.test_case import ROUND, good_job, state_of
from tests.sync.making import made
from webform.checklist.case import basis_of
from webform.checklist.lookup import policy_of

DECISIONS = ("replace", "hold", "clean_again", "clean", "ok_to_reinstall")
PAIRS = list(itertools.product(DECISIONS, repeat=2))


def signed(device, decision, lamport, seen, replaces=()):
    value = {"decision": decision, "reason": "as seen", "person": "person:kim"}
    return made(f"{device}.1", "job:j", {"signoff": value}, {"signoff": list(replaces)}, lamport=lamport,
                basis=basis_of(seen))


def shown(changes):
    """The job's state with these sign-offs, as phone and desk show it."""
    heads = merge.view(merge.apply_all(None, changes), policy_of)["fields"]["signoff"]["answers"]
    return state_of(good_job(signoff=heads), ROUND)


@pytest.mark.parametrize(("one", "other"), PAIRS, ids=lambda code: code)
def test_of_two_sign_offs_at_the_same_time_the_worse_holds_in_either_order(one, other):
    seen = state_of(good_job(), ROUND)
    for first, second in itertools.permutations((1, 9)):  # whoever's device counts further
        pair = [signed("d", one, first, seen), signed("e", other, second, seen)]
        states = [shown(order) for order in itertools.permutations(pair)]
        assert states[0] == states[1]
        assert states[0]["verdict"] == (one if one == other else "replace" if "replace" in (one, other) else "hold")
        assert states[0]["may_issue"] == (one == other), "until somebody has settled it no report is final"


@pytest.mark.parametrize(("one", "other"), PAIRS, ids=lambda code: code)
def test_who_had_seen_the_other_sign_off_may_override_it(one, other):
    seen = state_of(good_job(), ROUND)
    for order in itertools.permutations([signed("d", one, 1, seen), signed("e", other, 2, seen, replaces=["d.1"])]):
        state = shown(order)
        assert (state["verdict"], state["may_issue"]) == (other, True)
