"""Keeping the books: a copy of a store as it was at one moment, the log as lines, and a store made from such lines.

Promises: a copy holds everything that was acknowledged before it began, and nothing half, while others write on; a store
that is loaded or restored has a new epoch, so that every device offers its confirmed changes again; what was there
before a replacement is put aside, never deleted, in the same transaction.
"""

import base64
import contextlib
import json
import os
import secrets
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import peewee

from .change import NEEDED, Change, content_hash
from .exchange import _merge
from .log import FIRST_CHAIN, Store, Unavailable, database, next_held_chain
from .tables import tables

PAGE = 1000
CHANGE, HELD = "change", "held"

Entry = list[Any]


@contextlib.contextmanager
def reading(store: Store) -> Iterator[None]:
    """A transaction in which every question sees the same moment, while others write on."""
    if store.db.in_transaction():
        yield
        return
    with store.working(), store.db.transaction():
        if store.is_postgresql:
            store.rows("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def pages(store: Store, sql: str, column: str, after: Any) -> Iterator[list[tuple[Any, ...]]]:
    """All rows of a SELECT whose first column is the one they are sorted by, in pages; sql ends where WHERE begins."""
    while page := store.rows(f"{sql} WHERE {column} > ? ORDER BY {column} LIMIT {PAGE}", (after,)):
        yield page
        after = page[-1][0]


def copy_sqlite(store: Store, path: str) -> None:
    """Writes all tables of a SQLite store, as they are at one moment, into a new file, which is on disk afterwards."""
    with store.working():
        store.rows("VACUUM INTO ?", (path,))
        with open(path, "rb") as file:  # VACUUM INTO itself does not wait for the disk
            os.fsync(file.fileno())


def entries(store: Store) -> Iterator[Entry]:
    """The store as it is at one moment, as JSON values: its place first, then the log, then what is held.

    What can be made again from the log (records, references) is left out. Works for every version of the database.
    """
    with reading(store):
        end = store.counter()
        yield ["place", store.version, end["epoch"], end["position"], end["chain"], end["lamport"]]
        for page in pages(store, "SELECT position, id, hash, chain, record, kind, device, received_at, body "
                                 "FROM change_log", "position", -2**62):
            for row in page:
                yield [CHANGE, *row]
        for page in pages(store, "SELECT number, id, stated_hash, raw_hash, device, reason, received_at, resolved_at, body "
                                 "FROM held", "number", -2**62):
            for row in page:
                yield [HELD, *row[1:-1], base64.b64encode(bytes(row[-1])).decode()]


def load(store: Store, source: Iterable[Entry]) -> None:
    """Fills an empty store with entries, all or none, and gives it a new epoch; `verify` says whether they are sound."""
    found = iter(source)
    _, _version, _epoch, position, chain, lamport = next(found)
    with store.writing() as counter:
        counter.position, counter.chain, counter.lamport = position, chain, lamport
        counter.epoch, counter.held, counter.held_chain = secrets.token_hex(8), 0, FIRST_CHAIN
        changes: list[Entry] = []
        held: list[Entry] = []
        for entry in found:
            if entry[0] == CHANGE:
                changes.append(entry[1:])
            else:
                identity, stated, raw, device, _reason, received_at, _resolved, body = entry[1:]
                counter.held += 1
                counter.held_chain = next_held_chain(counter.held_chain, identity, stated, raw, device, received_at)
                held.append([counter.held, *entry[1:-1], base64.b64decode(body)])
            if len(changes) + len(held) >= PAGE:
                _insert(store, changes, held)
        _insert(store, changes, held)
        rebuild(store)


def _insert(store: Store, changes: list[Entry], held: list[Entry]) -> None:
    store.write_many("INSERT INTO change_log (position, id, hash, chain, record, kind, device, received_at, body) "
                     "VALUES (?,?,?,?,?,?,?,?,?)", changes)
    store.write_many("INSERT INTO held (number, id, stated_hash, raw_hash, device, reason, received_at, resolved_at, body) "
                     "VALUES (?,?,?,?,?,?,?,?,?)", held)
    changes.clear()
    held.clear()


def rebuild(store: Store) -> None:
    """Makes records and references anew from the log, in one transaction; an altered text is passed over."""
    with store.writing():
        store.rows("DELETE FROM snapshot")
        store.rows("DELETE FROM ref")
        for page in pages(store, "SELECT position, hash, body FROM change_log", "position", -2**62):
            of_record: dict[str, list[tuple[int, Change]]] = {}
            for position, found_hash, body in page:
                change = change_in(body, found_hash)
                if change is not None:
                    of_record.setdefault(change["record"], []).append((position, change))
            _merge(store, of_record)


def change_in(body: str | None, expected_hash: str) -> Change | None:
    """The change in a stored text, None where the text was erased or is not the one that was stored.

    Its shape is looked at only as far as the merge needs it: it was checked when it came, by the rules of then.
    """
    if body is None or content_hash(body) != expected_hash:
        return None
    try:
        change: Change = json.loads(body)
        is_change = (change.keys() >= NEEDED and isinstance(change["set"], dict)
                     and all(type(change[key]) is str for key in ("id", "kind", "record"))
                     and all(type(other) is str for ids in change["replaces"].values() for other in ids))
    except (ValueError, AttributeError, TypeError, RecursionError):
        return None
    return change if is_change else None


def replace(url: str, source: Iterable[Entry], aside: str, opened: Callable[[peewee.Database], Store],
            more_tables: Iterable[str] = ()) -> Store:
    """The PostgreSQL store at this address, filled with entries; what was there is put aside in the same transaction.

    aside: the schema that its tables then lie in; opened: gives the store of an open database; more_tables: which
    other tables are derived from the store's and go along.
    """
    db = database(url)
    try:
        with contextlib.ExitStack() as failed, db.transaction():
            failed.callback(db.close)
            _put_aside(db, aside, [*(model._meta.table_name for model in tables(db).values()), *more_tables])
            store = opened(db)
            load(store, source)
            failed.pop_all()
    except (peewee.PeeweeException, OSError) as trouble:
        raise Unavailable(f"{type(trouble).__name__}: {trouble}") from trouble
    return store


def _put_aside(db: peewee.Database, aside: str, names: list[str]) -> None:
    there = {row[0] for row in db.execute_sql(  # type: ignore[no-untyped-call]
        "SELECT tablename FROM pg_tables WHERE schemaname = current_schema()").fetchall()}
    names = [name for name in names if name in there]
    if names:
        db.execute_sql(f'CREATE SCHEMA "{aside}"')  # type: ignore[no-untyped-call]
    for name in names:
        db.execute_sql(f'ALTER TABLE "{name}" SET SCHEMA "{aside}"')  # type: ignore[no-untyped-call]
