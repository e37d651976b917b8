"""The border: what a request may be, byte for byte."""

import gzip
import json

import pytest

from sync import change, exchange, lookup, wire
from sync.log import NewerDatabase, Unavailable

from .making import made, open_store, pushed

JOB = "job:one"


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path}/shop.db"


def push_body(*changes, **more):
    """The bytes of a push."""
    texts = [change.to_text(one) for one in changes]
    return json.dumps({"schema": 1, "changes": texts, "hashes": [change.content_hash(text) for text in texts],
                       **more}).encode()


def code_of(answer):
    """Status and error code of an answer, which must have the one shape of errors."""
    status, found = answer
    assert set(found["error"]) == {"code", "text", "details"} and found["error"]["text"].endswith((".", "details."))
    return status, found["error"]["code"]


def test_a_push_answers_epoch_and_receipts_and_nothing_more(store):
    status, answer = wire.answer_push(store, "a", push_body(made("a.1", JOB, {"flow": "1"})))
    assert status == 200 and answer["epoch"] == store.counter()["epoch"] and answer["reset"] is False
    assert answer["end"] == exchange.pull(store, None)["cursor"]
    assert [sorted(receipt) for receipt in answer["receipts"]] == [["hash", "id", "position", "reason", "status"]]


def test_the_caller_learns_which_records_a_push_has_changed(store):
    body = push_body(made("a.1", JOB, {"flow": "1"}))
    assert wire.push(store, "a", body)[2] == [JOB] and wire.push(store, "a", body)[2] == []
    assert wire.push(store, "a", b"{")[2] == []


def test_a_packed_push_is_the_same_push(store):
    body = gzip.compress(push_body(made("a.1", JOB, {"flow": "é"})))
    assert wire.answer_push(store, "a", body, "gzip")[1]["receipts"][0]["status"] == "stored"


def test_a_packed_body_cut_anywhere_stores_nothing_and_the_whole_one_then_works(store):
    body = gzip.compress(push_body(*[made(f"a.{n}", JOB, {"flow": str(n)}) for n in range(20)]))
    for length in range(0, len(body)):
        assert code_of(wire.answer_push(store, "a", body[:length], "gzip")) == (400, "body_cut")
    assert code_of(wire.answer_push(store, "a", body + b"x", "gzip")) == (400, "body_cut")
    assert store.counter()["position"] == 0
    assert len(wire.answer_push(store, "a", body, "GZIP")[1]["receipts"]) == 20


def test_a_plain_body_cut_anywhere_stores_nothing(store):
    body = push_body(made("a.1", JOB, {"flow": "1"}))
    for length in range(len(body)):
        assert code_of(wire.answer_push(store, "a", body[:length])) == (400, "not_json")
    assert store.counter()["position"] == 0


@pytest.mark.parametrize(("body", "encoding", "expected"), [
    (b"{}", None, (400, "bad_request")), (b"[]", None, (400, "bad_request")), (b"null", None, (400, "bad_request")),
    (b"\xff\xfe", None, (400, "not_json")), (b'{"schema": NaN}', None, (400, "not_json")),
    (b'{"schema": 1, "schema": 1}', None, (400, "not_json")), (b"[" * 100_000, None, (400, "not_json")),
    (b"[" * 300 + b"]" * 300, None, (400, "bad_request")),
    (b'{"schema":' + b"[" * 900 + b"]" * 900 + b"}", None, (400, "bad_request")),
    (push_body(schema="1"), None, (400, "bad_request")), (push_body(schema=1.5), None, (400, "bad_request")),
    (push_body(schema=True), None, (400, "bad_request")), (push_body(changes="x"), None, (400, "bad_request")),
    (push_body(changes=[1], hashes=["x"]), None, (400, "bad_request")),
    (push_body(changes=["x"], hashes=[]), None, (400, "bad_request")),
    (push_body(changes=["x"] * 5_001, hashes=["x"] * 5_001), None, (400, "bad_request")),
    (b"no gzip at all", "gzip", (400, "body_cut")), (b"x", "br", (415, "bad_encoding")),
    (b"x" * (wire.LARGEST_BODY + 1), None, (413, "too_large")),
    (gzip.compress(b" " * (wire.LARGEST_BODY + 1)), "gzip", (413, "too_large")),
])
def test_each_misshapen_push_is_refused_whole_with_a_code_and_a_sentence(store, body, encoding, expected):
    assert code_of(wire.answer_push(store, "a", body, encoding)) == expected


