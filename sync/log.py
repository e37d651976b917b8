"""The store: every accepted change once, in one order, its text verbatim; beside it what is derived from them.

Tables: counter (one row: position, chain, epoch, how many are held), change_log, snapshot, ref, held, about. The
settings that keep an acknowledged change on disk are asserted on every connection. SQLite through apsw by default,
PostgreSQL by URL; both behave alike. Refuses a database that a newer program has written, and an older one until it is
upgraded (versions.py). Other tables may live in the same database.
"""

import contextlib
import hashlib
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from types import SimpleNamespace
from typing import Any

import apsw
import peewee
from playhouse.apsw_ext import APSWDatabase

from . import merge
from .json_text import quick_bytes, quick_json
from .tables import FIRST_CHAIN as FIRST_CHAIN
from .tables import tables

VERSION = 4
COUNTED = ("position", "chain", "epoch", "lamport", "held", "held_chain")
BUSY_TIMEOUT_S = 20.0
LONGEST_JOURNAL = 16_384  # pages; until then moving them is left to tidying.py
OLDEST_SQLITE = (3, 51, 3)  # earlier ones can damage a WAL file that two connections reset: sqlite.org/changes.html
SETTINGS = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "wal_autocheckpoint": LONGEST_JOURNAL}
# A commit that is told is on disk; a transaction that waited for another sees what that one has stored.
SET_RIGHT = ("SELECT set_config('default_transaction_isolation', 'read committed', false), CASE current_setting("
             "'synchronous_commit') WHEN 'off' THEN set_config('synchronous_commit', 'on', false) END, "
             "current_setting('fsync')")
CHUNK = 400
# Snapshots to read from. One of a record that has had a single change is not written a second time: its json is '', and
# what it says is that change, at the same position; snapshot_of reads either.
STANDING = ("(SELECT s.record, s.kind, s.position, CASE WHEN s.json = '' THEN c.body ELSE s.json END AS json "
            "FROM snapshot s LEFT JOIN change_log c ON s.json = '' AND c.position = s.position) AS standing")


class Unavailable(Exception):
    """The database did not do what was asked of it; nothing of this request is stored."""


class NewerDatabase(Exception):
    """The database was written by a newer version of the program."""


class OlderDatabase(Exception):
    """The database is of an older version and has to be upgraded first."""


class NoStore(Exception):
    """There is no store in this database."""


class SqliteDatabase(APSWDatabase):
    """SQLite whose every connection proves its settings before it is used."""

    def _add_conn_hooks(self, conn: apsw.Connection) -> None:
        super()._add_conn_hooks(conn)  # type: ignore[no-untyped-call]
        for name, wanted in SETTINGS.items():
            found = conn.pragma(name)
            if found != wanted:
                raise Unavailable(f"SQLite setting {name} is {found!r} and must be {wanted!r}")


class PostgresqlDatabase(peewee.PostgresqlDatabase):
    """PostgreSQL whose every connection is set right first, whatever the server, the database or the address says.

    What no connection can set right is refused: a server that does not wait for its disk.
    """

    def _connect(self) -> Any:
        conn = super()._connect()  # type: ignore[misc]
        if conn.execute(SET_RIGHT).fetchone()[2] == "off":
            conn.close()
            raise Unavailable("PostgreSQL is set to fsync = off, so a power cut would lose what was confirmed. Set fsync = "
                              "on in its configuration and reload it")
        return conn


