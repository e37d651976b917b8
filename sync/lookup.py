"""Questions to a store that change nothing: history, references, lists, held changes. No question scans a table."""

import json
from collections.abc import Iterable
from typing import Any

from . import merge
from .log import Store

MOST = 500


def view(store: Store, record: str) -> dict[str, Any] | None:
    """The view of one record, or None where no change has named it."""
    return views(store, [record]).get(record)


def views(store: Store, records: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Record id → view, for those of the records that exist."""
    return {record: merge.view(snapshot, store.policy_of) for record, snapshot in store.snapshots(records).items()}


def history(store: Store, record: str) -> list[dict[str, Any]]:
    """Every change of a record in the order of acceptance: {"position", "id", "device", "received_at", "change"}.

    "change" is None where the text was erased.
    """
    with store.working():
        rows = store.rows("SELECT position, id, device, received_at, body FROM change_log WHERE record = ? "
                          "ORDER BY position", (record,))
    return [{"position": row[0], "id": row[1], "device": row[2], "received_at": row[3],
             "change": json.loads(row[4]) if row[4] is not None else None} for row in rows]


def children(store: Store, target: str, field: str | None = None, kind: str | None = None) -> list[str]:
    """The sorted records in which a standing answer of a reference field (this one, or any) names the target."""
    sql, values = "SELECT DISTINCT record FROM ref WHERE target = ?", [target]
    if field is not None:
        sql, values = sql + " AND field = ?", values + [field]
    with store.working():
        found = sorted(row[0] for row in store.rows(sql, values))
    return [record for record in found if kind is None or record.startswith(kind + ":")]


def around(store: Store, targets: Iterable[str], limit: int) -> list[str]:
    """The targets, the records that refer to them and those that refer to these; at most so many, each once."""
    found = dict.fromkeys(targets)
    for step in (list(found), None):
        for target in step if step is not None else list(found):
            for record in children(store, target):
                found.setdefault(record)
    return list(found)[:limit]


def find(store: Store, kind: str, field: str, target: str) -> list[str]:
    """The sorted records of a kind whose reference field names the target."""
    return children(store, target, field, kind)


def records(store: Store, kind: str, limit: int = MOST, before: int | None = None) -> list[dict[str, Any]]:
    """{"record", "position"} of the records of a kind, last changed first; before: a position, for the next page."""
    with store.working():
        rows = store.rows("SELECT record, position FROM snapshot WHERE kind = ? AND position < ? "
                          "ORDER BY position DESC LIMIT ?", (kind, before if before is not None else 2**62, limit))
    return [{"record": row[0], "position": row[1]} for row in rows]


def held(store: Store, limit: int = MOST, *, but: str | None = None, only: str | None = None) -> list[dict[str, Any]]:
    """Changes that are held, the newest first: {"number", "id", "hash", "device", "reason", "received_at", "text"}.

    "hash" is that of the text as it arrived, also where another one was stated. but: without those whose hash names a
    record of this kind; only: none but those.
    """
    sql, values = _named_by(but, only)
    with store.working():
        rows = store.rows("SELECT number, id, raw_hash, device, reason, received_at, body FROM held "
                          f"WHERE resolved_at = ''{sql} ORDER BY number DESC LIMIT ?", (*values, limit))
    return [{"number": row[0], "id": row[1], "hash": row[2], "device": row[3], "reason": row[4], "received_at": row[5],
             "text": bytes(row[6]).decode("utf-8", "replace")} for row in rows]


def held_count(store: Store, device: str | None = None, *, but: str | None = None) -> int:
    """How many changes are held, of one device or of all; but: without those whose hash names a record of this kind."""
    sql, values = _named_by(but)
    if device is not None:
        sql, values = sql + " AND device = ?", [*values, device]
    with store.working():
        return int(store.rows(f"SELECT COUNT(*) FROM held WHERE resolved_at = ''{sql}", values)[0][0])


def is_held(store: Store, raw_hash: str) -> bool:
    """Whether a change whose text as it arrived has this hash is held."""
    with store.working():
        return bool(store.rows("SELECT 1 FROM held WHERE resolved_at = '' AND raw_hash = ? LIMIT 1", (raw_hash,)))


def _named_by(but: str | None, only: str | None = None) -> tuple[str, list[str]]:
    """A condition on held changes, and its values."""
    sql, values = "", []
    for kind, word in ((but, "NOT EXISTS"), (only, "EXISTS")):
        if kind is not None:
            sql += f" AND {word} (SELECT 1 FROM snapshot WHERE record = ? || raw_hash)"
            values.append(kind + ":")
    return sql, values


def entries(store: Store, after: int = 0, limit: int = MOST) -> list[dict[str, Any]]:
    """The log itself, for audit and rebuild: {"position", "id", "hash", "chain", "record", "device", "text"}.

    "text" is None where it was erased.
    """
    names = ("position", "id", "hash", "chain", "record", "device", "text")
    with store.working():
        rows = store.rows("SELECT position, id, hash, chain, record, device, body FROM change_log WHERE position > ? "
                          "ORDER BY position LIMIT ?", (after, limit))
    return [dict(zip(names, row, strict=True)) for row in rows]
