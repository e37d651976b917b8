"""PROTOCOL.md is all that another team has: what the server knows stands there, with the server's own figures."""

import hashlib
import json
import re
from pathlib import Path

import pytest

from sync import audit, by_hand, change, exchange, photos, pictures, shapes
from tests.sync.making import made, open_store, pushed
from webform import access, create_app, tries
from webform.checklist import declaration
from webform.wire import ROUTES, described

ROOT = Path(__file__).parents[1]
WHOLE = (ROOT / "sync/PROTOCOL.md").read_text(encoding="utf-8")
PROSE = " ".join(WHOLE.split())
MIB, DAY_S = 2**20, 86_400
TABLE = {(int(status), code) for statuses, codes in re.findall(r"^\| ([0-9, ]+) \| (`[^|]+) \|", WHOLE, re.MULTILINE)
         for status in statuses.split(", ") for code in re.findall(r"`(\w+)`", codes)}
HELD = WHOLE[WHOLE.index("## 4. Held"):WHOLE.index("## 5.")]


def section(name):
    """What stands below one route's heading."""
    return re.split(r"^##", WHOLE[WHOLE.index(f"### {name}\n") + 3:], maxsplit=1, flags=re.MULTILINE)[0]


@pytest.mark.parametrize("route", [route for route, _door in ROUTES.values()], ids=lambda route: route.name)
def test_every_route_is_described_with_every_key(route):
    told = section("photos" if route.name.startswith("photo") else route.name)
    keys = {*(route.request.fields if route.request is not None else ()), *route.answer.fields}
    assert {key for key in keys if f'"{key}"' not in told} == set()


@pytest.mark.parametrize("shape", [shapes.Receipt, shapes.Answer, shapes.Record, shapes.LogEntry, shapes.OutboxFile,
                                   shapes.CarriedPhoto, shapes.Place], ids=lambda shape: shape.__name__)
def test_every_key_of_what_is_inside_is_described(shape):
    assert {key for key in shape().fields if f'"{key}"' not in PROSE and f"`{key}`" not in PROSE} == set()


def test_every_error_stands_in_a_table_with_its_status():
    answers = [(int(status), answer["content"]["application/json"]["schema"]["properties"])
               for item in described()["paths"].values() for told in item.values()
               for status, answer in told["responses"].items() if status != "200"]
    raised = {(status, code) for status, shape in answers for code in shape["error"]["properties"]["code"]["enum"]}
    assert len(raised) > 20 and raised - {(500, "failed")} - TABLE == set() and "(500 `failed`" in PROSE


def test_every_error_of_a_photo_stands_where_its_client_reads():
    """A code in the photos' own table, or a status of which that section says that section 2 tells it."""
    told = section("photos")
    shared, = re.findall(r"^([0-9, and]+) are as in section 2", told, re.MULTILINE)
    assert {(status, code) for path, item in described()["paths"].items() if "photos" in path for one in item.values()
            for status, answer in one["responses"].items() if status not in ("200", *re.findall(r"[0-9]+", shared))
            for code in answer["content"]["application/json"]["schema"]["properties"]["error"]["properties"]["code"]["enum"]
            if f"`{code}`" not in told} == set()


@pytest.mark.parametrize(("told", "key", "taken", "held"), [
    ("a decimal number without leading zeros, at most 16 digits", "id", ["a.b.1", "a.b.10", "a.b." + "9" * 16],
     ["a.b.01", "a.b.", "a.b.-1", "a.b.1" + "0" * 16, "a.b", "a..1"]),
    ("RFC 3339 with a capital T and Z, from year 1 on, at most 9 digits behind the second's point", "at",
     ["2026-11-25T17:40:00Z", "2026-11-25T17:40:00.123456789Z", "2026-11-25T18:40:00+01:00", "0001-01-01T00:00:00Z",
      "2016-12-31T23:59:60Z", "9999-12-31T23:59:59.5-23:59"],
     ["2026-11-25t17:40:00Z", "2026-11-25T17:40:00z", "2026-11-25 17:40:00Z", "2026-11-25T17:40:00.1234567890Z",
      "0000-01-01T00:00:00Z", "2026-02-30T17:40:00Z", "2026-11-25T17:40:00", "2026-11-25T17:40Z", "2026-11-25T24:00:00Z",
      "2026-11-25T17:40:00+0100", "2026-11-25T17:40:00.Z"]),
    ("1 to 100 characters", "by", ["k", "𝄞" * 100], ["", "𝄞" * 101])])