@pytest.mark.parametrize("cursor", [
    7, {}, {"epoch": "x"}, {"epoch": "x", "position": -1, "chain": "x"}, {"epoch": 1, "position": 1, "chain": "x"},
    {"epoch": "x", "position": "1", "chain": "x"}, {"epoch": "x", "position": 2**53, "chain": "x"},
])
def test_each_misshapen_cursor_is_refused(store, cursor):
    assert code_of(wire.answer_pull(store, json.dumps({"cursor": cursor}).encode())) == (400, "bad_request")


def test_pull_and_fetch_answer_what_the_exchange_says(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    assert wire.answer_pull(store, b'{"cursor": null, "next": null}') == (200, exchange.pull(store, None))
    assert wire.answer_fetch(store, b'{"records": ["job:one"]}') == (200, exchange.fetch(store, [JOB]))
    assert code_of(wire.answer_fetch(store, b"{")) == (400, "not_json")


@pytest.mark.parametrize("name", ["job:\ud800", "job:\x00", "job", ""])
def test_an_id_that_no_record_can_have_is_one_that_does_not_exist(store, name):
    body = json.dumps({"records": [name], "around": [name]}).encode()
    assert wire.answer_fetch(store, body) == (200, {"records": []})


@pytest.mark.parametrize("held", ["1.\ud800", "1.\x00", "1", "\ud800", "1.x"])
def test_a_hold_that_was_never_made_does_not_fit(store, held):
    place = {**exchange.place_of(store.counter()), "held": held}
    status, page = wire.answer_pull(store, json.dumps({"cursor": place}).encode())
    assert (status, page["reset"]) == (200, True)


def test_a_newer_client_may_say_more_than_is_known_here(store):
    assert wire.answer_push(store, "a", push_body(schema=9, colour="blue"))[0] == 200
    assert wire.answer_pull(store, b'{"cursor": null, "colour": "blue"}')[0] == 200


def test_trouble_of_the_store_is_said_and_never_success(store, monkeypatch):
    def broken(*_arguments, **_more):
        raise Unavailable("disk full")

    monkeypatch.setattr(exchange, "push", broken)
    monkeypatch.setattr(exchange, "pull", broken)
    monkeypatch.setattr(exchange, "fetch", broken)
    assert code_of(wire.answer_push(store, "a", push_body())) == (503, "unavailable")
    assert code_of(wire.answer_pull(store, b'{"cursor": null}')) == (503, "unavailable")
    assert code_of(wire.answer_fetch(store, b'{"records": []}')) == (503, "unavailable")


def test_a_full_disk_stores_nothing_and_service_returns_when_there_is_room(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    [(pages,)] = store.rows("PRAGMA page_count")
    store.rows(f"PRAGMA max_page_count = {pages}")
    big = push_body(*[made(f"a.{n}", f"job:j{n}", {"flow": "x" * 2000}) for n in range(2, 40)])
    assert code_of(wire.answer_push(store, "a", big)) == (503, "unavailable")
    assert store.counter()["position"] == 1
    store.rows("PRAGMA max_page_count = 100000")
    assert wire.answer_push(store, "a", big)[0] == 200 and store.counter()["position"] == 39


def test_a_revoked_device_is_held_up_to_its_quota(store, monkeypatch):
    monkeypatch.setattr(wire, "MOST_HELD", 2)
    two = push_body(made("a.1", JOB, {"flow": "1"}), made("a.2", JOB, {"flow": "2"}))
    assert wire.answer_push(store, "a", two, is_revoked=True)[1]["receipts"][0]["reason"] == "device_revoked"
    assert code_of(wire.answer_push(store, "a", two, is_revoked=True)) == (429, "held_quota")
    assert lookup.held_count(store) == 2


def test_long_answers_are_packed_where_the_device_takes_it():
    answer = {"records": ["x" * 2000], "name": "é"}
    body, headers = wire.packed(answer, "br, gzip")
    assert json.loads(gzip.decompress(body)) == answer and headers["Content-Encoding"] == "gzip"
    body, headers = wire.packed(answer, None)
    assert json.loads(body) == answer and "Content-Encoding" not in headers
    assert "Content-Encoding" not in wire.packed({}, "gzip")[1]


@pytest.mark.parametrize(("accepted", "is_packed"), [
    ("gzip", True), ("GZIP", True), ("deflate, gzip;q=1.0, *;q=0.5", True), ("gzip; q=0.001", True), ("br", False),
    ("", False), ("gzip;q=0", False), ("gzip ; Q=0.000", False), ("gzipped", False), ("identity;q=1, gzip;q=0", False)])
def test_an_answer_is_packed_only_where_gzip_is_not_refused(accepted, is_packed):
    """RFC 9110, 12.4.2 and 12.5.3: a weight of 0 means not acceptable. From memory."""
    assert ("Content-Encoding" in wire.packed({"records": ["x" * 2000]}, accepted)[1]) == is_packed


def test_every_connection_proves_its_settings(store, monkeypatch):
    from sync import log

    assert store.rows("PRAGMA synchronous") == [(2,)] and store.rows("PRAGMA journal_mode") == [("wal",)]
    assert store.rows("PRAGMA foreign_keys") == [(1,)] and store.rows("PRAGMA busy_timeout") == [(20_000,)]
    monkeypatch.setitem(log.SETTINGS, "synchronous", 3)
    store.close()
    with pytest.raises(Unavailable, match="synchronous"):
        store.counter()


def test_an_older_sqlite_is_refused(url, monkeypatch):
    from sync import log

    monkeypatch.setattr(log, "OLDEST_SQLITE", (99, 0, 0))
    with pytest.raises(Unavailable, match="newer apsw"):
        open_store(url)


def test_a_database_of_a_newer_program_is_refused_with_a_sentence(store, url):
    store.rows("UPDATE about SET value = '99' WHERE name = 'version'")
    with pytest.raises(NewerDatabase, match="Start the newer program"):
        open_store(url)


def test_an_unknown_address_of_a_database_is_refused_with_a_sentence():
    with pytest.raises(ValueError, match="write sqlite:///path/to/file"):
        open_store("mysql://x")


@pytest.mark.parametrize("question", [
    "SELECT id, hash, position FROM change_log WHERE id IN ('a','b')",
    "SELECT chain FROM change_log WHERE position = 1",
    "SELECT body FROM change_log WHERE record = 'x' ORDER BY position",
    "SELECT json FROM snapshot WHERE record IN ('x')",
    "SELECT record FROM snapshot WHERE position > 1 ORDER BY position LIMIT 5",
    "SELECT record FROM snapshot WHERE kind = 'job' AND position < 9 ORDER BY position DESC LIMIT 5",
    "SELECT DISTINCT record FROM ref WHERE target = 'x' AND field = 'f'",
    "DELETE FROM ref WHERE target = 'x' AND field = 'f' AND record = 'y'",
    "SELECT record FROM ref WHERE (target, field, record) > ('x', 'f', 'y') ORDER BY target, field, record LIMIT 5",
    "SELECT 1 FROM held WHERE resolved_at = '' LIMIT 1",
    "SELECT number FROM held WHERE resolved_at = '' AND id = 'x'",
])
def test_no_question_on_a_hot_path_scans_a_table_or_sorts(store, question):
    plan = " ".join(str(row) for row in store.rows(f"EXPLAIN QUERY PLAN {question}"))
    assert "SCAN" not in plan and "B-TREE" not in plan, plan