class Store:
    """One database. policy_of(kind, field), ref_fields(kind) and personal kinds come from who declares records.

    is_as_found: for keeping only: older ones are opened, none is made (raises NoStore). db: where it is open already.
    """

    def __init__(self, url: str, *, policy_of: Callable[[str, str], str] | None = None,
                 ref_fields: Callable[[str], Iterable[str]] | None = None, personal: Iterable[str] = (),
                 newest_schema: int = 1, is_as_found: bool = False, db: peewee.Database | None = None) -> None:
        self.url = url
        self.policy_of = policy_of or (lambda kind, field: "worse")
        self.personal = frozenset(personal)
        self.newest_schema = newest_schema
        self._ref_fields = ref_fields or (lambda kind: ())
        self._ref_fields_of: dict[str, frozenset[str]] = {}
        self.db = db or database(url)
        self.written = threading.Event()  # set after every commit, for whoever waits for one
        self.is_postgresql = isinstance(self.db, peewee.PostgresqlDatabase)
        with contextlib.ExitStack() as refused, self.working():
            refused.callback(self.close)
            self.version = self._prepare(is_as_found)
            refused.pop_all()

    def ref_fields(self, kind: str) -> frozenset[str]:
        """The fields of a kind that hold ids of other records."""
        if kind not in self._ref_fields_of:
            self._ref_fields_of[kind] = frozenset(self._ref_fields(kind))
        return self._ref_fields_of[kind]

    def close(self) -> None:
        """Closes this thread's connection, unless somebody's transaction still goes on in it."""
        if not self.db.is_closed() and not self.db.in_transaction():
            self.db.close()

    @contextlib.contextmanager
    def working(self) -> Iterator[None]:
        """Turns every trouble of the database into Unavailable and drops a connection that broke."""
        try:
            yield
        except (peewee.PeeweeException, apsw.Error, OSError, UnicodeDecodeError) as trouble:
            if not self.db.in_transaction() and not self.db.is_closed() and self._may_be_broken():
                with contextlib.suppress(peewee.PeeweeException):
                    self.db.close()
            raise Unavailable(f"{type(trouble).__name__}: {trouble}") from trouble

    def _may_be_broken(self) -> bool:
        """SQLite says nothing of a connection; one whose file was gone for a moment fails for ever."""
        return not self.is_postgresql or not self.db.is_connection_usable()

    @contextlib.contextmanager
    def writing(self) -> Iterator[SimpleNamespace]:
        """A transaction whose first statement takes the counter row: position order is commit order.

        Gives what is COUNTED; what they are at the end is written back.
        """
        with self.working(), self.db.transaction() if self.is_postgresql else self.db.transaction("IMMEDIATE"):
            taken = self.rows(f"UPDATE counter SET position = position WHERE number = 1 RETURNING {', '.join(COUNTED)}")[0]
            counter = SimpleNamespace(**dict(zip(COUNTED, taken, strict=True)))
            yield counter
            found = tuple(getattr(counter, name) for name in COUNTED)
            if found != tuple(taken):
                self.rows(f"UPDATE counter SET {' = ?, '.join(COUNTED)} = ? WHERE number = 1", found)
        self.written.set()

    @contextlib.contextmanager
    def alone(self) -> Iterator[None]:
        """A transaction for making and changing tables: of two processes that start at once, one waits."""
        with self.db.transaction() if self.is_postgresql else self.db.transaction("IMMEDIATE"):
            if self.is_postgresql:
                self.rows("SELECT pg_advisory_xact_lock(7224001)")
            yield

    def rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """All rows of one statement; placeholders are written as ? for either database."""
        cursor = self.db.execute_sql(self._dialect(sql), tuple(values))  # type: ignore[no-untyped-call]
        return [] if self.is_postgresql and cursor.description is None else list(cursor.fetchall())

    def write_many(self, sql: str, rows: Iterable[Sequence[Any]]) -> None:
        """Runs one statement for each row, inside the transaction that is open."""
        listed = list(rows)
        if listed:
            with peewee.__exception_wrapper__:  # type: ignore[attr-defined]
                self.db.cursor().executemany(self._dialect(sql), listed)  # type: ignore[no-untyped-call]

    def rows_of(self, sql: str, column: str, wanted: Iterable[str]) -> Iterator[tuple[Any, ...]]:
        """Rows where the column is one of the wanted values, asked for in pieces; sql ends where the WHERE begins."""
        values = list(dict.fromkeys(wanted))
        for start in range(0, len(values), CHUNK):
            piece = values[start:start + CHUNK]
            yield from self.rows(f"{sql} WHERE {column} IN ({','.join('?' * len(piece))})", piece)

    def make(self, statements: Iterable[str]) -> None:
        """Runs each "CREATE ... IF NOT EXISTS name ..." whose table or index is missing, inside the open transaction.

        It is asked beforehand because PostgreSQL locks an index's table even where the index is there: a program that
        starts would stand against those that write, and one of them end in a deadlock.
        """
        for sql in statements:
            if not self.has_table(sql.partition(" IF NOT EXISTS ")[2].partition(" ")[0]):
                self.rows(sql)

    def has_table(self, name: str) -> bool:
        """Whether there is such a table or index."""
        return bool(self.rows("SELECT to_regclass(?) IS NOT NULL" if self.is_postgresql else
                              "SELECT COUNT(*) FROM sqlite_master WHERE name = ?", (name,))[0][0])

    def counter(self) -> dict[str, Any]:
        """{"epoch", "position", "chain", "lamport", "held"}: how far the log has come, the highest lamport, the last hold."""
        with self.working():
            row = self.rows("SELECT epoch, position, chain, lamport, "
                            "(SELECT number || '.' || raw_hash FROM held WHERE number = (SELECT MAX(number) FROM held)) "
                            "FROM counter WHERE number = 1")[0]
        return dict(zip(("epoch", "position", "chain", "lamport", "held"), (*row[:4], row[4] or ""), strict=True))

    def has_held(self, mark: str) -> bool:
        """Whether this very hold, "number.raw_hash", was ever made here; rows of held changes are never deleted."""
        number, _, raw_hash = mark.partition(".")
        return not mark or bool(mark.isascii() and number.isdigit() and len(number) < 16 and raw_hash.isalnum() and self.rows(
            "SELECT 1 FROM held WHERE number = ? AND raw_hash = ?", (int(number), raw_hash)))

    def chain_at(self, position: int) -> str | None:
        """The chain hash over all ids and content hashes up to a position; None beyond the end."""
        if position == 0:
            return FIRST_CHAIN
        found = self.rows("SELECT chain FROM change_log WHERE position = ?", (position,))
        return str(found[0][0]) if found else None

    def begin_epoch(self) -> str:
        """A new epoch, to be begun after a restore: every device then offers its confirmed changes again."""
        with self.writing() as counter:
            counter.epoch = secrets.token_hex(8)
        return str(counter.epoch)

    def snapshots(self, records: Iterable[str]) -> dict[str, dict[str, Any]]:
        """Record id → snapshot, for those of the records that exist."""
        with self.working():
            return {row[0]: snapshot_of(*row) for row in
                    self.rows_of(f"SELECT record, kind, position, json FROM {STANDING}", "record", records)}

    def _dialect(self, sql: str) -> str:
        return sql.replace("?", "%s") if self.is_postgresql else sql

    def _prepare(self, is_as_found: bool) -> int:
        if not self.is_postgresql and tuple(map(int, apsw.sqlite_lib_version().split("."))) < OLDEST_SQLITE:
            raise Unavailable(f"SQLite {apsw.sqlite_lib_version()} can damage its files; install a newer apsw")
        with self.alone():
            models = tables(self.db)
            if is_as_found and not self.has_table("about"):
                raise NoStore("There are no books in this database.")
            self.db.create_tables([models["about"]])
            found = self.rows("SELECT value FROM about WHERE name = 'version'")
            version = int(found[0][0]) if found else VERSION
            if version > VERSION:
                raise NewerDatabase(f"This database has version {version}, and this program knows versions up to {VERSION}. "
                                    "Start the newer program, or restore a backup made before it.")
            if version < VERSION and not is_as_found:
                raise OlderDatabase(f"This database has version {version}; it has to be upgraded first, after a backup.")
            if not found:
                self.db.create_tables(list(models.values()))
                self.rows("INSERT INTO about (name, value) VALUES ('version', ?)", (str(VERSION),))
                self.rows("INSERT INTO counter (number, position, chain, epoch, lamport, held, held_chain) "
                          "VALUES (1, 0, ?, ?, 0, 0, ?)", (FIRST_CHAIN, secrets.token_hex(8), FIRST_CHAIN))
        return version


