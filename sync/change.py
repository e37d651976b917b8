"""One immutable change: its shape, its limits, its hash and its wire text.

Promises: `parse` returns a change that every replica reads alike (exact numbers, one meaning for each key, text that
every store can hold) or raises `Refused` with a code. Refuses: NaN and infinity, fractions in answers (a measured
number is a text with its unit), integers beyond 2^53-1, duplicate keys, unknown keys, naive times, absurd sizes.
"""

import datetime
import functools
import hashlib
import json
import re
import secrets
import time
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, TypeGuard

from .json_text import Refused as Refused
from .json_text import sure_json, written

Change = dict[str, Any]
IsPlain = Callable[[Change], bool]

LONGEST_TEXT = 65_536
MOST_FIELDS = 200
MOST_REPLACED = 500
DEEPEST = 8
LARGEST_INTEGER = 2**53 - 1
LETTERS = "0123456789abcdefghjkmnpqrstvwxyz"  # of names; in the order of their codes, so that names sort as their times do
NAME_STEP_MS = 8

KEYS = frozenset(("id", "kind", "record", "set", "replaces", "basis", "lamport", "at", "by", "schema"))
NEEDED = KEYS - {"basis"}

_is_id = re.compile(r"[A-Za-z0-9_-]{1,64}\.[A-Za-z0-9_-]{1,64}\.(?:0|[1-9][0-9]{0,15})").fullmatch
_is_hash = re.compile(r"[0-9a-f]{32}").fullmatch
_is_record = re.compile(r"[a-z][a-z0-9_]{0,31}:[A-Za-z0-9_.-]{1,64}").fullmatch
_is_field = functools.lru_cache(1000)(re.compile(r"[a-z][a-z0-9_.]{0,63}").fullmatch)  # the same few names ever again
# RFC 3339 with its offset; a leap second is one of its times
_is_time = re.compile(r"(\d{4}-\d\d-\d\d)T(?:[01]\d|2[0-3]):[0-5]\d:(?:[0-5]\d|60)(?:\.\d{1,9})?"
                      r"(?:Z|[+-](?:[01]\d|2[0-3]):[0-5]\d)", re.ASCII).fullmatch
_ESCAPED_TROUBLE = re.compile(r"\\u(d[89a-f]|0000)", re.IGNORECASE)


