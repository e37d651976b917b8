"""The raw log: read page by page, proved by its chain, and enough to make the same store again."""

import json

import pytest

from sync import audit, erasing, exchange, wire
from sync.link import Offline, log_pages

from .making import made, open_store, pushed

JOB = "job:one"
TABLES = ("change_log", "snapshot", "ref")


@pytest.fixture
def copy(tmp_path):
    """Another, empty store; on SQLite, whatever the first one is on."""
    opened = open_store(f"sqlite:///{tmp_path}/copy.db")
    yield opened
    opened.close()


def post_to(store):
    """The wire without the web: what a program with the office's credential gets."""

    def post(route, body):
        assert route == "changes"
        status, answer = wire.answer_changes(store, body)
        assert status == 200
        return json.dumps(answer).encode()

    return post


def a_week_of(store):
    """Answers of three devices, two answers, references, a device far ahead, an erased owner, letters of all kinds."""
    pushed(store, made("a.1", JOB, {"filter": "filter:x", "flow": {"n": "2.75", "u": "inH2O"}}),
           made("a.2", "owner:o", {"name": "Invented Haulage ü 😀"}), made("a.3", "tag:T", {"filter": "filter:x"}))
    pushed(store, made("b.2", JOB, {"flow": {"n": "1.9", "u": "inH2O"}}, {"flow": ["b.1"]}, lamport=9), device="b")
    pushed(store, made("b.1", JOB, {"flow": {"n": "9", "u": "inH2O"}}), device="b")
    pushed(store, made("desk.1", "owner:o", {"name": None}, {"name": ["a.2"]}, lamport=12, basis={"x": 0.5}), device="desk")
    erasing.erase(store, "owner:o")


def contents(store):
    """Every row of what a store is made of; the epoch is a store's own."""
    counter = store.counter()
    return {table: sorted(store.rows(f"SELECT * FROM {table}")) for table in TABLES}, counter["position"], counter["chain"], \
        counter["lamport"]


@pytest.mark.parametrize("page_changes", [1, 2, 1000])
def test_a_store_made_from_the_raw_log_alone_is_the_same_byte_for_byte(store, copy, monkeypatch, page_changes):
    monkeypatch.setattr(audit, "PAGE_CHANGES", page_changes)
    a_week_of(store)
    audit.rebuild(copy, log_pages(post_to(store)))
    assert contents(copy) == contents(store) and len(contents(copy)[0]["change_log"]) == 6
    assert copy.counter()["epoch"] != store.counter()["epoch"]
    assert exchange.pull(copy, None)["records"] == exchange.pull(store, None)["records"]


def test_pages_end_early_when_texts_are_long_and_an_empty_log_has_none(store, monkeypatch):
    assert list(log_pages(post_to(store))) == []
    monkeypatch.setattr(audit, "PAGE_CHARACTERS", 300)
    a_week_of(store)
    pages = list(log_pages(post_to(store)))
    assert len(pages) > 1 and [entry["position"] for page in pages for entry in page["changes"]] == [1, 2, 3, 4, 5, 6]
    assert pages[-1]["next"] is None and audit.changes(store, pages[-1]["cursor"])["changes"] == []


def test_a_cursor_of_another_log_begins_with_the_first_change(store):
    a_week_of(store)
    cursor = audit.changes(store, None)["cursor"]
    page = audit.changes(store, {**cursor, "chain": "f" * 32})
    assert page["reset"] and page["changes"][0]["position"] == 1


@pytest.mark.parametrize(("field", "value", "told"), [
    ("position", 7, "does not follow"), ("chain", "f" * 32, "does not follow"), ("hash", "f" * 32, "does not follow"),
    ("id", "z.r.1", "does not follow"), ("text", "{}", "is not the one"), ("record", "job:two", "another change"),
])
def test_an_entry_that_was_tampered_with_is_refused_and_nothing_of_its_page_is_kept(store, copy, field, value, told):
    a_week_of(store)
    [page] = log_pages(post_to(store))
    page["changes"][3][field] = value
    with pytest.raises(audit.Unsound, match=told):
        audit.rebuild(copy, [page])
    assert copy.counter()["position"] == 0 and copy.rows("SELECT * FROM snapshot") == []


@pytest.mark.parametrize("wrong", [
    b"", b"<html>", b"[]", b"{}", b'{"reset": true, "changes": [], "cursor": null, "next": null}',
])
def test_a_reader_of_the_log_takes_no_other_answer(wrong):
    with pytest.raises(Offline):
        list(log_pages(lambda route, body: wrong))


def test_trouble_of_the_store_and_a_misshapen_request_are_said(store, monkeypatch):
    assert wire.answer_changes(store, b"{}")[0] == 400
    store.rows("DROP TABLE change_log")
    assert wire.answer_changes(store, b'{"cursor": {"epoch": "x", "position": 1, "chain": "x"}}')[0] == 503
