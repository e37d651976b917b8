"""Held changes are told apart by whether a record is named by the hash of their text, on both databases. All invented."""

import pytest

from sync import change, exchange, lookup

from .making import made, pushed


def test_those_that_a_record_names_and_those_that_none_does_make_up_all(store):
    texts = [change.to_text(made(f"a.{n}", "job:one", {"flow": str(n)}, schema=2)) for n in range(3)]
    pushed(store, *texts)
    hashes = [change.content_hash(text) for text in texts]
    # one of them once more, under a hash that is not its own: another hold of the same text
    exchange.push(store, "b", [texts[0]], ["0" * 32])
    pushed(store, made("desk.1", f"held:{hashes[0]}", {"seen": "1"}), made("desk.2", f"note:{hashes[1]}", {"seen": "1"}))

    def told(**which):
        return [entry["hash"] for entry in lookup.held(store, **which)]

    assert told(but="held") == [hashes[2], hashes[1]] and told(only="held") == [hashes[0], hashes[0]]
    assert told(limit=1, but="held") == [hashes[2]] and len(told()) == 4 and told(only="owner") == []
    counts = [lookup.held_count(store, device, but=but) for device in (None, "a", "b") for but in (None, "held")]
    assert counts == [4, 2, 3, 2, 1, 0]
    assert [lookup.is_held(store, found) for found in (hashes[0], hashes[2], "0" * 32)] == [True, True, False]


@pytest.mark.parametrize("odd", ["", "x", "held", "%", "_" * 32])
def test_what_is_no_hash_of_a_held_change_is_not_held(store, odd):
    pushed(store, "{")
    assert not lookup.is_held(store, odd) and lookup.is_held(store, change.content_hash("{"))
