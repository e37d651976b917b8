"""A database of version 1, as that program left it, comes to this version whole or not at all."""

import signal
import subprocess
import sys
from pathlib import Path

import pytest

from sync import change, lookup, versions
from sync.log import VERSION, NoStore, OlderDatabase, next_chain
from sync.verify import verify

from .making import made, open_store, pushed
from .older import everything, layout, make_version_1

ROOT = Path(__file__).parents[2]


@pytest.fixture
def old(url):
    """The address of a database of version 1."""
    make_version_1(url)
    return url


@pytest.fixture
def found(old):
    """It, opened as it is."""
    opened = open_store(old, is_as_found=True)
    yield opened
    opened.close()


def brought_to(store, version):
    """Brings a database of version 1 to a later one, as the programs of then did: by their own steps."""
    with store.alone():
        for number in range(2, version + 1):
            versions.STEPS[number](store)
        store.rows("UPDATE about SET value = ? WHERE name = 'version'", (str(version),))
    store.version = version


def test_an_older_database_is_refused_until_it_is_upgraded(old, found):
    before = everything(found)
    assert found.version == 1 and verify(found).problems == [] and verify(found).counts["held"] == 5
    with pytest.raises(OlderDatabase, match="upgraded first, after a backup"):
        open_store(old)
    assert versions.upgrade(found) == (1, VERSION)
    opened = open_store(old)
    assert opened.version == VERSION and everything(opened) == before and verify(opened).problems == []
    assert [row[0] for row in opened.rows("SELECT number FROM held ORDER BY number")] == [1, 2, 3, 4, 5]
    pushed(opened, "{also broken", made("a.99", "job:new", {"flow": "1"}))
    assert verify(opened).problems == [] and lookup.held_count(opened) == 5
    opened.close()


def test_an_upgraded_database_has_the_layout_of_a_new_one(found, request, tmp_path):
    versions.upgrade(found)
    fresh = open_store(request.getfixturevalue("cluster").new_url() if found.is_postgresql else f"sqlite:///{tmp_path}/new.db")
    assert layout(found) == layout(fresh)
    fresh.close()


def test_an_upgrade_of_what_is_up_to_date_changes_nothing(store):
    pushed(store, "{broken")
    before = everything(store)
    assert versions.upgrade(store) == (VERSION, VERSION) and everything(store) == before and verify(store).problems == []


@pytest.mark.parametrize(("start", "fewest"), [(1, 9), (2, 5), (3, 5)])
def test_an_upgrade_killed_at_any_statement_leaves_the_older_database_as_it_was(old, found, start, fewest):
    brought_to(found, start)
    before, drawn, deaths = everything(found), layout(found), 0
    for n in range(1, 30):
        done = subprocess.run([sys.executable, "-m", "tests.sync.dying", old, str(n), "upgrade"], cwd=ROOT)
        if done.returncode == 0:
            break
        assert done.returncode == -signal.SIGKILL
        deaths += 1
        assert (found.rows("SELECT value FROM about"), everything(found), layout(found)) == ([(str(start),)], before, drawn)
    assert deaths >= fewest and found.rows("SELECT value FROM about") == [(str(VERSION),)]
    assert everything(found) == before
    opened = open_store(old)
    assert verify(opened).problems == []
    opened.close()


def test_an_upgrade_that_fails_leaves_the_older_database_as_it_was(old, found, monkeypatch):
    monkeypatch.setitem(versions.STEPS, VERSION, lambda store: 1 / 0)  # the steps before it have done theirs
    before = layout(found)
    with pytest.raises(ZeroDivisionError):
        versions.upgrade(found)
    assert layout(found) == before and found.version == 1


def test_a_database_of_version_2_keeps_the_snapshots_that_it_wrote_and_writes_new_ones_shorter(old, found):
    brought_to(found, 2)  # it too wrote every snapshot out
    before = everything(found)
    assert versions.upgrade(found) == (2, VERSION) and everything(found) == before
    opened = open_store(old)
    pushed(opened, made("a.98", "job:new", {"flow": "1"}), made("a.99", "job:j0", {"flow9": "1"}))
    written = dict(opened.rows("SELECT record, json FROM snapshot"))
    assert written["job:new"] == "" and '"flow9"' in written["job:j0"] and verify(opened).problems == []
    assert [answer["value"] for answer in opened.snapshots(["job:new"])["job:new"]["heads"]["flow"]] == ["1"]
    opened.close()


def test_a_database_of_version_3_keeps_its_shorter_snapshots_and_what_its_records_refer_to(old, found):
    brought_to(found, 3)
    text = change.to_text(made("a.98", "job:new", {"filter": "filter:f1"}))  # as version 3 wrote a record of one change
    position, chain = found.counter()["position"] + 1, found.counter()["chain"]
    chain = next_chain(chain, "a.r.98", change.content_hash(text))
    found.rows("INSERT INTO change_log SELECT ?, 'a.r.98', ?, ?, 'job:new', 'job', 'a', received_at, ? FROM change_log "
               "WHERE position = 1", (position, change.content_hash(text), chain, text))
    found.rows("INSERT INTO snapshot (record, kind, position, json) VALUES ('job:new', 'job', ?, '')", (position,))
    found.rows("INSERT INTO ref (record, field, target) VALUES ('job:new', 'filter', 'filter:f1')")
    found.rows("UPDATE counter SET position = ?, chain = ?", (position, chain))
    before = everything(found)
    assert verify(found).problems == []
    assert versions.upgrade(found) == (3, VERSION) and everything(found) == before
    opened = open_store(old)
    assert verify(opened).problems == [] and "job:new" in lookup.find(opened, "job", "filter", "filter:f1")
    pushed(opened, made("a.99", "job:new", {"filter": "filter:f9"}, {"filter": ["a.98"]}))
    assert verify(opened).problems == [] and "job:new" not in lookup.find(opened, "job", "filter", "filter:f1")
    opened.close()


def test_where_there_is_no_store_none_is_made(url):
    with pytest.raises(NoStore):
        open_store(url, is_as_found=True)
    with pytest.raises(NoStore):
        open_store(url, is_as_found=True)
