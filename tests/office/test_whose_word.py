"""Whose word a change is: the server says which device sent it and when; the desk's own records are no phone's to write."""

import io
import json
import re

import pytest

from sync import change, lookup
from tests.office.test_access import app, enrolled, office, token
from tests.sync.making import AT
from webform import acceptance
from webform.access import Doors
from webform.checklist import lookup as declared

__all__ = ["app"]

PLAIN = {"filter": "filter:f"}
OFFICE_ONLY = [(step.record, stored) for step in declared.steps() if step.place == "office"
               for stored in declared.slots(step) if (step.record, stored) != ("model", "number")]
PHONES = [(step.record, stored) for step in declared.steps() if step.place == "phone" for stored in declared.slots(step)]


def written(identity, record, answers, **more):
    return change.to_text({**change.make_change(identity, record, answers, lamport=1, at=AT, by="person:kim"), **more})


def pushed(phone, *texts):
    """The receipts of a push through the real address."""
    answer = phone.post("/sync/push", json={"schema": 1, "changes": list(texts), "witness": None,
                                            "hashes": [change.content_hash(text) for text in texts]})
    assert answer.status_code == 200, answer.text
    return answer.json["receipts"]


def reasons(receipts):
    assert all((one["status"] == "held") == bool(one["reason"]) for one in receipts)
    return [one["reason"] for one in receipts]


def test_the_desks_list_is_long_enough_to_mean_something():
    assert {"person", "shop", "model", "instrument", "link", "fitting", "photo", "held", "job", "round"} == {
        kind for kind, _stored in OFFICE_ONLY}
    for one in ("person", "may_sign"), ("shop", "rules"), ("job", "void"), ("job", "report"), ("model", "spec"):
        assert one in OFFICE_ONLY


def test_what_only_the_desk_writes_is_held_when_a_phone_sends_it_and_changes_nothing(app):
    phone, device = enrolled(app)
    store = app.extensions["shop"].store
    before = store.counter()["position"]
    texts = [written(f"{device}.r.{n}", f"{kind}:x", {stored: {"state": "void", "reason": "x"}}) for n, (kind, stored)
             in enumerate(OFFICE_ONLY, 1)]
    right = written(f"{device}.r.900", "person:kim", {"may_sign": "yes"})  # a value that fits, in a record that is there
    with_others = written(f"{device}.r.901", "job:demo1", {"truck": "T 1", "report": {
        "number": "2026-0001", "at": AT, "verdict": "ok_to_reinstall"}})
    assert reasons(pushed(phone, *texts, right, with_others)) == ["office_only"] * (len(OFFICE_ONLY) + 2)
    assert store.counter()["position"] == before
    assert lookup.held_count(store) == len(OFFICE_ONLY) + 2
    assert "Only the office writes this" in office(app).get("/office/held").text


def test_neither_trying_again_nor_letting_a_phone_in_lets_it_write_what_only_the_desk_writes(app):
    (phone, device), desk, store = enrolled(app), office(app), app.extensions["shop"].store
    before = store.counter()["position"]
    pushed(phone, written(f"{device}.r.1", "shop:rules", {"name": "Another shop"}))
    app.extensions["doors"].revoke(device)
    pushed(phone, written(f"{device}.r.2", "person:alex", {"may_sign": "yes"}), written(f"{device}.r.3", "job:n", PLAIN))
    assert reasons_of(store) == {"r.1": "office_only", "r.2": "device_revoked", "r.3": "device_revoked"}
    for reason in ({}, {"reason": "device_revoked"}):
        assert desk.post("/office/held", data={"csrf_token": token(desk, "/office/held"), **reason}).status_code == 302
    assert reasons_of(store) == {"r.1": "office_only", "r.2": "office_only"}  # the job was let in, and nothing else
    assert store.counter()["position"] == before + 1


def reasons_of(store):
    """The reasons of what is held, by run and counter."""
    return {".".join(entry["id"].split(".")[1:]): entry["reason"] for entry in lookup.held(store)}


