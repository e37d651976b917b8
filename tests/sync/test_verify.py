"""The proof of a store finds whatever was done to it, on SQLite and on PostgreSQL alike."""

import random
from pathlib import Path

import pytest

from sync import change, erasing, keep
from sync.log import Unavailable
from sync.verify import verify

from .filling import fill, records
from .making import made, open_store, pushed
from .older import everything


@pytest.fixture
def filled(store):
    fill(store)
    return store


def codes(store):
    return {problem.code for problem in verify(store).problems}


def test_records_are_made_anew_from_the_log(filled):
    before = everything(filled)
    filled.rows("UPDATE snapshot SET json = '{}' WHERE kind = 'job'")
    filled.rows("DELETE FROM ref")
    assert codes(filled) == {"record_differs", "references_differ"}
    keep.rebuild(filled)
    assert everything(filled) == before and verify(filled).problems == []


ODD = {"nested without end": "[" * 20_000, **{
    f"whose {part} is {odd}": change.to_text({**made("a.1", "job:j2", {"flow": "1"}), part: odd})
    for part, odd in (("set", []), ("replaces", []), ("replaces", {"flow": [1]}), ("replaces", {"flow": 1}),
                      ("record", ["x"]), ("kind", {}), ("id", 7))}}
TAMPERINGS = {
    "text edited": (["UPDATE change_log SET body = replace(body, '7.0', '1.0') WHERE position = 14"], "text_altered"),
    "text no JSON, with its hash": ([f"UPDATE change_log SET body = '7', hash = '{change.content_hash('7')}' "
                                     "WHERE position = 14"], "text_altered"),
    "text cut, with its hash": ([f"UPDATE change_log SET body = '[', hash = '{change.content_hash('[')}' "
                                 "WHERE position = 14"], "text_altered"),
    "text half a change, with its hash": ([f"UPDATE change_log SET body = '{{}}', hash = '{change.content_hash('{}')}' "
                                           "WHERE position = 14"], "text_altered"),
    **{f"text {what}, with its hash": ([f"UPDATE change_log SET body = '{text}', hash = '{change.content_hash(text)}' "
                                        "WHERE position = 14"], "text_altered") for what, text in ODD.items()},
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
    "erased record written out and edited": (["UPDATE snapshot SET json = '{\"heads\":{},\"gone\":{},"
                                              "\"moved\":{\"name\":42}}' WHERE record = 'owner:haul'"], "record_differs"),
    "record of many changes said to be its last one": (["UPDATE snapshot SET json = '' WHERE record = 'job:j2'"],
                                                       "record_differs"),
    "record said to be another's change": (["UPDATE snapshot SET json = '', position = 7 WHERE record = 'job:j2'"],
                                           "record_differs"),
    "record said to be a change that is not": (["UPDATE snapshot SET json = '', position = 1000 WHERE record = 'job:j2'"],
                                               "record_differs"),
    "record deleted": (["DELETE FROM snapshot WHERE record = 'job:j2'"], "record_missing"),
    "record put in": (["INSERT INTO snapshot SELECT 'job:new', kind, 1000, json FROM snapshot WHERE record = 'job:j2'"],
                      "record_differs"),
    "reference deleted": (["DELETE FROM ref WHERE record = 'job:j2' AND target = 'filter:f1'"], "references_differ"),
    "reference put in under a record that is there": (["INSERT INTO ref VALUES ('job:j2', 'filter', 'filter:f9')"],
                                                      "references_differ"),
    "reference put in": (["INSERT INTO ref VALUES ('job:new', 'filter', 'filter:f1')"], "references_differ"),
    "reference put in that names nothing": (["INSERT INTO ref VALUES ('', '', '')"], "references_differ"),
    "reference put in for one that was taken out": (
        ["DELETE FROM ref WHERE record = 'job:j2' AND target = 'filter:f1'",
         "INSERT INTO ref (record, field, target) VALUES ('job:j2', 'filter', 'filter:f9')"], "references_differ"),
    "held text edited": (["UPDATE held SET body = (SELECT body FROM held WHERE number = 1) WHERE number = 2"],
                         "held_altered"),
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
                also = "" if old is None else f" AND {column} = ?"  # of references a record has several
                filled.rows(f"UPDATE {table} SET {column} = ? WHERE {key} = ?{also}", (new, row, old)[:2 + bool(also)])
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
    assert erasing.erase(store, "owner:haul") == 0
    before = records(store)
    assert verify(store).problems == []
    keep.rebuild(store)
    assert records(store) == before and verify(store).problems == []
    pushed(store, made("b.4", "owner:haul", {"name": None, "phone": None, "city": None},
                       {"name": ["b.2"], "phone": ["a.1"], "city": ["b.3"]}))
    assert erasing.erase(store, "owner:haul") == 4 and verify(store).problems == []


def test_texts_erased_before_their_order_was_known_are_no_finding(store):
    """c.1 came before the b.1 that it replaces, so the field moved last with a text that is gone."""
    pushed(store, made("a.1", "owner:haul", {"name": "Invented"}),
           made("c.1", "owner:haul", {"name": None}, {"name": ["b.1"]}),
           made("b.1", "owner:haul", {"name": "Other"}, {"name": ["a.1"]}))
    assert erasing.erase(store, "owner:haul") == 2 and verify(store).problems == []
