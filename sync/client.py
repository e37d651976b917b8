"""A reference client: an outbox on disk, receipts by id and hash only, own changes laid over the last snapshot.

Promises: `write` returns after the change is on disk; a change leaves the outbox only on a receipt that names its id
and hash; the cursor moves in the same transaction as the rows; whatever else an answer may be (a login page, half a
body, an error status) changes nothing. Needs the standard library only.
"""

import contextlib
import datetime
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from . import merge
from .change import Pen, content_hash, make_change, to_text
from .link import NotCarried, Offline, Post, TooLarge, http_post

__all__ = ["Client", "NotCarried", "Offline", "Post", "TooLarge", "http_post"]

MOST = {"push": 1_000, "pull": 1_000}  # changes, records
LEAST = 8
BATCH_CHARACTERS = 2_000_000
MOST_FETCHED = 500

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


class Client:
    """One device: its outbox, its snapshots, its cursor, all in one file."""

    def __init__(self, path: str, device: str, post: Post,
                 policy_of: Callable[[str, str], str] = lambda kind, field: "worse", personal: Iterable[str] = ()) -> None:
        self.pen = Pen(device)
        self.personal = frozenset(personal)
        self.post = post
        self.policy_of = policy_of
        self.disk = sqlite3.connect(path)
        self.disk.execute("PRAGMA synchronous = FULL")
        self.disk.executescript(SCHEMA)
        self._turn_asked = 0
        self._most = dict(MOST)

    def close(self) -> None:
        """Closes the file; everything in it stays."""
        self.disk.close()

    # --- what a person does ------------------------------------------------------------------------------------

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

    # --- what the link does ------------------------------------------------------------------------------------

    def sync(self) -> None:
        """Sends what waits, then takes what changed; after a reset sends and takes again. Raises Offline."""
        if self.push():
            self.push()
        if self.pull():
            self.push()
            self.pull()

    def push(self, *, is_held_offered: bool = False) -> bool:
        """Sends the outbox in batches, and the held changes again if asked to; raises Offline.

        True where the server's log was put back, so that confirmed changes wait again.
        """
        was_reset = False
        if is_held_offered:
            with self.disk:
                self.disk.execute("UPDATE outbox SET status = 'waiting', reason = NULL WHERE status = 'held'")
        after, most = 0, MOST["push"]
        while batch := self._batch(after, min(most, self._most["push"])):
            self._turn_asked = self._turn()
            try:
                with self._carrying("push", len(batch)):
                    answer = self._ask("push", {"schema": 1, "changes": [row[2] for row in batch],
                                                "hashes": [row[1] for row in batch], "witness": self._place("witness")})
            except TooLarge:
                most = len(batch) // 2
                if most == 0:
                    raise
                continue
            after = batch[-1][0]
            was_reset = self._take_receipts(answer) or was_reset
        return was_reset

    def fetch(self, records: Iterable[str] = (), around: Iterable[str] = ()) -> None:
        """Takes whole records that are not carried here, and what refers to those of `around`; raises Offline."""
        asked, self._turn_asked = list(records), self._turn()
        answer = self._ask("fetch", {"records": asked, "around": list(around)})
        try:
            rows = [(entry["record"], entry["kind"], json.dumps(entry["heads"])) for entry in answer["records"]]
        except (KeyError, TypeError) as trouble:
            raise Offline("the answer is not one of records") from trouble
        with self._taking():
            for row in rows:
                self._keep_snapshot(*row, self._place("cursor") or NOWHERE)
            done = {*asked, *(row[0] for row in rows)}
            left = [record for record in json.loads(self._state("wanted") or "[]") if record not in done]
            self._keep_state("wanted", json.dumps(left))  # what does not exist is no longer to be fetched

    def pull(self) -> bool:
        """Takes all pages of what changed; True where the cursor no longer fitted, so that all is offered again."""
        was_reset = self._pull_pages()
        self._fetch_wanted()
        return was_reset

    def _fetch_wanted(self) -> None:
        """Takes the records of which parts came and the rest is not here."""
        while wanted := json.loads(self._state("wanted") or "[]"):
            some = wanted[:min(MOST_FETCHED, self._most["pull"])]
            with self._carrying("pull", len(some)):
                self.fetch(some)

    def _pull_pages(self) -> bool:
        was_reset = False
        while True:
            self._turn_asked = self._turn()
            with self._carrying("pull", most := self._most["pull"]):
                page = self._ask("pull", {"cursor": self._place("cursor"), "next": None, "witness": self._place("witness"),
                                          "most": most})
            was_reset = self._take_page(page) or was_reset
            if page["next"] is None:
                return was_reset

    @contextlib.contextmanager
    def _carrying(self, route: str, count: int) -> Iterator[None]:
        """Half as many go next time where the link did not carry this, a quarter more after what it did."""
        try:
            yield
        except NotCarried:
            self._most[route] = max(LEAST, count // 2)
            raise
        self._most[route] = min(MOST[route], self._most[route] * 5 // 4)

    def _take_receipts(self, answer: dict[str, Any]) -> bool:
        try:
            end, is_reset = answer["end"], answer["reset"]
            rows = [(receipt["status"], answer["epoch"], receipt["position"], receipt["reason"], receipt["id"],
                     receipt["hash"]) for receipt in answer["receipts"]
                    if receipt["status"] == "held"
                    or (receipt["status"] == "stored" and isinstance(receipt["position"], int))]
        except (KeyError, TypeError) as trouble:
            raise Offline("the answer is not one of receipts") from trouble
        with self._taking():
            if is_reset:
                self._offer_again()
                self._doubt_cursor()
            self.disk.executemany("UPDATE outbox SET status = ?, epoch = ?, position = ?, reason = ? "
                                  "WHERE id = ? AND hash = ?", rows)
            self._keep_state("witness", json.dumps(end))
        return bool(is_reset)

    def _take_page(self, page: dict[str, Any]) -> bool:
        try:
            cursor, records, is_reset, _ = page["cursor"], page["records"], page["reset"], page["next"]
            lamport = max((answer["lamport"] for entry in records for answers in entry["heads"].values()
                           for answer in answers), default=0)
        except (KeyError, TypeError, AttributeError) as trouble:
            raise Offline("the answer is not a page") from trouble
        with self._taking():
            if is_reset:
                self.disk.execute("DELETE FROM snapshot")
                self.disk.execute("DELETE FROM brought")
                self._offer_again()
            wanted = dict.fromkeys([] if is_reset else json.loads(self._state("wanted") or "[]"))
            for entry in records:
                row = self.disk.execute("SELECT heads FROM snapshot WHERE record = ?", (entry["record"],)).fetchone()
                if row is None and not entry.get("whole", True):
                    wanted[entry["record"]] = None
                    continue
                heads = {**(json.loads(row[0]) if row else {}), **entry["heads"]}
                self._keep_snapshot(entry["record"], entry["kind"], json.dumps(heads), cursor)
                if entry["kind"] in self.personal and all(
                        answer["value"] is None for answers in heads.values() for answer in answers):
                    self._forget(entry["record"], cursor)
            if page["next"] is None:  # every record now holds what lies before the cursor
                self.disk.execute("DELETE FROM brought")
            self._keep_state("wanted", json.dumps(list(wanted)))
            witness = self._place("witness")
            if is_reset or witness is None or witness["position"] < cursor["position"]:
                self._keep_state("witness", json.dumps(cursor))
            self._keep_state("cursor", json.dumps(cursor))
            self._keep_state("lamport", str(max(lamport, int(self._state("lamport") or 0))))
        return bool(is_reset)

    def _keep_snapshot(self, record: str, kind: str, heads: str, cursor: dict[str, Any]) -> None:
        self.disk.execute("INSERT OR REPLACE INTO snapshot (record, kind, heads) VALUES (?, ?, ?)", (record, kind, heads))
        self.disk.execute("INSERT OR REPLACE INTO brought (record, position) VALUES (?, ?)", (record, cursor["position"]))

    def _forget(self, record: str, cursor: dict[str, Any]) -> None:
        """Drops the texts of a person's record that is erased; what the server has not taken a look at stays."""
        self.disk.execute("DELETE FROM outbox WHERE record = ? AND (status = 'held' OR (status = 'stored' AND epoch = ? AND "
                          "position <= ?))", (record, cursor["epoch"], cursor["position"]))

    @contextlib.contextmanager
    def _taking(self) -> Iterator[None]:
        """A transaction in which an answer is taken. Raises Offline where another tab has taken one since this was asked for:

        an old page would take back what a newer one brought, an old receipt confirm what a restored server has lost.
        """
        with self.disk:
            self.disk.execute("BEGIN IMMEDIATE")
            if self._turn() != self._turn_asked:
                raise Offline("another tab was quicker; this answer is asked for again")
            self._keep_state("turn", str(self._turn_asked + 1))
            yield

    def _turn(self) -> int:
        return int(self._state("turn") or 0)

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

    def _ask(self, route: str, request: dict[str, Any]) -> dict[str, Any]:
        body = json.dumps(request, ensure_ascii=False, separators=(",", ":")).encode()
        try:
            answer = json.loads(self.post(route, body))
        except ValueError as trouble:
            raise Offline("the answer is not JSON") from trouble
        if not isinstance(answer, dict) or "error" in answer:
            raise Offline(f"the server did not take it: {str(answer)[:200]}")
        return answer

    def _state(self, name: str) -> str | None:
        row = self.disk.execute("SELECT value FROM state WHERE name = ?", (name,)).fetchone()
        return str(row[0]) if row else None

    def _keep_state(self, name: str, value: str) -> None:
        self.disk.execute("INSERT OR REPLACE INTO state (name, value) VALUES (?, ?)", (name, value))


def _now() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
