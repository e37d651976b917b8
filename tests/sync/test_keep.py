"""Copies of a store, stores made from them, and the proof of a store, on SQLite and on PostgreSQL alike."""

import json
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from sync import change, exchange, keep, lookup, wire
from sync.client import Client
from sync.log import Unavailable
from sync.verify import verify

from .making import long_id, made, open_store, policy_of, pushed
from .older import everything

ROOT = Path(__file__).parents[2]
JOB = "job:one"


def fill(store):
    """Two answers, references, held changes of three kinds, one of them stored later, and an erased text."""
    pushed(store, made("a.1", "owner:haul", {"name": "Invented Haulage"}))
    for n in range(1, 21):
        pushed(store, made(f"v.{n}", f"job:j{n % 5}", {"filter": f"filter:f{n % 3}", f"flow{n % 2}": {"n": f"{n}.0", "u": "Pa"}},
                           lamport=n), made(f"w.{n}", f"job:j{n % 5}", {"note": f"naïve {n}"},
                                            {"note": [f"w.{n - 5}"]} if n > 5 else None))
    pushed(store, made("a.2", "owner:haul", {"name": None}, {"name": ["a.1"]}))
    exchange.erase(store, "owner:haul")
    pushed(store, "{broken", "{broken", made("z.1", "job:j2", {"flow2": "1"}, schema=2))
    text = change.to_text(made("z.2", "job:j3", {"flow2": "1"}))
    exchange.push(store, "z", [text + " "], [change.content_hash(text)])
    exchange.push(store, "z", [text], [change.content_hash(text)])


def records(store):
    """The heads of every record, whatever pages they come in."""
    return {entry["record"]: entry["heads"] for entry in exchange.pull(store, None, limit=10_000)["records"]}


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


def codes(store):
    return {problem.code for problem in verify(store).problems}


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


def test_records_are_made_anew_from_the_log(filled):
    before = everything(filled)
    filled.rows("UPDATE snapshot SET json = '{}' WHERE kind = 'job'")
    filled.rows("DELETE FROM ref")
    assert codes(filled) == {"record_differs", "references_differ"}
    keep.rebuild(filled)
    assert everything(filled) == before and verify(filled).problems == []


def test_a_database_out_of_reach_cannot_be_replaced(other):
    with pytest.raises(Unavailable):  # nothing listens on port 1
        keep.replace("postgresql://127.0.0.1:1/shop", keep.entries(other), "before_1", lambda db: other)


