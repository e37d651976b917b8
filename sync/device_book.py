"""What a device keeps on disk: its own changes with what became of each, the snapshots that it pulled, its place in the log.

Promises: `write` returns after the change is on disk; a screen shows the snapshot with the own changes laid over it that it
cannot hold yet, so what was saved is there whatever the link has brought. Needs the standard library only.
"""

import datetime
import json
import sqlite3
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from . import merge
from .change import Pen, content_hash, make_change, to_text

BATCH_CHARACTERS = 2_000_000
NOWHERE: dict[str, Any] = {"epoch": "", "position": 0}

SCHEMA = """
CREATE TABLE IF NOT EXISTS state (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS snapshot (record TEXT PRIMARY KEY, kind TEXT NOT NULL, heads TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS outbox (number INTEGER PRIMARY KEY, id TEXT UNIQUE NOT NULL, hash TEXT NOT NULL,
    record TEXT NOT NULL, text TEXT NOT NULL, status TEXT NOT NULL, epoch TEXT, position INTEGER, reason TEXT);
CREATE TABLE IF NOT EXISTS brought (record TEXT PRIMARY KEY, position INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS outbox_record ON outbox (record);
CREATE INDEX IF NOT EXISTS outbox_status ON outbox (status);
"""


class DeviceBook:
    """The book of one device, all in one file."""

    def __init__(self, path: str, device: str, policy_of: Callable[[str, str], str], personal: Iterable[str] = ()) -> None:
        self.pen = Pen(device)
        self.personal = frozenset(personal)
        self.policy_of = policy_of
        self.disk = sqlite3.connect(path)
        self.disk.execute("PRAGMA synchronous = FULL")
        self.disk.executescript(SCHEMA)

    def close(self) -> None:
        """Closes the file; everything in it stays."""
        self.disk.close()

    def write(self, record: str, answers: Mapping[str, Any], by: str, *,
              replaces: Mapping[str, Iterable[str]] | None = None, basis: Mapping[str, Any] | None = None,
              at: str | None = None) -> str:
        """The id of a new change, which is on disk when this returns.

        replaces: the ids that stood on the screen when the edit began; without it those that stand here now.
        """
        if replaces is None:
            shown = self.snapshot(record)
            replaces = {field: [answer["id"] for answer in merge.standing(shown, field)] for field in answers}
        lamport = int(self._state("lamport") or 0) + 1
        change = make_change(self.pen.next_id(), record, answers, replaces=replaces, basis=basis, lamport=lamport,
                             at=at or _now(), by=by)
        text = to_text(change)
        with self.disk:
            self._keep_state("lamport", str(lamport))
            self.disk.execute("INSERT INTO outbox (id, hash, record, text, status) VALUES (?, ?, ?, ?, 'waiting')",
                              (change["id"], content_hash(text), record, text))
        return str(change["id"])

    def snapshot(self, record: str) -> dict[str, Any] | None:
        """The pulled snapshot of a record with the outbox laid over it, or None where nothing is known of it."""
        row = self.disk.execute("SELECT kind, heads FROM snapshot WHERE record = ?", (record,)).fetchone()
        found = None if row is None else {"record": record, "kind": row[0], "heads": json.loads(row[1]), "gone": {}}
        laid_over = self._overlay(record)
        return merge.apply_all(found, laid_over) if found is not None or laid_over else None

    def view(self, record: str) -> dict[str, Any] | None:
        """What a screen reads of a record, own unsent changes included."""
        found = self.snapshot(record)
        return merge.view(found, self.policy_of) if found is not None else None

    def records(self) -> list[str]:
        """Every record that is known here, sorted."""
        return [row[0] for row in self.disk.execute("SELECT record FROM snapshot UNION SELECT record FROM outbox "
                                                    "WHERE status <> 'held' ORDER BY 1")]

    def waiting(self) -> list[str]:
        """The ids of changes that the server has not confirmed, oldest first."""
        return [row[0] for row in self.disk.execute("SELECT id FROM outbox WHERE status = 'waiting' ORDER BY number")]

    def held(self) -> list[tuple[str, str]]:
        """(id, reason) of changes that the server holds."""
        return list(self.disk.execute("SELECT id, reason FROM outbox WHERE status = 'held' ORDER BY number"))

    def outbox_file(self) -> str:
        """The text of a file that carries by hand all that the server has not confirmed; held changes too."""
        rows = list(self.disk.execute("SELECT text, hash FROM outbox WHERE status <> 'stored' ORDER BY number"))
        return json.dumps({"ashbook_outbox": 1, "device": self.pen.device, "schema": 1, "changes": [row[0] for row in rows],
                           "hashes": [row[1] for row in rows]}, ensure_ascii=False)

    def _keep_snapshot(self, record: str, kind: str, heads: str, cursor: dict[str, Any]) -> None:
        self.disk.execute("INSERT OR REPLACE INTO snapshot (record, kind, heads) VALUES (?, ?, ?)", (record, kind, heads))
        self.disk.execute("INSERT OR REPLACE INTO brought (record, position) VALUES (?, ?)", (record, cursor["position"]))

    def _forget(self, record: str, cursor: dict[str, Any]) -> None:
        """Drops the texts of a person's record that is erased; what the server has not taken a look at stays."""
        self.disk.execute("DELETE FROM outbox WHERE record = ? AND (status = 'held' OR (status = 'stored' AND epoch = ? AND "
                          "position <= ?))", (record, cursor["epoch"], cursor["position"]))

    def _offer_again(self) -> None:
        # held ones too: a server that was put back may not hold them any more, and its desk is to see them
        self.disk.execute("UPDATE outbox SET status = 'waiting', epoch = NULL, position = NULL, reason = NULL")

    def _doubt_cursor(self) -> None:
        # it counts in the log that is gone: a receipt of the new one may lie before it and is not in the snapshots
        cursor = self._place("cursor")
        if cursor is not None:
            self._keep_state("cursor", json.dumps({**cursor, "epoch": ""}))

    def _place(self, name: str) -> dict[str, Any] | None:
        found = self._state(name)
        place: dict[str, Any] | None = json.loads(found) if found else None
        return place

    def _overlay(self, record: str) -> list[dict[str, Any]]:
        """Own changes of a record that its snapshot cannot hold yet: no receipt, or one beyond what the record holds."""
        cursor = self._place("cursor") or NOWHERE
        rows = self.disk.execute("SELECT text FROM outbox WHERE record = ? AND status <> 'held' AND NOT (status = "
                                 "'stored' AND epoch = ? AND position <= ?) ORDER BY number",
                                 (record, cursor["epoch"], self._held_up_to(record, cursor)))
        return [json.loads(row[0]) for row in rows]

    def _held_up_to(self, record: str, cursor: dict[str, Any]) -> int:
        """The position up to which a record's snapshot holds all; between the pages of a pull that is not the cursor's."""
        if record in json.loads(self._state("wanted") or "[]"):
            return 0
        if cursor.get("since") is None:
            return int(cursor["position"])
        brought = self.disk.execute("SELECT position FROM brought WHERE record = ?", (record,)).fetchone()
        return int(brought[0] if brought else cursor["since"])

    def _batch(self, after: int, most: int) -> list[tuple[int, str, str]]:
        rows, characters = [], 0
        for row in self.disk.execute("SELECT number, hash, text FROM outbox WHERE status = 'waiting' AND number > ? "
                                     "ORDER BY number LIMIT ?", (after, most)):
            rows.append(row)
            characters += len(row[2])
            if characters > BATCH_CHARACTERS:
                break
        return rows

    def _state(self, name: str) -> str | None:
        row = self.disk.execute("SELECT value FROM state WHERE name = ?", (name,)).fetchone()
        return str(row[0]) if row else None

    def _keep_state(self, name: str, value: str) -> None:
        self.disk.execute("INSERT OR REPLACE INTO state (name, value) VALUES (?, ?)", (name, value))


def _now() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
