"""The tallies of this run, said at its end, and a database cluster for the schedules on PostgreSQL."""

import pytest

from tests.sync.conftest import Cluster

from .faults import Tally

tallies = {}


@pytest.fixture(scope="session")
def tally_of():
    """Store → the tally of all schedules of this run on it."""
    return lambda store: tallies.setdefault(store, Tally())


@pytest.fixture(scope="session")
def cluster():
    """A PostgreSQL server of its own: filling its disk takes it down for a moment."""
    started = Cluster()
    yield started
    started.stop()


def pytest_terminal_summary(terminalreporter):
    """How often each fault took place."""
    for store, tally in tallies.items():
        terminalreporter.section(f"faults on {store}")
        for line in tally.lines():
            terminalreporter.write_line(line)