TAMPERINGS = {
    "text edited": (["UPDATE change_log SET body = replace(body, '7.0', '1.0') WHERE position = 14"], "text_altered"),
    "text no JSON, with its hash": ([f"UPDATE change_log SET body = '7', hash = '{change.content_hash('7')}' "
                                     "WHERE position = 14"], "text_altered"),
    "text cut, with its hash": ([f"UPDATE change_log SET body = '[', hash = '{change.content_hash('[')}' "
                                 "WHERE position = 14"], "text_altered"),
    "text half a change, with its hash": ([f"UPDATE change_log SET body = '{{}}', hash = '{change.content_hash('{}')}' "
                                           "WHERE position = 14"], "text_altered"),
    "text removed": (["UPDATE change_log SET body = NULL WHERE position = 14"], "text_missing"),
    "hash edited": (["UPDATE change_log SET hash = 'f' WHERE position = 14"], "chain_broken"),
    "id edited": (["UPDATE change_log SET id = 'v.r.999' WHERE position = 14"], "chain_broken"),
    "chain edited": (["UPDATE change_log SET chain = 'f' WHERE position = 14"], "chain_broken"),
    "record edited": (["UPDATE change_log SET record = 'job:j1' WHERE position = 14"], "row_altered"),
    "record new": (["UPDATE change_log SET record = 'job:new' WHERE position = 14"], "record_missing"),
    "kind edited": (["UPDATE change_log SET kind = 'tag' WHERE position = 14"], "row_altered"),
    "line deleted": (["DELETE FROM change_log WHERE position = 14"], "not_gap_free"),
    "line deleted and the rest moved up": (["DELETE FROM change_log WHERE position = 43", "UPDATE change_log SET "
                                            "position = 43 WHERE position = 42"], "not_gap_free"),
    "two lines swapped": (["UPDATE change_log SET position = 1000 WHERE position = 14",
                           "UPDATE change_log SET position = 14 WHERE position = 15",
                           "UPDATE change_log SET position = 15 WHERE position = 1000"], "chain_broken"),
    "line put in": (["INSERT INTO change_log SELECT 44, 'x.r.1', hash, chain, record, kind, device, received_at, body "
                     "FROM change_log WHERE position = 43"], "chain_broken"),
    "line put in before the first": (["INSERT INTO change_log SELECT -1, 'x.r.1', hash, chain, record, kind, device, "
                                      "received_at, body FROM change_log WHERE position = 43"], "not_gap_free"),
    "tail cut": (["DELETE FROM change_log WHERE position > 40"], "end_differs"),
    "tail cut and the counter set back": (["DELETE FROM change_log WHERE position > 40", "UPDATE counter SET position = 40, "
                                           "chain = (SELECT chain FROM change_log WHERE position = 40)"], "record_differs"),
    "all cut": (["DELETE FROM change_log"], "end_differs"),
    "counter deleted": (["DELETE FROM counter"], "end_differs"),
    "record's answer edited": (["UPDATE snapshot SET json = replace(json, '17.0', '1.0') WHERE record = 'job:j2'"],
                               "record_differs"),
    "record's kind edited": (["UPDATE snapshot SET kind = 'tag' WHERE record = 'job:j2'"], "record_differs"),
    "record's place edited": (["UPDATE snapshot SET position = 1000 WHERE record = 'job:j2'"], "record_differs"),
    "record no JSON": (["UPDATE snapshot SET json = '{' WHERE record = 'job:j2'"], "record_differs"),
    "record of another shape": (["UPDATE snapshot SET json = '{\"heads\":{},\"gone\":{},\"moved\":{}}' "
                                 "WHERE record = 'job:j2'"], "record_differs"),
    "record's moves edited": (["UPDATE snapshot SET json = replace(json, '\"moved\":{', '\"moved\":{\"x\":1,') "
                               "WHERE record = 'job:j2'"], "record_differs"),
    "erased record's moves edited": (["UPDATE snapshot SET json = replace(json, '\"moved\":{\"name\":42', "
                                      "'\"moved\":{\"name\":41') WHERE record = 'owner:haul'"], "record_differs"),
    "record deleted": (["DELETE FROM snapshot WHERE record = 'job:j2'"], "record_missing"),
    "record put in": (["INSERT INTO snapshot SELECT 'job:new', kind, 1000, json FROM snapshot WHERE record = 'job:j2'"],
                      "record_differs"),
    "reference deleted": (["DELETE FROM ref WHERE record = 'job:j2' AND target = 'filter:f1'"], "references_differ"),
    "reference put in": (["INSERT INTO ref VALUES ('job:new', 'filter', 'filter:f1')"], "references_differ"),
    "held text edited": (["UPDATE held SET body = (SELECT body FROM held WHERE number = 1) WHERE number = 2"], "held_altered"),
    "held hash edited": (["UPDATE held SET raw_hash = 'f' WHERE number = 2"], "held_altered"),
    "held hash stated edited": (["UPDATE held SET stated_hash = 'f' WHERE number = 2"], "held_end_differs"),
    "held device edited": (["UPDATE held SET device = 'f' WHERE number = 2"], "held_end_differs"),
    "held deleted": (["DELETE FROM held WHERE number = 2"], "held_missing"),
    "last held deleted": (["DELETE FROM held WHERE number = 3"], "held_end_differs"),
    "held hidden": (["UPDATE held SET resolved_at = 'now' WHERE number = 1"], "held_hidden"),
}


@pytest.mark.parametrize("name", TAMPERINGS)
def test_tampering_with_direct_sql_is_found(filled, name):
    statements, code = TAMPERINGS[name]
    assert verify(filled).problems == []
    before = everything(filled)
    for sql in statements:
        filled.rows(sql)
    assert everything(filled) != before, "this tampering did nothing"
    assert code in codes(filled)


