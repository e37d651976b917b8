"""The schedule of three devices proves itself: each planted fault must be found by it."""

import copy

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from sync import client, exchange, merge

from .test_schedule import Schedule

real_lay, real_push, real_page = merge.lay, client.Client.push, client.Client._take_page


def forget_the_gone(snapshot, change):
    """A replaced answer that comes late stands again."""
    moved = real_lay(snapshot, change)
    snapshot["gone"].clear()
    return moved


def last_one_wins(snapshot, change):
    """Whoever comes last takes the field."""
    for field in change["set"]:
        snapshot["heads"][field] = [merge.answer_of(change, field)]
    return sorted(change["set"])


def settle_whatever_is_there(snapshot, change):
    """A change replaces all that stands, seen or not."""
    wider = copy.deepcopy(change)
    for field in change["set"]:
        standing = [answer["id"] for answer in snapshot["heads"].get(field, []) if answer["id"] != change["id"]]
        wider["replaces"][field] = wider["replaces"].get(field, []) + standing
    return real_lay(snapshot, wider)


def whole_row_save(snapshot, change):
    """A write of one field takes the others back to what is in the change."""
    moved = real_lay(snapshot, change)
    for field in list(snapshot["heads"]):
        if field not in change["set"] and len(change["set"]) > 1:
            snapshot["heads"][field] = []
            moved.append(field)
    return moved


def clear_the_queue_once_sent(self):
    """The queue was sent, so it is emptied, whatever came back."""
    try:
        return real_push(self)
    except client.Offline:
        with self.disk:
            self.disk.execute("UPDATE outbox SET status = 'stored' WHERE status = 'waiting'")
        raise


def move_the_cursor_without_the_rows(self, page):
    """The cursor is kept and the rows are lost, as in a crash between the two."""
    return real_page(self, {**page, "records": page["records"][1:]})


def no_epoch_and_no_chain(store, place, end=None):
    """A cursor is a bare number."""
    return place is None or place["position"] <= store.counter()["position"]


FAULTS = [
    (merge, "lay", forget_the_gone), (merge, "lay", last_one_wins), (merge, "lay", settle_whatever_is_there),
    (merge, "lay", whole_row_save), (client.Client, "push", clear_the_queue_once_sent),
    (client.Client, "_take_page", move_the_cursor_without_the_rows), (exchange, "fits", no_epoch_and_no_chain),
]


@pytest.mark.parametrize(("where", "name", "fault"), FAULTS, ids=[fault.__name__ for _, _, fault in FAULTS])
def test_the_schedule_finds_the_planted_fault(monkeypatch, where, name, fault):
    monkeypatch.setattr(where, name, fault)
    with pytest.raises((Exception, BaseExceptionGroup)) as found:
        run_state_machine_as_test(Schedule, settings=settings(
            max_examples=400, stateful_step_count=30, derandomize=True, print_blob=False,
            phases=[Phase.generate], report_multiple_bugs=False, suppress_health_check=list(HealthCheck)))
    assert isinstance(found.value, AssertionError | KeyError), found.value
