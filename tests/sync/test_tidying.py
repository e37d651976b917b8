"""SQLite's journal goes into the database beside the requests: nothing is lost, nobody waits, it ends when told."""

import threading
import time

import apsw
import pytest

from sync import tidying
from sync.log import LONGEST_JOURNAL, Unavailable

from .making import made, open_store, pushed

PATIENCE_S = 20


def filled(folder, many=60):
    """A store of some changes, all of them in the journal only."""
    store = open_store(f"sqlite:///{folder}/shop.db")
    pushed(store, *(made(f"a.{n}", f"job:j{n}", {"note": "x" * 500}) for n in range(1, many + 1)))
    return store


def in_the_file(folder):
    """How many changes the database file holds without its journal."""
    alone = apsw.Connection(f"file:{folder}/shop.db?immutable=1", flags=apsw.SQLITE_OPEN_READONLY | apsw.SQLITE_OPEN_URI)
    try:
        return next(alone.execute("SELECT COUNT(*) FROM change_log"))[0]
    except apsw.Error:
        return 0
    finally:
        alone.close()


def until(condition):
    """Waits for a condition, which is asked again and again."""
    end = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < end, "it did not come true"
        time.sleep(0.01)  # polls the condition


@pytest.fixture
def quick(monkeypatch):
    """A background that does not wait long for quiet."""
    monkeypatch.setattr(tidying, "QUIET_S", 0.01)
    monkeypatch.setattr(tidying, "LONGEST_WAIT_S", 0.05)


def test_a_commit_leaves_the_moving_to_the_background(tmp_path):
    store = filled(tmp_path)
    assert store.rows("PRAGMA wal_autocheckpoint") == [(LONGEST_JOURNAL,)] and in_the_file(tmp_path) == 0
    assert tidying.tidy(store) == 0
    assert in_the_file(tmp_path) == 60
    store.close()


def test_the_background_moves_what_was_written(tmp_path, quick):
    store = filled(tmp_path)
    background = tidying.Tidying(store)
    background.start()
    until(lambda: in_the_file(tmp_path) == 60)
    pushed(store, made("a.61", "job:j61", {"note": "x"}))
    until(lambda: in_the_file(tmp_path) == 61)
    background.stop()
    assert not background._thread.is_alive()
    store.close()


def test_who_reads_an_older_state_goes_on_reading_it_and_the_rest_is_moved_later(tmp_path):
    store = filled(tmp_path, 30)
    reader = apsw.Connection(f"{tmp_path}/shop.db")
    reader.execute("BEGIN")
    count = reader.execute("SELECT COUNT(*) FROM change_log")
    assert next(count) == (30,)
    pushed(store, *(made(f"b.{n}", f"job:k{n}", {"note": "y" * 500}) for n in range(1, 31)))
    assert tidying.tidy(store) > 0
    assert next(reader.execute("SELECT COUNT(*) FROM change_log")) == (30,)
    reader.execute("COMMIT")
    reader.close()
    assert tidying.tidy(store) == 0 and in_the_file(tmp_path) == 60
    store.close()


def test_trouble_with_the_disk_does_not_end_it(tmp_path, quick, monkeypatch):
    store = filled(tmp_path)
    tried, real = threading.Event(), tidying.tidy

    def fails(_store):
        tried.set()
        raise Unavailable("disk full")

    monkeypatch.setattr(tidying, "tidy", fails)
    background = tidying.Tidying(store)
    background.start()
    assert tried.wait(PATIENCE_S)
    monkeypatch.setattr(tidying, "tidy", real)
    pushed(store, made("a.61", "job:j61", {"note": "x"}))
    until(lambda: in_the_file(tmp_path) == 61)
    background.stop()
    store.close()


def test_a_store_that_needs_none_has_none(store):
    background = tidying.Tidying(store)
    if store.is_postgresql:
        background.start()
    background.stop()
    assert not background._thread.is_alive()
