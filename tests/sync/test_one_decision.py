"""Several changes of one decision at the desk: stored together or not at all, whatever happens in between."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from sync import change, exchange, lookup

from .making import made, open_store, pushed, values

ROOT = Path(__file__).parents[2]
JOB = "job:one"


def two_of_one_decision():
    return [exchange.Entry("link:l", {"one": "filter:a", "other": "filter:b"}, {}),
            exchange.Entry("tag:t", {"filter": "filter:a"}, {"filter": ["a.r.1", "b.r.1"]})]


def test_the_changes_of_one_decision_are_stored_together(store):
    pushed(store, made("a.1", "tag:t", {"filter": "filter:a"}), made("b.1", "tag:t", {"filter": "filter:b"}))
    receipts = exchange.write_all(store, change.Pen("desk"), two_of_one_decision(), "person:ana")
    assert [(one["status"], one["position"]) for one in receipts] == [("stored", 3), ("stored", 4)]
    assert values(lookup.view(store, "tag:t"), "filter") == ["filter:a"]


@pytest.mark.parametrize("bad", ["link", "tag"])
def test_a_decision_of_which_one_change_does_not_fit_is_refused_whole_and_nothing_is_held(store, bad):
    with pytest.raises(change.Refused) as refused:
        exchange.write_all(store, change.Pen("desk"), two_of_one_decision(), "person:ana",
                           lambda one: "no_such_field" if one["kind"] == bad else None)
    assert refused.value.code == "no_such_field"
    with pytest.raises(change.Refused):  # a shape that no device could send
        exchange.write_all(store, change.Pen("desk"), [*two_of_one_decision(), exchange.Entry(JOB, {"flow": 2.5}, {})], "x")
    assert store.counter()["position"] == 0 and lookup.held_count(store) == 0


def test_a_decision_that_breaks_off_between_its_changes_leaves_neither(store, monkeypatch):
    real = exchange.next_chain

    def failing(chain, identity, text_hash):
        if identity.endswith(".2"):
            raise ZeroDivisionError
        return real(chain, identity, text_hash)

    monkeypatch.setattr(exchange, "next_chain", failing)
    with pytest.raises(ZeroDivisionError):
        exchange.write_all(store, change.Pen("desk"), two_of_one_decision(), "person:ana")
    assert store.counter()["position"] == 0 and store.snapshots(["link:l", "tag:t"]) == {}


def test_a_decision_killed_at_any_statement_leaves_both_changes_or_neither(store, url):
    store.close()
    for n in range(1, 100):  # ends when the process comes through
        done = subprocess.run([sys.executable, "-m", "tests.sync.dying", url, str(n), "decide"], cwd=ROOT)
        again = open_store(url)
        position, found = again.counter()["position"], again.snapshots(["link:l", "tag:t"])
        again.close()
        assert (position, len(found)) == ((2, 2) if done.returncode == 0 else (0, 0)), n
        if done.returncode == 0:
            break
        assert done.returncode == -signal.SIGKILL
    assert n > 5