def test_a_hundred_random_tamperings_are_all_found(filled):
    """One value of one row of one covered column each, or the row itself; drawn from a fixed seed."""
    covered = {"change_log": ("id", "hash", "chain", "record", "kind", "body"), "snapshot": ("record", "kind", "json"),
               "ref": ("record", "field", "target"), "held": ("id", "stated_hash", "raw_hash", "device", "received_at"),
               "counter": ("chain", "held_chain")}
    draw, missed = random.Random(11), []
    for number in range(100):
        table = draw.choice(sorted(covered))
        key = {"change_log": "position", "held": "number", "counter": "number"}.get(table, "record")
        row = draw.choice(filled.rows(f"SELECT {key} FROM {table} WHERE {key} IS NOT NULL ORDER BY {key}"))[0]
        column = draw.choice(covered[table])
        with pytest.raises(RuntimeError), filled.db.atomic():
            if draw.random() < 0.2:
                filled.rows(f"DELETE FROM {table} WHERE {key} = ?", (row,))
            else:
                old = filled.rows(f"SELECT {column} FROM {table} WHERE {key} = ? ORDER BY {column}", (row,))[0][0]
                at = draw.randrange(len(old)) if old else 0
                new = (old or "")[:at] + "#" + (old or "")[at + 1:]
                where, values = (f"{key} = ?", (new, row)) if old is None else (f"{key} = ? AND {column} = ?", (new, row, old))
                filled.rows(f"UPDATE {table} SET {column} = ? WHERE {where}", values)
            if not verify(filled).problems:
                missed.append((number, table, column, row))
            raise RuntimeError("taken back")
    assert missed == [] and verify(filled).problems == []


def test_a_damaged_database_file_is_a_finding_and_no_crash(tmp_path):
    store = open_store(f"sqlite:///{tmp_path}/shop.db")
    fill(store)
    store.close()
    path = Path(tmp_path, "shop.db")
    whole, found = path.read_bytes(), set()
    damages = [(page * 4096, 4096) for page in range(len(whole) // 4096)] + [(end - 4, 4) for end in
                                                                            range(4096, len(whole) + 1, 4096)]
    for start, length in damages:  # a whole page, or the last bytes of the first entry in a page
        path.write_bytes(whole[:start] + b"\xff" * length + whole[start + length:])
        try:
            opened = open_store(f"sqlite:///{path}", is_as_found=True)
        except (Unavailable, ValueError):
            found.add("refused")
            continue
        assert codes(opened) or length == 4, start  # at a page's end there may be nothing
        found |= codes(opened)
        opened.close()
    assert {"refused", "unreadable", "file_damaged"} <= found


def test_a_partly_erased_record_is_what_its_log_makes_of_it(store):
    """b.1 replaced one of two fields of a.1 and was replaced: without its text, that part of a.1 would stand again."""
    pushed(store, made("a.1", "owner:haul", {"name": "Invented", "phone": "555 0100"}),
           made("b.1", "owner:haul", {"name": "Invented Haulage"}, {"name": ["a.1"]}),
           made("b.2", "owner:haul", {"name": None, "city": "Invented Port"}, {"name": ["b.1"]}),
           made("b.3", "owner:haul", {"city": None}, {"city": ["b.2"]}))
    assert exchange.erase(store, "owner:haul") == 0
    before = records(store)
    assert verify(store).problems == []
    keep.rebuild(store)
    assert records(store) == before and verify(store).problems == []
    pushed(store, made("b.4", "owner:haul", {"name": None, "phone": None, "city": None},
                       {"name": ["b.2"], "phone": ["a.1"], "city": ["b.3"]}))
    assert exchange.erase(store, "owner:haul") == 4 and verify(store).problems == []


def test_texts_erased_before_their_order_was_known_are_no_finding(store):
    """c.1 came before the b.1 that it replaces, so the field moved last with a text that is gone."""
    pushed(store, made("a.1", "owner:haul", {"name": "Invented"}), made("c.1", "owner:haul", {"name": None}, {"name": ["b.1"]}),
           made("b.1", "owner:haul", {"name": "Other"}, {"name": ["a.1"]}))
    assert exchange.erase(store, "owner:haul") == 2 and verify(store).problems == []
