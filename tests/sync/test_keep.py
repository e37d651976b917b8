"""Copies of a store and stores made from them, on SQLite and on PostgreSQL alike."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sync import keep, lookup, wire
from sync.client import Client
from sync.log import Unavailable
from sync.verify import verify

from .filling import fill, records
from .making import long_id, made, open_store, policy_of, pushed
from .older import everything

ROOT = Path(__file__).parents[2]
JOB = "job:one"


@pytest.fixture
def filled(store):
    fill(store)
    return store


@pytest.fixture
def other(tmp_path):
    """An empty SQLite store."""
    opened = open_store(f"sqlite:///{tmp_path}/other.db")
    yield opened
    opened.close()


def test_a_store_made_from_the_entries_of_another_says_the_same_under_a_new_epoch(filled, other):
    entries = json.loads(json.dumps(list(keep.entries(filled))))
    keep.load(other, entries)
    for found, stood in zip(everything(other).items(), everything(filled).items(), strict=True):
        if found[0] == "counter":
            found, stood = (found[1][0][:2], found[1][0][3]), (stood[1][0][:2], stood[1][0][3])
        assert found == stood
    assert other.counter()["epoch"] != filled.counter()["epoch"]
    assert verify(other).problems == [] and records(other) == records(filled)
    pushed(other, made("n.1", JOB, {"flow": "1"}), "{also broken")
    assert verify(other).problems == []


def test_a_load_that_stops_half_way_leaves_the_store_empty(filled, other):
    def cut():
        for n, entry in enumerate(keep.entries(filled)):
            if n == 20:
                raise OSError("the stick was pulled out")
            yield entry

    before = other.counter()
    with pytest.raises(Unavailable, match="pulled out"):
        keep.load(other, cut())
    assert other.counter() == before and records(other) == {} and verify(other).problems == []


def test_many_entries_are_loaded_in_pieces(filled, other, monkeypatch):
    monkeypatch.setattr(keep, "PAGE", 7)
    keep.load(other, keep.entries(filled))
    assert verify(other).problems == [] and records(other) == records(filled)
    assert verify(filled).counts == verify(other).counts == {"changes": 43, "texts": 42, "erased": 1, "records": 6, "held": 3}


def test_copies_made_under_load_hold_all_that_was_acknowledged_before(store, url, tmp_path):
    writers = [subprocess.Popen([sys.executable, "-m", "tests.sync.writing", url, f"w{n}", "60"], text=True, cwd=ROOT,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE) for n in range(2)]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
        writer.stdin.write("go\n")
        writer.stdin.flush()
    positions = []
    while any(writer.poll() is None for writer in writers):
        acknowledged = store.counter()
        if store.is_postgresql:
            copy = open_store(f"sqlite:///{tmp_path}/copy{len(positions)}.db")
            keep.load(copy, keep.entries(store))
        else:
            path = f"{tmp_path}/copy{len(positions)}.db"
            keep.copy_sqlite(store, path)
            copy = open_store(f"sqlite:///{path}", is_as_found=True)
        assert verify(copy).problems == [] == verify(store).problems
        assert copy.chain_at(acknowledged["position"]) == acknowledged["chain"]
        positions.append(copy.counter()["position"])
        copy.close()
    for writer in writers:
        writer.communicate()
        assert writer.returncode == 0
    assert len({position for position in positions if 0 < position < store.counter()["position"]}) >= 2, positions


def test_after_a_restore_a_client_sends_again_what_the_backup_does_not_hold(tmp_path):
    """Two hundred changes after the backup, the server put back: all are there again, none twice."""
    address = f"sqlite:///{tmp_path}/shop.db"
    store = open_store(address)

    def post(route, body):
        answer = wire.answer_push(store, "van", body) if route == "push" else wire.answer_pull(store, body)
        return json.dumps(answer[1]).encode()

    van = Client(f"{tmp_path}/van.db", "van", post, policy_of)
    written = [van.write(f"job:j{n % 9}", {f"flow{n}": str(n)}, "person:kim") for n in range(50)]
    van.sync()
    keep.copy_sqlite(store, f"{tmp_path}/backup.db")
    written += [van.write(f"job:j{n % 9}", {f"flow{n}": str(n)}, "person:kim") for n in range(50, 250)]
    van.sync()
    before = records(store)
    assert store.counter()["position"] == 250 and van.waiting() == []
    store.close()
    for name in ("shop.db", "shop.db-wal", "shop.db-shm"):
        Path(tmp_path, name).unlink(missing_ok=True)
    shutil.move(f"{tmp_path}/backup.db", f"{tmp_path}/shop.db")
    store = open_store(address)
    store.begin_epoch()
    assert store.counter()["position"] == 50
    van.sync()
    assert sorted(entry["id"] for entry in lookup.entries(store)) == sorted(written)
    assert van.waiting() == [] and records(store) == before and verify(store).problems == []
    van.close()
    store.close()


@pytest.mark.postgresql
def test_a_replaced_postgresql_store_keeps_what_was_there_in_a_schema(cluster, other):
    fill(other)
    url = cluster.new_url()
    old = open_store(url)
    pushed(old, made("o.1", JOB, {"flow": "1"}))
    old.rows("CREATE TABLE derived (number INTEGER)")
    old.rows("CREATE TABLE of_somebody_else (number INTEGER)")
    old.close()
    new = keep.replace(url, keep.entries(other), "before_1", lambda db: open_store(url, db=db), ("derived", "not_there"))
    assert verify(new).problems == [] and records(new) == records(other)
    assert new.rows("SELECT id FROM before_1.change_log") == [(long_id("o.1"),)]
    assert not new.has_table("derived") and new.rows("SELECT * FROM before_1.derived") == []
    assert new.has_table("of_somebody_else")
    new.close()


@pytest.mark.postgresql
def test_a_replacement_that_stops_half_way_changes_nothing(cluster, other):
    fill(other)

    def cut():
        yield from list(keep.entries(other))[:30]
        raise OSError("the stick was pulled out")

    url = cluster.new_url()
    with pytest.raises(Unavailable):
        keep.replace(url, cut(), "before_1", lambda db: open_store(url, db=db))
    old = open_store(url)  # where nothing was, nothing is put aside
    pushed(old, made("o.1", JOB, {"flow": "1"}))
    with pytest.raises(Unavailable):
        keep.replace(url, cut(), "before_1", lambda db: open_store(url, db=db))
    assert old.counter()["position"] == 1 and verify(old).problems == []
    assert old.rows("SELECT 1 FROM pg_namespace WHERE nspname = 'before_1'") == []
    old.close()


def test_a_database_out_of_reach_cannot_be_replaced(other):
    with pytest.raises(Unavailable):  # nothing listens on port 1
        keep.replace("postgresql://127.0.0.1:1/shop", keep.entries(other), "before_1", lambda db: other)
