"""An index beside the books: by which words the desk finds which record. It follows the log and is never part of a push.

As the other followers it keeps a place in the log and reads what moved since; a kill costs one page. It is derived: no backup
in lines has it, a restore drops it, and books of a time before it (or of other keys) are read from the start, in the
background (webform/judging.py). A page is read within the transaction that writes it and that takes the place's row first,
so that forget() finds either a name that was noted or a record that is empty: no erased name can come in behind it.
"""

from typing import Any

from sync import merge
from sync.log import STANDING, Store, snapshot_of

from .find_words import FIELDS, MADE_BY, Pattern, keys_of
from .verdicts import alone

TABLES = ("find_word", "find_place")
PLACE = "SELECT position FROM find_place WHERE number = 1"
PAGE = 200  # records that are read in one transaction, some milliseconds


class FindIndex:
    """The index of one store."""

    def __init__(self, store: Store) -> None:
        self.store = store
        # plain bytes order, so that the beginning of a word is a range
        text = 'TEXT COLLATE "C"' if store.is_postgresql else "TEXT"
        made = (f"CREATE TABLE IF NOT EXISTS find_word (word {text} NOT NULL, record {text} NOT NULL, "
                f"PRIMARY KEY (word, record)){'' if store.is_postgresql else ' WITHOUT ROWID'}",
                "CREATE INDEX IF NOT EXISTS find_word_record ON find_word (record)",
                "CREATE TABLE IF NOT EXISTS find_place (number INTEGER PRIMARY KEY, position BIGINT NOT NULL, "
                "made_by INTEGER NOT NULL)")
        with store.working(), alone(store):
            if store.is_postgresql:
                store.rows("SELECT pg_advisory_xact_lock(7224005)")  # two processes starting at once
            if store.has_table("find_place") and not store.rows("SELECT 1 FROM find_place WHERE made_by = ?", (MADE_BY,)):
                for table in TABLES:
                    store.rows(f"DROP TABLE {table}")
            store.make(made)
            store.rows("INSERT INTO find_place (number, position, made_by) VALUES (1, 0, ?) ON CONFLICT (number) DO NOTHING",
                       (MADE_BY,))

    def unread(self, most: int) -> tuple[dict[str, set[str]], bool]:
        """({record: its keys} of what moved last and was not read yet, whether there is more than so much of it)."""
        with self.store.working():
            rows = self.store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE position > ({PLACE}) "
                                   "ORDER BY position DESC LIMIT ?", (most + 1,))
        return {row[0]: self._keys(row) for row in rows[:most] if row[1] in FIELDS}, len(rows) > most

    def _keys(self, row: tuple[Any, ...]) -> set[str]:
        return keys_of(merge.view(snapshot_of(*row), self.store.policy_of))

    def is_behind(self) -> bool:
        """Whether something moved that was not read."""
        with self.store.working():
            return bool(self.store.rows(f"SELECT 1 FROM snapshot WHERE position > ({PLACE}) LIMIT 1"))

    def step(self) -> None:
        """Reads the next page of what moved."""
        with self.store.working(), alone(self.store):
            since = _take_place(self.store)
            rows = self.store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE position > ? "
                                   "ORDER BY position LIMIT ?", (since, PAGE))
            if rows:
                self._note([row for row in rows if row[1] in FIELDS])
                self.store.rows("UPDATE find_place SET position = ? WHERE number = 1", (rows[-1][2],))

    def _note(self, rows: list[tuple[Any, ...]]) -> None:
        """Writes the difference only: most answers of a job are readings, by which nobody looks for it."""
        wanted = {(key, row[0]) for row in rows for key in self._keys(row)}
        there = set(self.store.rows_of("SELECT word, record FROM find_word", "record", [row[0] for row in rows]))
        self.store.write_many("DELETE FROM find_word WHERE word = ? AND record = ?", sorted(there - wanted))
        self.store.write_many("INSERT INTO find_word (word, record) VALUES (?, ?)", sorted(wanted - there))

    def records(self, patterns: list[Pattern], most: int) -> list[str]:
        """The records that one of the patterns means, each once, at most so many of each pattern, the newest names first."""
        found: dict[str, None] = {}
        with self.store.working():
            for low, high in patterns:
                meant, values = ("word >= ? AND word < ?", (low, high)) if high else ("word = ? ORDER BY record DESC", (low,))
                rows = self.store.rows(f"SELECT record FROM find_word WHERE {meant} LIMIT ?", (*values, most))
                found.update(dict.fromkeys(str(row[0]) for row in rows))
        return list(found)


def forget(store: Store, record: str) -> None:
    """Takes out all that is noted of a record; what the database file still remembers is the caller's to clean."""
    with store.working(), alone(store):
        if store.has_table("find_place"):
            _take_place(store)
            store.rows("DELETE FROM find_word WHERE record = ?", (record,))


def _take_place(store: Store) -> int:
    """How far the index has come; whoever else reads or forgets waits until this transaction ends."""
    return int(store.rows("UPDATE find_place SET position = position WHERE number = 1 RETURNING position")[0][0])
