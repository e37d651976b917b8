"""The served description of the wire against the server: every route, real exchanges, and each error made to occur."""

import errno
import gzip
import hashlib
import io
import json
import re

import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from PIL import Image

from sync import change, photos, pictures, wire
from tests.office.test_access import enrolled, office
from tests.sync.making import made
from webform import create_app
from webform.wire import described

DOCUMENT = json.loads(json.dumps(described()))
NOWHERE = {"epoch": "x", "position": 0, "chain": "x"}
TEXT = change.to_text(made("z.1", "owner:o", {"name": "Moorland Haulage (invented)"}))
GOOD = {"enrol": {"code": "7K3M", "name": "Van phone"}, "fetch": {"records": ["owner:o", "job:nobody"]},
        "push": {"schema": 1, "changes": [TEXT, "{"], "hashes": [change.content_hash(TEXT), "x"], "witness": None},
        "pull": {"cursor": None, "next": None, "witness": None}, "changes": {"cursor": None}}
OPERATIONS = {told["operationId"]: told for item in DOCUMENT["paths"].values() for told in item.values()}
ERRORS = [(route, int(status), code) for route, told in OPERATIONS.items()
          for status, answer in told["responses"].items() if status != "200"
          for code in answer["content"]["application/json"]["schema"]["properties"]["error"]["properties"]["code"]["enum"]]


@pytest.fixture
def app(tmp_path):
    made_one = create_app(tmp_path / "shop")
    yield made_one
    made_one.extensions["shop"].store.close()


@pytest.fixture(scope="module")
def one_app(tmp_path_factory):
    """One for all requests that store nothing."""
    made_one = create_app(tmp_path_factory.mktemp("shop"))
    yield made_one
    made_one.extensions["shop"].store.close()


def closed(schema):
    """The schema with no room for a key that is not told; a reader must allow such keys, this test must not."""
    if isinstance(schema, list):
        return [closed(one) for one in schema]
    if not isinstance(schema, dict):
        return schema
    made_one = {key: closed(one) for key, one in schema.items()}
    return {**made_one, "additionalProperties": False} if isinstance(made_one.get("properties"), dict) else made_one


def problems(schema, value):
    """What is wrong with a value by a schema of the document, in which names of shapes are looked up."""
    whole = {**closed(schema), "components": closed(DOCUMENT["components"])}
    return [error.message for error in Draft202012Validator(whole).iter_errors(value)]


def schema_of(route, status=None):
    operation = OPERATIONS[route]
    part = operation["requestBody"] if status is None else operation["responses"][str(status)]
    return part["content"]["application/json"]["schema"]


def client_of(app, route):
    """Whoever may use a route."""
    if route == "enrol":
        return app.test_client()
    return desk(app) if route == "changes" else enrolled(app)[0]


def desk(app):
    """The office, signed in."""
    app.extensions["doors"].ensure_office("harbour")
    return office(app)


def ask(client, route, request, **more):
    """The answer to a request, both checked against the description."""
    assert problems(schema_of(route), request) == []
    answer = client.post(f"/sync/{route}", json=request, **more)
    assert problems(schema_of(route, answer.status_code), answer.json) == []
    return answer.json


def test_the_description_is_good_openapi_and_is_what_the_server_gives(app):
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []
    assert app.test_client().get("/sync/openapi.json").json == DOCUMENT


def test_every_route_of_the_wire_is_described_and_no_other(app):
    served = {(re.sub(r"<(\w+)>", r"{\1}", rule.rule), method.lower()) for rule in app.url_map.iter_rules()
              for method in rule.methods - {"HEAD", "OPTIONS"} if rule.rule.startswith("/sync/")}
    told = {(path, method) for path, item in DOCUMENT["paths"].items() for method in item}
    assert served - {("/sync/openapi.json", "get")} == told


