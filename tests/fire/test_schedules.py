"""Seeded schedules against a server process, on both databases: whatever the faults, every promise of checks.py holds."""

import os

import pytest

from . import run
from .__main__ import soak

SCHEDULES = [("sqlite", seed) for seed in range(1, 13)] + [("postgresql", seed) for seed in range(101, 107)]
MARKS = {"sqlite": [pytest.mark.fire], "postgresql": [pytest.mark.fire, pytest.mark.postgresql]}


@pytest.fixture
def cluster_for(request):
    """The cluster for a store that needs one."""
    return lambda store: request.getfixturevalue("cluster") if store == "postgresql" else None


@pytest.mark.parametrize(("store", "seed"), [pytest.param(*one, marks=MARKS[one[0]]) for one in SCHEDULES])
def test_every_promise_holds_after_a_schedule(store, seed, cluster_for, tally_of):
    tally_of(store).add(run.real(seed, store, cluster_for(store)))


@pytest.mark.parametrize("store", [pytest.param(store, marks=marks) for store, marks in MARKS.items()])
def test_every_fault_took_place_in_the_schedules_above(store, tally_of):
    assert tally_of(store).missing() == []


@pytest.mark.soak
@pytest.mark.fire
@pytest.mark.postgresql
def test_every_promise_holds_for_as_long_as_was_asked_for(cluster, tally_of):
    tally, played = soak(("sqlite", "postgresql"), float(os.environ.get("ASHBOOK_SOAK_MINUTES", "1")), cluster)
    tally_of("soak").add(tally)
    assert played > 1 and tally.missing() == []
