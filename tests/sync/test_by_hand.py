"""An outbox that travels as a file: the receipts of a push, and nothing doubled however often it comes."""

import io
import json

import pytest

from sync import by_hand, change, exchange, held, lookup
from sync.client import Client

from .making import made, pushed, values

JOB = "job:one"


def refuse(_route, _body):
    raise AssertionError("there is no network")


@pytest.fixture
def van():
    """A device that has written two changes and has no network."""
    one = Client(":memory:", "van", refuse)
    one.write(JOB, {"flow": "1"}, "person:kim")
    one.write(JOB, {"flow": "2", "note": "é"}, "person:kim")
    yield one
    one.close()


def taken(store, file, shut=None):
    return by_hand.take(store, *by_hand.read(io.BytesIO(file.encode()))[:3], None, shut)


def test_a_file_gives_the_receipts_of_a_push_and_a_push_afterwards_the_same(store, van):
    receipts = taken(store, van.outbox_file())
    assert [(one["status"], one["position"], one["is_new"]) for one in receipts] == [("stored", 1, True), ("stored", 2, True)]
    assert [one["is_new"] for one in taken(store, van.outbox_file())] == [False, False]
    device, texts, hashes, photos = by_hand.read(io.BytesIO(van.outbox_file().encode()))
    assert photos == []
    assert device == "van" and van.waiting() == [json.loads(text)["id"] for text in texts]  # a file takes nothing out
    again = exchange.push(store, device, texts, hashes)
    assert [(one["status"], one["position"]) for one in again] == [("stored", 1), ("stored", 2)]
    assert store.counter()["position"] == 2 and values(lookup.view(store, JOB), "flow") == ["2"]
    assert {entry["device"] for entry in lookup.history(store, JOB)} == {"van"}


def test_a_file_of_an_unknown_device_is_held_until_it_is_let_in(store, van):
    pushed(store, made("b.1", JOB, {"light": "1"}))
    receipts = taken(store, van.outbox_file(), "device_unknown")
    assert {(one["status"], one["reason"]) for one in receipts} == {("held", "device_unknown")}
    assert held.retry_held(store) == [] and lookup.held_count(store, "van") == 2
    assert [one["status"] for one in held.retry_held(store, reasons=["device_unknown"])] == ["stored", "stored"]
    receipts = taken(store, van.outbox_file(), "device_revoked")  # who brings it may know that they are there
    assert [(one["status"], one["position"]) for one in receipts] == [("stored", 2), ("stored", 3)]
    assert lookup.held_count(store) == 0


def test_a_damaged_change_in_a_file_is_held_and_the_others_are_stored(store, van):
    file = json.loads(van.outbox_file())
    file["changes"][0] = file["changes"][0].replace("kim", "tim")
    assert [one["reason"] for one in taken(store, json.dumps(file))] == ["hash_mismatch", None]
    [kept] = lookup.held(store)
    assert kept["text"] == file["changes"][0]


def test_held_changes_travel_in_the_file_too(store, van):
    van.disk.execute("UPDATE outbox SET status = 'held' WHERE number = 1")
    van.disk.execute("UPDATE outbox SET status = 'stored' WHERE number = 2")
    assert len(by_hand.read(io.BytesIO(van.outbox_file().encode())).texts) == 1


def test_a_long_file_goes_in_by_parts(store, van, monkeypatch):
    monkeypatch.setattr(by_hand, "MOST_CHANGES", 1)
    assert [one["position"] for one in taken(store, van.outbox_file())] == [1, 2]


GOOD = {"ashbook_outbox": 1, "device": "van", "schema": 1, "changes": [], "hashes": []}


@pytest.mark.parametrize(("body", "code"), [
    (b"", "not_json"), (b"\xff\xfe\x00", "not_json"), (b"PK\x03\x04", "not_json"), (b"[" * 100_000, "not_json"),
    (json.dumps(GOOD).encode()[:-1], "not_json"), (b'{"ashbook_outbox": 1, "ashbook_outbox": 1}', "not_json"),
    (b"[]", "foreign"), (b"{}", "foreign"), (b"null", "foreign"), (b'{"ashbook_outbox": "1"}', "foreign"),
    (json.dumps({**GOOD, "changes": [{}]}).encode(), "foreign"), (json.dumps({**GOOD, "device": 7}).encode(), "foreign"),
    *((json.dumps({**GOOD, "device": name}).encode(), "foreign") for name in ("", "a b", "\ud800", "\x00", "x" * 65)),
    (json.dumps({**GOOD, "ashbook_outbox": 3}).encode(), "other_version"),
    (json.dumps({**GOOD, "ashbook_outbox": 3}).encode() + b"\n\xff\xd8", "other_version"),
    (json.dumps({**GOOD, "ashbook_outbox": 2}).encode()[:-1] + b"\n\xff\xd8", "not_json"),
    (json.dumps({**GOOD, "ashbook_outbox": 2, "photos": [{"sha256": "0"}]}).encode() + b"\n", "foreign"),
    (json.dumps({**GOOD, "ashbook_outbox": 2, "photos": [{"sha256": "0", "bytes": 0}]}).encode() + b"\n", "foreign"),
    (json.dumps({**GOOD, "ashbook_outbox": 2, "photos": [{"sha256": "0", "bytes": -1}]}).encode() + b"\n", "foreign"),
    (json.dumps({**GOOD, "changes": ["x"]}).encode(), "damaged"), (b" " * (16 * 2**20 + 1), "too_large"),
])
def test_what_is_no_such_file_is_refused_with_a_code(body, code):
    with pytest.raises(by_hand.NotTaken) as refused:
        by_hand.read(io.BytesIO(body))
    assert refused.value.code == code


@pytest.mark.parametrize("layout", [{"indent": 1}, {}])
def test_a_file_of_the_first_version_may_be_laid_out_as_it_likes_and_carries_no_photos(layout):
    body = json.dumps({**GOOD, "photos": [{"sha256": "0", "bytes": 1}]}, **layout).encode() + b"\n"
    assert by_hand.read(io.BytesIO(b"\xef\xbb\xbf" + body)) == ("van", [], [], [])


def test_the_texts_of_a_file_are_checked_like_any_others(store):
    receipts = by_hand.take(store, "van", ["{", "\ud800"], [change.content_hash("{"), "x"])
    assert [one["reason"] for one in receipts] == ["not_json", "hash_mismatch"]