def test_real_exchanges_are_as_described(app):
    phone = app.test_client()
    device = ask(phone, "enrol", {"code": app.extensions["doors"].new_code(), "name": "Van phone"})["device"]
    texts = [change.to_text(made(f"a.{n}", record, answers, lamport=n, **more)) for n, (record, answers, more) in enumerate((
        ("filter:f", {"serial": "S-1"}, {}), ("tag:T", {"filter": "filter:f"}, {}), ("job:j", {"filter": "filter:f"}, {}),
        ("job:j", {"truck": "HL 1"}, {"basis": {"seen": [1, 0.5, None]}}), ("job:j", {"truck": None}, {}),
        ("job:j", {"unknown": "x"}, {})), 1)]
    answer = ask(phone, "push", {"schema": 1, "changes": texts, "hashes": [change.content_hash(text) for text in texts]})
    assert [receipt["status"] for receipt in answer["receipts"]] == ["stored"] * 5 + ["held"] and not answer["reset"]
    assert ask(phone, "push", {**GOOD["push"], "witness": answer["end"]})["receipts"][1]["id"] is None
    assert ask(phone, "push", {**GOOD["push"], "witness": NOWHERE})["reset"]
    page = ask(phone, "pull", {"cursor": None})
    assert ask(phone, "pull", {"cursor": page["cursor"], "next": None, "witness": answer["end"]})["records"] == []
    assert ask(phone, "pull", {"cursor": NOWHERE})["reset"]
    part = ask(phone, "pull", {"cursor": None, "most": 1})
    assert len(part["records"]) == 1 and part["next"] == "more"
    assert [entry["record"] for entry in ask(phone, "fetch", {"records": ["job:j", "job:k"]})["records"]] == ["job:j"]
    log = ask(desk(app), "changes", {"cursor": None})
    assert len(log["changes"]) == 6 and ask(desk(app), "changes", {"cursor": log["cursor"]})["changes"] == []
    app.extensions["doors"].revoke(device)
    assert ask(phone, "push", {"schema": 1, "changes": ["x"], "hashes": ["x"]})["receipts"][0]["reason"] == "device_revoked"


def test_a_page_that_is_not_the_last_is_as_described(app, monkeypatch):
    monkeypatch.setattr("sync.exchange.PAGE_CHARACTERS", 1)
    monkeypatch.setattr("sync.audit.PAGE_CHARACTERS", 1)
    phone = enrolled(app)[0]
    texts = [change.to_text(made(f"a.{n}", f"filter:f{n}", {"serial": "S"})) for n in range(3)]
    ask(phone, "push", {"schema": 1, "changes": texts, "hashes": [change.content_hash(text) for text in texts]})
    page = ask(phone, "pull", {"cursor": None})
    assert page["next"] is not None and "since" in page["cursor"]
    page = ask(phone, "pull", {"cursor": page["cursor"], "next": page["next"]})
    assert page["next"] is not None
    assert ask(desk(app), "changes", {"cursor": None})["next"] is not None


