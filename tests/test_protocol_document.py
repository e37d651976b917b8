"""PROTOCOL.md is all that another team has: what the server knows stands there, with the server's own figures."""

import hashlib
import json
import re
from pathlib import Path

import pytest

from sync import audit, by_hand, change, exchange, photos, pictures, shapes
from tests.sync.making import open_store, pushed
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
