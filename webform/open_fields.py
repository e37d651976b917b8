"""Which fields hold two answers, kept as an index beside the books, so that nobody has to read all records to know.

The index follows the store: before it is asked it reads the records that moved since the last time, in the order of their
positions. It needs no hook in the push and cannot be left behind by a crash; what it costs follows what changed.
"""

from typing import Any

from sync import merge
from sync.log import STANDING, Store, snapshot_of

PAGE = 500


class OpenFields:
    """The index of one store, in two tables of its own."""

    def __init__(self, store: Store) -> None:
        self.store = store
        with store.working(), self._alone():
            if store.is_postgresql:
                store.rows("SELECT pg_advisory_xact_lock(7224002)")  # two processes starting at once
            store.rows("CREATE TABLE IF NOT EXISTS open_field (record TEXT NOT NULL, field TEXT NOT NULL, "
                       "position BIGINT NOT NULL, PRIMARY KEY (record, field))")
            store.rows("CREATE TABLE IF NOT EXISTS open_field_place (number INTEGER PRIMARY KEY, position BIGINT NOT NULL)")
            store.rows("INSERT INTO open_field_place (number, position) VALUES (1, 0) ON CONFLICT (number) DO NOTHING")

    def all(self) -> list[tuple[str, str]]:
        """(record, field) of every field in which different answers stand, those that moved last first."""
        self._catch_up()
        with self.store.working():
            return [(row[0], row[1]) for row in self.store.rows(
                "SELECT record, field FROM open_field ORDER BY position DESC, record, field")]

    def _catch_up(self) -> None:
        while self._is_behind():
            with self.store.working(), self._alone():
                # the row is taken first: of two processes one waits, then goes on where the other stopped
                since = self.store.rows("UPDATE open_field_place SET position = position WHERE number = 1 "
                                        "RETURNING position")[0][0]
                rows = self.store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE position > ? "
                                       "ORDER BY position LIMIT ?", (since, PAGE))
                if rows:
                    self._index(rows)

    def _is_behind(self) -> bool:
        with self.store.working():
            return bool(self.store.rows("SELECT 1 FROM snapshot WHERE position > (SELECT position FROM open_field_place "
                                        "WHERE number = 1) LIMIT 1"))

    def _index(self, rows: list[tuple[Any, ...]]) -> None:
        found = []
        for record, kind, position, text in rows:
            view = merge.view(snapshot_of(record, kind, position, text), self.store.policy_of)
            found += [(record, field, position) for field in sorted(view["fields"]) if view["fields"][field]["open"]]
        self.store.write_many("DELETE FROM open_field WHERE record = ?", [(row[0],) for row in rows])
        self.store.write_many("INSERT INTO open_field (record, field, position) VALUES (?, ?, ?)", found)
        self.store.rows("UPDATE open_field_place SET position = ? WHERE number = 1", (rows[-1][2],))

    def _alone(self) -> Any:
        return self.store.db.transaction() if self.store.is_postgresql else self.store.db.transaction("IMMEDIATE")