@pytest.mark.parametrize(("identity", "by", "reason"), [
    ("DEVICE.r.1", "desk:office", "author_office"), ("DEVICE.r.1", "desk", "author_office"),
    ("desk.r.1", "person:kim", "author_office"), ("desk.r.1", "desk:office", "author_office"),
    ("DEVICE.r.1", "device:phone-other", "author_device"), ("DEVICE.r.1", "device:desk", "author_device"),
    ("DEVICE.r.1", "device:DEVICE", None), ("DEVICE.r.1", "person:kim", None),
    ("phone-before.r.1", "device:phone-before", None)])  # enrolled once more: what it wrote under its earlier name
def test_a_phone_cannot_speak_as_the_desk_nor_as_another_phone(app, identity, by, reason):
    phone, device = enrolled(app)
    text = written(identity.replace("DEVICE", device), "job:n", PLAIN, by=by.replace("DEVICE", device))
    [receipt] = pushed(phone, text)
    assert receipt["reason"] == reason
    view = lookup.view(app.extensions["shop"].store, "job:n")
    assert (view is None) == bool(reason)


def test_which_device_sent_a_change_and_when_is_the_servers_word(app):
    phone, device = enrolled(app)
    store = app.extensions["shop"].store
    forged = {"device": "phone-other", "received_at": "2020-01-01T00:00:00.000Z", "position": 1, "role": "office"}
    for number, (key, value) in enumerate(forged.items(), 1):
        [receipt] = pushed(phone, written(f"{device}.r.{number}", "job:n", PLAIN, **{key: value}))
        assert receipt["reason"] == "unknown_key", key
    body = {"schema": 1, "witness": None, **forged}
    text = written(f"{device}.r.9", "job:n", PLAIN, at="2020-01-01T00:00:00.000Z")
    answer = phone.post("/sync/push", json={**body, "changes": [text], "hashes": [change.content_hash(text)]})
    assert answer.json["receipts"][0]["status"] == "stored"
    [entry] = lookup.history(store, "job:n")
    assert entry["device"] == device and entry["received_at"] > AT[:4]


def test_a_file_brings_no_more_than_the_wire(app):
    desk, (_phone, device) = office(app), enrolled(app)
    texts = [written(f"{device}.r.1", "person:alex", {"may_sign": "yes"}), written(f"{device}.r.2", "job:n", PLAIN),
             written("desk.r.3", "job:m", PLAIN)]
    body = json.dumps({"ashbook_outbox": 1, "device": device, "schema": 1, "changes": texts,
                       "hashes": [change.content_hash(text) for text in texts]}).encode()
    answer = desk.post("/office/phones/file", content_type="multipart/form-data", data={
        "csrf_token": token(desk, "/office/phones/file"), "file": (io.BytesIO(body), "ashbook-outbox.json")})
    assert re.findall(r'data-outcome="(\w+)"', answer.text) == ["held", "stored", "held"]
    assert "Only the office writes this" in answer.text and "It says to come from the office" in answer.text


def test_all_that_the_phones_own_screens_write_is_theirs_and_the_desk_still_writes_its_own(app):
    for kind, stored in [*PHONES, ("model", "number"), ("tag", "filter"), ("job", "filter")]:
        given = json.loads(written("phone-a.r.1", f"{kind}:x", {stored: "x"}))
        assert acceptance.refusal_of_phone(given) not in ("office_only", "author_office", "author_device"), (kind, stored)
    receipt = app.extensions["shop"].write("person:alex", {"may_sign": "yes"}, "desk:office", {})
    assert receipt["status"] == "stored"


def test_what_a_newer_app_says_waits_for_the_newer_server_whatever_it_is(app):
    phone, device = enrolled(app)
    [receipt] = pushed(phone, written(f"{device}.r.1", "person:alex", {"may_sign": "yes"}, schema=2))
    assert receipt["reason"] == "newer_schema"


def test_who_is_no_device_of_this_shop_is_nobody_whatever_name_it_writes_under(app, tmp_path):
    other = Doors(tmp_path)  # another shop's accounts
    other.ensure_office("harbour")
    _device, secret = other.redeem(other.new_code(), "Van phone")
    client = app.test_client()
    client.set_cookie("ashbook_phone", secret)
    _phone, device = enrolled(app)
    text = written(f"{device}.r.1", "job:n", PLAIN)
    for path in ("push", "pull", "fetch"):
        answer = client.post(f"/sync/{path}", json={"schema": 1, "changes": [text], "hashes": ["x"], "cursor": None})
        assert answer.status_code == 401
    assert lookup.view(app.extensions["shop"].store, "job:n") is None
