"""One schedule, played with true clocks and again with clocks that are years off and jump: the books are the same.

What a schedule's steps are comes from its seed alone; only `at` differs, and it is left out of the comparison.
"""

import datetime
import json
import random

import pytest

from sync import lookup, merge, wire
from sync.client import Client, Offline
from tests.sync.making import open_store, policy_of

DEVICES = ("van", "bench", "ravn", "kim")
STEPS = 120
YEAR_S = 365 * 86400
START = datetime.datetime(2026, 11, 25, 8, 0, tzinfo=datetime.UTC)


def true_clock(_device, step, _draw):
    """One second a step, the same for all."""
    return step


def false_clock(device, step, draw):
    """Ten years ahead, ten behind, one that stands still, one that jumps about by days; none agrees with another."""
    return {"van": step + 10 * YEAR_S, "bench": step - 10 * YEAR_S, "ravn": 0, "kim": draw.randrange(-30, 30) * 86400}[device]


def time_text(seconds):
    """The time that a clock shows, as a change says it."""
    shown_time = START + datetime.timedelta(seconds=seconds)
    return shown_time.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def shown(view):
    """What a screen reads of a record."""
    return {field: [found["used"], found["open"]] for field, found in view["fields"].items()}


def link_of(store, name, is_lost):
    """A device's way to the server, which loses answers while is_lost[0]."""
    def post(route, body):
        status, answer = wire.answer_push(store, name, body) if route == "push" else wire.answer_pull(store, body, limit=3)
        assert status == 200, answer
        if is_lost[0]:
            raise Offline("the answer was lost")
        return json.dumps(answer).encode()

    return post


def played(seed, clock, folder):
    """(canonical standing answers without their times, ids of the log, number of questions) after a schedule."""
    store = open_store(f"sqlite:///{folder}/{seed}-{clock.__name__}.db")
    draw, time_draw, is_lost = random.Random(seed), random.Random(seed + 1), [False]

    devices = {name: Client(":memory:", name, link_of(store, name, is_lost), policy_of) for name in DEVICES}
    for name, client in devices.items():
        client.pen.run = f"run-of-{name}"  # the ids are the same in both
    for step in range(STEPS):
        name, action = draw.choice(DEVICES), draw.choice(("write", "write", "sync", "lost"))
        record, field, value = f"job:j{draw.randrange(4)}", draw.choice(("flow", "note", "weight")), str(draw.randrange(3))
        at = time_text(clock(name, step, time_draw))
        if action == "write":
            devices[name].write(record, {field: value}, f"person:{name}", at=at)
            continue
        is_lost[0] = action == "lost"
        try:
            devices[name].sync()
        except Offline:
            assert is_lost[0]
    is_lost[0] = False
    for _ in range(2):
        for client in devices.values():
            client.sync()
    heads = {record: {field: [{key: one[key] for key in one if key != "at"} for one in answers]
                      for field, answers in snapshot["heads"].items()}
             for record, snapshot in store.snapshots([f"job:j{n}" for n in range(4)]).items()}
    read = {record: shown(view) for record, view in lookup.views(store, list(heads)).items()}
    for client in devices.values():
        assert {record: shown(client.view(record)) for record in client.records()} == read
        client.close()
    ids = [entry["id"] for entry in lookup.entries(store, limit=1000)]
    store.close()
    return merge.canonical(heads), ids, merge.canonical(read)


@pytest.mark.parametrize("seed", range(8))
def test_a_schedule_comes_to_the_same_with_true_and_with_false_clocks(seed, tmp_path):
    true = played(seed, true_clock, tmp_path)
    assert played(seed, false_clock, tmp_path) == true
    assert len(true[1]) > 30 and "true" in true[2]  # it did something, and somebody is asked a question