def database(url: str) -> peewee.Database:
    """The peewee database of "sqlite:///path" or "postgresql://user@host/name"."""
    if url.startswith("sqlite:///"):
        pragmas = (("busy_timeout", int(BUSY_TIMEOUT_S * 1000)), ("journal_mode", "wal"), ("synchronous", "full"),
                   ("foreign_keys", 1), ("cache_size", -16000), ("wal_autocheckpoint", LONGEST_JOURNAL))
        path = url.removeprefix("sqlite:///")
        return SqliteDatabase(path, pragmas=pragmas, timeout=BUSY_TIMEOUT_S)  # type: ignore[no-untyped-call]
    if url.startswith(("postgresql://", "postgres://")):
        return PostgresqlDatabase(url, prefer_psycopg3=True)  # type: ignore[no-untyped-call]
    raise ValueError(f"{url!r} is no database address; write sqlite:///path/to/file or postgresql://user@host/name")


def next_chain(chain: str, identity: str, content_hash: str) -> str:
    """The chain hash after one more change. It covers ids and content hashes, so texts can be erased under it."""
    return hashlib.sha256(f"{chain} {identity} {content_hash}".encode()).hexdigest()[:32]


def next_held_chain(chain: str, identity: str, stated_hash: str, raw_hash: str, device: str, received_at: str) -> str:
    """The chain hash over the held changes, in the order of their numbers, after one more of them."""
    return next_chain(chain, identity, f"{stated_hash} {raw_hash} {device} {received_at}")


def snapshot_of(record: str, kind: str, position: int, text: str) -> dict[str, Any]:
    """A snapshot from its row of STANDING, with "moved": field → position of the change that last changed its answers."""
    found = quick_json(text)
    if "set" not in found:
        return {"record": record, "kind": kind, **found}
    snapshot = merge.empty(record, kind)
    snapshot["moved"] = dict.fromkeys(merge.lay(snapshot, found), position)
    return snapshot


def snapshot_text(snapshot: dict[str, Any]) -> str:
    """The text in which a snapshot is stored."""
    return quick_bytes({"heads": snapshot["heads"], "gone": snapshot["gone"], "moved": snapshot["moved"]}).decode()