def provoke(app, route, status, code, monkeypatch):
    """The answer to a request that must be refused just so."""
    sent = {"data": json.dumps(GOOD[route]).encode(), "content_type": "application/json", "headers": {}}
    if code in ("not_enrolled", "too_many_tries"):
        client = app.test_client()
        for _ in range(10 if code == "too_many_tries" else 0):
            client.post(f"/sync/{route}", auth=("office", "wrong") if route == "changes" else None, **sent)
        sent["auth"] = ("office", "wrong") if code == "too_many_tries" and route == "changes" else None
        return client.post(f"/sync/{route}", **sent)
    client = client_of(app, route)
    if code == "body_cut":
        sent.update(data=gzip.compress(sent["data"])[:-1], headers={"Content-Encoding": "gzip"})
    elif (status, code) == (400, "not_json"):
        sent["data"] = sent["data"][:-1]
    elif code == "bad_request":
        sent["data"] = b"[]"
    elif code == "too_large":
        sent.update(data=gzip.compress(b" " * (wire.LARGEST_BODY + 1)), headers={"Content-Encoding": "gzip"})
    elif code == "bad_encoding":
        sent["headers"] = {"Content-Encoding": "br"}
    elif (status, code) == (415, "not_json"):
        sent["content_type"] = "text/plain"
    elif code == "forbidden":
        sent["headers"] = {"Sec-Fetch-Site": "cross-site"}
    elif code == "held_quota":
        monkeypatch.setattr(wire, "MOST_HELD", 1)
        app.extensions["doors"].revoke(next(iter(app.extensions["doors"].read()["devices"])))
    elif code == "failed":
        monkeypatch.setattr(wire, "read", lambda *_: 1 / 0)
    elif code == "unavailable" and route == "enrol":
        sent["data"] = json.dumps({"code": app.extensions["doors"].new_code(), "name": "x"}).encode()
        monkeypatch.setattr("webform.archive.write_json", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
    elif code == "unavailable":
        for table in ("counter", "snapshot"):
            app.extensions["shop"].store.rows(f"DROP TABLE {table}")
    else:
        assert code == "bad_code"  # a code that was never given out, as it stands
    return client.post(f"/sync/{route}", **sent)


def drawn(side_pixels):
    """The bytes of a small grey photo, and their hash."""
    out = io.BytesIO()
    Image.new("L", (side_pixels, side_pixels), 128).save(out, "PNG")
    return out.getvalue(), hashlib.sha256(out.getvalue()).hexdigest()


def put(client, body, name, content_range=None, **more):
    """The answer to a whole photo, or to the piece that the range tells."""
    told = content_range if content_range is not None else f"bytes 0-{len(body) - 1}/{len(body)}"
    return client.put(f"/sync/photos/{name}", data=body, content_type=more.pop("content_type", "application/octet-stream"),
                      headers={"Content-Range": told, **more})


def provoke_photo(app, route, code, monkeypatch):
    """The answer to a request about a photo that must be refused just so."""
    body, name = drawn(8)
    phone = app.test_client() if code == "not_enrolled" else enrolled(app)[0]
    if code == "failed":
        monkeypatch.setattr(photos.Photos, "state" if route == "photo_state" else "take", lambda *_: 1 / 0)
    if route == "photo_state":
        if code == "unavailable":
            monkeypatch.setattr(photos.Photos, "state", lambda *_: (_ for _ in ()).throw(OSError(errno.EIO, "bad disk")))
        return phone.get("/sync/photos/" + {"bad_photo": "x", "not_found": name + "?size=small"}.get(code, name))
    if code == "photo_quota":
        app.extensions["shop"].photos.quota_bytes = 1
    if code == "unavailable":
        monkeypatch.setattr(photos, "_write_from", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
    if code == "too_large":
        app.config["MAX_CONTENT_LENGTH"] = 10
    if code == "too_many_pixels":
        monkeypatch.setattr(pictures, "MOST_PIXELS", 63)
    asked = {"bad_photo": (body, "x"), "bad_range": (body, name, "some"),
             "body_cut": (body[:-1], name, f"bytes 0-9/{len(body)}"),
             "wrong_offset": (body[:1], name, "bytes 5-5/10"), "wrong_hash": (body, "0" * 64),
             "photo_too_large": (b"x", name, f"bytes 0-0/{photos.LARGEST_BYTES + 1}"),
             "piece_too_large": (b"x" * (photos.LARGEST_PIECE + 1), name),
             "not_a_photo": (b"text", hashlib.sha256(b"text").hexdigest())}.get(code, (body, name))
    more = {"bad_type": {"content_type": "text/plain"}, "forbidden": {"Sec-Fetch-Site": "cross-site"}}.get(code, {})
    return put(phone, *asked, **more)


def test_photos_travel_as_described(app):
    phone, (body, name) = enrolled(app)[0], drawn(8)
    for answer in (phone.get(f"/sync/photos/{name}"), put(phone, body[:9], name, f"bytes 0-8/{len(body)}"),
                   put(phone, body[9:], name, f"bytes 9-{len(body) - 1}/{len(body)}"), phone.get(f"/sync/photos/{name}")):
        assert answer.status_code == 200 and problems(schema_of("photo_state", 200), answer.json) == []
    assert answer.json["complete"] and phone.get(f"/sync/photos/{name}?size=small").mimetype == "image/jpeg"


@pytest.mark.parametrize(("encoding", "status"), [("gzip", 415), ("br", 415), ("identity", 200)])
def test_a_piece_that_is_packed_is_refused_and_not_kept_as_if_it_were_plain(app, encoding, status):
    phone, (body, name) = enrolled(app)[0], drawn(8)
    answer = put(phone, gzip.compress(body), name, **{"Content-Encoding": encoding}) if status == 415 else \
        put(phone, body, name, **{"Content-Encoding": encoding})
    assert (answer.status_code, answer.json.get("error", {}).get("code")) == (status, "bad_type" if status == 415 else None)
    assert phone.get(f"/sync/photos/{name}").json["offset"] == (0 if status == 415 else len(body))


def test_every_answer_that_a_request_can_get_in_front_of_its_route_is_described():
    """What the door, the disk and the largest body refuse is refused on every route alike."""
    codes = {route: {(status, code) for one, status, code in ERRORS if one == route} for route in OPERATIONS}
    assert {route for route, known in codes.items() if not {(500, "failed"), (503, "unavailable")} <= known} == set()
    assert {route for route, known in codes.items() if route != "photo_state" and
            not {(403, "forbidden"), (413, "too_large")} <= known} == set()


@pytest.mark.parametrize(("route", "status", "code"), ERRORS)
def test_every_described_error_really_occurs(app, route, status, code, monkeypatch):
    answer = provoke_photo(app, route, code, monkeypatch) if route.startswith("photo") else \
        provoke(app, route, status, code, monkeypatch)
    assert (answer.status_code, answer.json["error"]["code"]) == (status, code)
    assert problems(schema_of(route, status), answer.json) == []


@pytest.mark.parametrize(("route", "request_json"), [
    ("enrol", {}), ("enrol", {"code": 7, "name": "x"}), ("enrol", {"code": "x"}), ("push", {}),
    ("push", {**GOOD["push"], "schema": 0}), ("push", {"schema": 1, "changes": []}),
    ("push", {**GOOD["push"], "schema": True}), ("push", {**GOOD["push"], "changes": [1]}),
    ("push", {**GOOD["push"], "hashes": "x"}), ("push", {**GOOD["push"], "witness": {}}),
    ("push", {**GOOD["push"], "changes": ["x"] * 5001, "hashes": ["x"] * 5001}), ("pull", {}), ("pull", {"cursor": 1}),
    ("pull", {"cursor": {**NOWHERE, "position": -1}}), ("pull", {"cursor": {**NOWHERE, "position": 2**53}}),
    ("pull", {"cursor": {**NOWHERE, "since": "x"}}), ("pull", {"cursor": {**NOWHERE, "epoch": "x" * 65}}),
    ("pull", {"cursor": None, "next": 1}), ("fetch", {"records": None}), ("fetch", {"records": ["x"] * 1001}),
    *(("pull", {"cursor": None, "most": most}) for most in (0, -1, True, "8", 1.5, 2**53, [8])),
    ("fetch", {"records": [None]}), ("changes", {}), ("changes", {"cursor": []}),
])
def test_what_the_description_refuses_the_server_refuses(one_app, route, request_json):
    assert problems(schema_of(route), request_json) != []
    answer = client_of(one_app, route).post(f"/sync/{route}", json=request_json)
    assert (answer.status_code, answer.json["error"]["code"]) == (400, "bad_request")
    assert problems(schema_of(route, 400), answer.json) == []