def test_a_key_takes_what_is_told_of_it_and_nothing_else(told, key, taken, held):
    one = made("z.1", "job:j", {"truck": "HL 1"})
    assert told in PROSE
    assert [value for value in taken if not change.parse(json.dumps({**one, key: value}))] == []
    for value in held:
        with pytest.raises(change.Refused, match="bad_" + key):
            change.parse(json.dumps({**one, key: value}))


def test_what_is_newer_is_said_before_its_shape_is_looked_at():
    assert "said before its shape is looked at" in HELD
    with pytest.raises(change.Refused, match="newer_schema"):
        change.parse(json.dumps({**made("z.1", "job:j", {"truck": 1}), "schema": 2, "at": "soon", "more": []}), 1)


def test_a_code_is_taken_as_section_3_says_it_may_be_typed(tmp_path):
    app = create_app(tmp_path / "shop")
    code = app.extensions["doors"].new_code()
    typed = f" ashbook-enrol:{code[:4].lower()}- {code[4:]} ".replace("0", "o").replace("1", "l")
    told = "Spaces, hyphens and lower case do not matter, nor O for 0 and I or L for 1; `ASHBOOK-ENROL:` may stay in front."
    assert told in PROSE and "it may be empty, and 60 characters" in PROSE
    assert app.test_client().post("/sync/enrol", json={"code": typed, "name": ""}).status_code == 200
    app.extensions["shop"].store.close()


def test_every_reason_to_hold_a_change_is_told():
    source = "".join((ROOT / "sync" / name).read_text() for name in ("change.py", "json_text.py", "exchange.py"))
    reasons = {*re.findall(r'Refused\("(\w+)"', source), *exchange.SHUT, "hash_mismatch", "other_content"}
    assert len(reasons) > 25 and {reason for reason in reasons if f"`{reason}`" not in HELD} == set()


@pytest.mark.parametrize("words", [
    f"{change.LONGEST_TEXT:,} bytes of text", f"1 to {change.MOST_FIELDS} fields", f"At most {change.MOST_REPLACED} replaced",
    f"At most {change.DEEPEST} objects or lists", f"{shapes.LARGEST_BODY // MIB} MiB unpacked",
    f"{shapes.MOST_CHANGES:,} changes a push", f"at most {shapes.MOST_FETCHED:,} and {shapes.MOST_AROUND})",
    f"at most {exchange.PAGE_RECORDS:,} records", f"At most {audit.PAGE_CHANGES:,} entries a page",
    f"has {shapes.MOST_HELD:,} held changes", f"At most {photos.LARGEST_BYTES // MIB} MiB a photo",
    f"{photos.LARGEST_PIECE // MIB} MiB a piece", f"{pictures.MOST_PIXELS // 10**6} million pixels",
    f"{photos.QUOTA_BYTES // MIB} MiB a device and day", f"not ended in {photos.PARTIAL_SECONDS // DAY_S} days",
    f"at most {photos.MOST_PARTIAL} may be begun", f"`?size=small` ({pictures.SIZES['small']} pixels)",
    f"`large` ({pictures.SIZES['large']})", f"at most {shapes.MOST_CARRIED:,}; behind",
    f"At most {by_hand.LARGEST_FILE // MIB} MiB in all", f"{tries.TRIES} failures from one address in "
    f"{tries.TRIES_SECONDS // 60} minutes", f"It lasts {access.COOKIE_SECONDS // DAY_S} days",
    f"only `{'`, `'.join(declaration.PERSONAL)}` is personal"])
def test_every_limit_is_told_as_it_is(words):
    assert words in PROSE.replace("GET photos/HASH", "")


def test_a_body_may_be_as_large_as_is_told(tmp_path):
    app = create_app(tmp_path / "shop")
    assert f"{app.config['MAX_CONTENT_LENGTH'] // MIB} MiB as it travels" in PROSE
    app.extensions["shop"].store.close()


def test_the_example_has_the_hash_and_the_chain_that_are_told(tmp_path):
    text, = re.findall(r"^```\n(\{.*\})\n```$", WHOLE, re.MULTILINE)
    told = re.findall(r"`([0-9a-f]{32})`", WHOLE[WHOLE.index("## 9."):])
    found = hashlib.sha256(text.encode()).hexdigest()[:32]  # as sections 1 and 2 say it, with nothing of sync
    chain = hashlib.sha256(f"{'0' * 32} {json.loads(text)['id']} {found}".encode()).hexdigest()[:32]
    assert told == [found, chain] and f"one text of {len(text.encode())} bytes" in PROSE
    store = open_store(f"sqlite:///{tmp_path}/shop.db")
    [receipt] = pushed(store, text)
    assert (receipt["status"], receipt["hash"], store.counter()["chain"]) == ("stored", found, chain)
    store.close()