@functools.lru_cache(4000)
def _is_day(text: str) -> bool:
    """Whether the calendar has this day; 0000 is no year of it here."""
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def new_name(now_ms: int | None = None) -> str:
    """Sixteen characters for the name of a new record: when it was made, in steps of 8 ms, then 40 random bits.

    Names of one day lie beside each other in every index, so storing them touches a few of its pages and not all of them.
    Nothing else rests on the time in them: a wrong clock costs that and no more.
    """
    now_ms = time.time_ns() // 1_000_000 if now_ms is None else now_ms
    number = (now_ms // NAME_STEP_MS % 2**40) << 40 | secrets.randbits(40)
    return "".join(LETTERS[number >> shift & 31] for shift in range(75, -1, -5))


class Pen:
    """Gives a device the ids of its changes: device.run.counter, the run random at every start of the program.

    A rolled-back or copied store therefore never uses an id again.
    """

    def __init__(self, device: str) -> None:
        self.device = device
        self.run = secrets.token_hex(8)
        self.counter = 0

    def next_id(self) -> str:
        """An id that no change had before."""
        self.counter += 1
        return f"{self.device}.{self.run}.{self.counter}"


def make_change(identity: str, record: str, answers: Mapping[str, Any], *, lamport: int, at: str, by: str,
                replaces: Mapping[str, Iterable[str]] | None = None, basis: Mapping[str, Any] | None = None,
                schema: int = 1) -> Change:
    """A change as a dict; `replaces` are the ids that stood on that person's screen when the edit began."""
    change: Change = {
        "id": identity, "kind": record.partition(":")[0], "record": record, "set": dict(answers),
        "replaces": {field: sorted(ids) for field, ids in (replaces or {}).items()},
        "lamport": min(lamport, LARGEST_INTEGER), "at": at, "by": by, "schema": schema,
    }
    if basis is not None:
        change["basis"] = dict(basis)
    check(change)
    return change


def to_text(change: Change) -> str:
    """The JSON text of a change. The sender makes it once; these characters travel and are stored verbatim."""
    return written(change)


def content_hash(text: str) -> str:
    """The first 32 hex digits of the SHA-256 of the text's UTF-8 bytes."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:32]


def is_hash(text: str) -> bool:
    """Whether a text has the shape of a content hash."""
    return _is_hash(text) is not None


def is_record(text: str) -> bool:
    """Whether a text is the id of a record, of one that exists or not."""
    return _is_record(text) is not None


def parse(text: str, newest_schema: int | None = None) -> Change:
    """The change that a text holds, checked; raises Refused.

    newest_schema: a change of a newer schema is refused as "newer_schema" before its shape is looked at.
    """
    return read(text, newest_schema)[0]


def read(text: str, newest_schema: int | None = None, is_plain: IsPlain | None = None) -> tuple[Change, bool]:
    """As parse, and whether is_plain knows every answer in it. is_plain: see `check`."""
    found = text.encode("utf-8", "surrogatepass")
    if len(found) > LONGEST_TEXT:
        raise Refused("too_large")
    if not _is_whole(text):
        raise Refused("bad_character")
    change = sure_json(found)
    if not isinstance(change, dict):
        raise Refused("not_an_object")
    _check_characters(change, text)
    schema = change.get("schema")
    if not _is_integer(schema) or schema < 1:
        raise Refused("bad_schema", "schema")
    if newest_schema is not None and schema > newest_schema:
        raise Refused("newer_schema", "schema")
    return change, check(change, is_plain)


def identity_in(text: str) -> str:
    """The id that a text claims, for a receipt about a change that was refused; empty where none can be read."""
    try:
        found = json.loads(text)["id"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return ""
    return found if isinstance(found, str) and _is_id(found) else ""


def check(change: Change, is_plain: IsPlain | None = None) -> bool:
    """Raises Refused with the code of the first thing that is wrong in a change's shape; gives whether it is plain.

    is_plain(change): whether every answer is one that somebody knows down to its last value, with no fraction, no integer
    beyond 2^53-1 and nothing nested deeper than DEEPEST in it; nothing within these is then looked at again. It is asked
    once the rest of the shape is right.
    """
    keys = change.keys()
    if not NEEDED <= keys <= KEYS:
        if keys - KEYS:
            raise Refused("unknown_key", min(keys - KEYS)[:64])
        raise Refused("missing_key", min(NEEDED - keys))
    identity, record, at, by = change["id"], change["record"], change["at"], change["by"]
    if not (isinstance(identity, str) and _is_id(identity)):
        raise Refused("bad_id", "id")
    if not (isinstance(record, str) and _is_record(record)):
        raise Refused("bad_record", "record")
    if change["kind"] != record.partition(":")[0]:
        raise Refused("bad_kind", "kind")
    if not (isinstance(at, str) and (found := _is_time(at)) and _is_day(found[1])):
        raise Refused("bad_at", "at")
    if not (isinstance(by, str) and 0 < len(by) <= 100):
        raise Refused("bad_by", "by")
    if not (_is_integer(change["lamport"]) and 0 <= change["lamport"] <= LARGEST_INTEGER):
        raise Refused("bad_lamport", "lamport")
    if not (_is_integer(change["schema"]) and change["schema"] >= 1):
        raise Refused("bad_schema", "schema")
    answers, replaces = change["set"], change["replaces"]
    if not (isinstance(answers, dict) and 0 < len(answers) <= MOST_FIELDS):
        raise Refused("bad_set", "set")
    for field in answers:
        if not _is_field(field):
            raise Refused("bad_field", field[:64])
    if not isinstance(replaces, dict):
        raise Refused("bad_replaces", "replaces")
    for field, ids in replaces.items():
        if field not in answers or not isinstance(ids, list) or len(ids) > MOST_REPLACED:
            raise Refused("bad_replaces", field[:64])
        for other in ids:
            if not isinstance(other, str) or other == identity or not _is_id(other):
                raise Refused("bad_replaces", field)
    if "basis" in change:
        if not isinstance(change["basis"], dict):
            raise Refused("bad_basis", "basis")
        _check_within([change["basis"]], "basis", True)
    if is_plain is not None and is_plain(change):
        return True
    _check_within(answers.values(), "set", False)
    return False


def _check_within(level: Collection[Any], where: str, may_hold_fractions: bool) -> None:
    """Refuses what is nested too deep or is no number that all readers read alike."""
    levels_left = DEEPEST
    while level:
        deeper: list[Any] = []
        for item in level:
            shape = type(item)  # exact types: this runs for every reading of every phone, and JSON gives no others
            if shape is str:
                continue
            if shape is dict:
                deeper += item.values()
            elif shape is list:
                deeper += item
            else:
                _check_scalar(item, where, may_hold_fractions)
                continue
            if levels_left == 0:
                raise Refused("too_deep", where)
        level, levels_left = deeper, levels_left - 1


def _check_scalar(value: Any, where: str, may_hold_fractions: bool) -> None:
    """Refuses what is no JSON value, and a number that not every reader reads alike."""
    shape = type(value)
    if shape is int:
        if not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
            raise Refused("integer_too_large", where)
    elif shape is float:
        if not may_hold_fractions:
            raise Refused("fraction", where)
        if value - value != 0:
            raise Refused("not_finite", where)
    elif not (value is None or shape is bool):
        raise Refused("not_json", where)


def _check_characters(value: Any, text: str) -> None:
    """Refuses half characters and the character zero, which some stores and interpreters cannot hold."""
    if "\\u" in text and _ESCAPED_TROUBLE.search(text):  # written as escapes: look at what they became
        found = "".join(_strings(value))
        if "\x00" in found or not _is_whole(found):
            raise Refused("bad_character")


def _is_whole(text: str) -> bool:
    """Whether a text holds no half of a character."""
    try:
        return text.isascii() or bool(text.encode())
    except UnicodeEncodeError:
        return False


def _strings(value: Any) -> Iterable[str]:
    """Every text in a value, in no order; by a list of its own, as nothing has yet said how deep the value is."""
    rest = [value]
    while rest:
        item = rest.pop()
        if isinstance(item, str):
            yield item
        elif isinstance(item, dict):
            yield from item
            rest.extend(item.values())
        elif isinstance(item, list):
            rest.extend(item)


def _is_integer(value: Any) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)
