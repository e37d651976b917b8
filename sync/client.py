"""A reference client: an outbox on disk, receipts by id and hash only, own changes laid over the last snapshot.

Promises: `write` returns after the change is on disk; a change leaves the outbox only on a receipt that names its id
and hash; the cursor moves in the same transaction as the rows; whatever else an answer may be (a login page, half a
body, an error status) changes nothing. Needs the standard library only.
"""

import base64
import contextlib
import datetime
import gzip
import hashlib
import http.client
import json
import sqlite3
import urllib.error
import urllib.request
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from . import merge
from .change import Pen, content_hash, make_change, to_text

Post = Callable[[str, bytes], bytes]

BATCH_CHANGES = 1_000
BATCH_CHARACTERS = 2_000_000
COMPRESS_FROM = 500

SCHEMA = """
CREATE TABLE IF NOT EXISTS state (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS snapshot (record TEXT PRIMARY KEY, kind TEXT NOT NULL, heads TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS outbox (number INTEGER PRIMARY KEY, id TEXT UNIQUE NOT NULL, hash TEXT NOT NULL,
    record TEXT NOT NULL, text TEXT NOT NULL, status TEXT NOT NULL, epoch TEXT, position INTEGER, reason TEXT);
CREATE INDEX IF NOT EXISTS outbox_record ON outbox (record);
CREATE INDEX IF NOT EXISTS outbox_status ON outbox (status);
"""


class Offline(Exception):
    """The server was not reached, or what came back was not its answer. Nothing has changed here."""


class TooLarge(Offline):
    """The server takes less at a time."""


def http_post(address: str, headers: Mapping[str, str] | None = None, timeout_s: float = 30.0) -> Post:
    """A way to post over HTTP, packed both ways; address as "http://127.0.0.1:8440/sync"."""

    def post(route: str, body: bytes) -> bytes:
        sent = {"Content-Type": "application/json", "Accept-Encoding": "gzip", **(headers or {})}
        if len(body) >= COMPRESS_FROM:
            body = gzip.compress(body, 6, mtime=0)
            sent["Content-Encoding"] = "gzip"
        request = urllib.request.Request(f"{address}/{route}", body, sent, method="POST")
        try:
            with urllib.request.urlopen(request, timeout=timeout_s) as answer:
                received: bytes = answer.read()
                return gzip.decompress(received) if answer.headers.get("Content-Encoding") == "gzip" else received
        except (OSError, EOFError, ValueError, http.client.HTTPException, zlib.error) as trouble:
            if isinstance(trouble, urllib.error.HTTPError):
                trouble.close()
                if trouble.code == 413:
                    raise TooLarge("the server takes less at a time") from trouble
            raise Offline(f"{type(trouble).__name__}: {trouble}") from trouble

    return post


class Client:
    """One device: its outbox, its snapshots, its cursor, all in one file."""

    def __init__(self, path: str, device: str, post: Post,
                 policy_of: Callable[[str, str], str] = lambda kind, field: "worse") -> None:
        self.pen = Pen(device)
        self.post = post
        self.policy_of = policy_of
        self.disk = sqlite3.connect(path)
        self.disk.execute("PRAGMA synchronous = FULL")
        self.disk.executescript(SCHEMA)
        self._turn_asked = 0

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
        after, most = 0, BATCH_CHANGES
        while batch := self._batch(after, most):
            self._turn_asked = self._turn()
            try:
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

    def pull(self) -> bool:
        """Takes all pages of what changed; True where the cursor no longer fitted, so that all is offered again."""
        was_reset = False
        while True:
            self._turn_asked = self._turn()
            page = self._ask("pull", {"cursor": self._place("cursor"), "next": None, "witness": self._place("witness")})
            was_reset = self._take_page(page) or was_reset
            if page["next"] is None:
                return was_reset

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
                self._offer_again()
            for entry in records:
                row = self.disk.execute("SELECT heads FROM snapshot WHERE record = ?", (entry["record"],)).fetchone()
                heads = {**(json.loads(row[0]) if row else {}), **entry["heads"]}
                self.disk.execute("INSERT OR REPLACE INTO snapshot (record, kind, heads) VALUES (?, ?, ?)",
                                  (entry["record"], entry["kind"], json.dumps(heads)))
            witness = self._place("witness")
            if is_reset or witness is None or witness["position"] < cursor["position"]:
                self._keep_state("witness", json.dumps(cursor))
            self._keep_state("cursor", json.dumps(cursor))
            self._keep_state("lamport", str(max(lamport, int(self._state("lamport") or 0))))
        return bool(is_reset)

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

    def _place(self, name: str) -> dict[str, Any] | None:
        found = self._state(name)
        place: dict[str, Any] | None = json.loads(found) if found else None
        return place

    def _overlay(self, record: str) -> list[dict[str, Any]]:
        """Own changes of a record that the snapshot cannot hold yet: no receipt, or one beyond the cursor."""
        cursor = self._place("cursor") or {"epoch": "", "position": 0}
        rows = self.disk.execute("SELECT text FROM outbox WHERE record = ? AND status <> 'held' AND NOT (status = "
                                 "'stored' AND epoch = ? AND position <= ?) ORDER BY number",
                                 (record, cursor["epoch"], cursor["position"]))
        return [json.loads(row[0]) for row in rows]

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


def log_pages(post: Post) -> Iterator[dict[str, Any]]:
    """The pages of the server's log, from its beginning, for audit and rebuild (audit.rebuild); raises Offline.

    post must carry a credential that may read everything.
    """
    cursor = None
    while True:
        try:
            page = json.loads(post("changes", json.dumps({"cursor": cursor}).encode()))
            if page["reset"]:
                raise Offline("the server was put back while its log was read; begin again")
            found, cursor, is_more = page["changes"], page["cursor"], page["next"] is not None
        except (ValueError, KeyError, TypeError) as trouble:
            raise Offline("the answer is not a page of the log") from trouble
        if found:
            yield page
        if not is_more:
            return


def basic(name: str, password: str) -> dict[str, str]:
    """The header by which a program says who it is, for http_post."""
    return {"Authorization": "Basic " + base64.b64encode(f"{name}:{password}".encode()).decode()}


def _now() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


# --- photos ------------------------------------------------------------------------------------------------------------

Send = Callable[[str, str, bytes | None, Mapping[str, str]], bytes]
PIECE_BYTES = 65_536


class Refusal(Exception):
    """The server has read the request and does not take it; `code` says why."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def http_send(address: str, headers: Mapping[str, str] | None = None, timeout_s: float = 30.0) -> Send:
    """A way to send (method, route, body, headers) over HTTP; address as for http_post."""

    def send(method: str, route: str, body: bytes | None, more: Mapping[str, str]) -> bytes:
        request = urllib.request.Request(f"{address}/{route}", body, {**(headers or {}), **more}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=timeout_s) as answer:
                return bytes(answer.read())
        except urllib.error.HTTPError as answered:
            with answered:
                return bytes(answered.read())
        except (OSError, EOFError, ValueError) as trouble:
            raise Offline(f"{type(trouble).__name__}: {trouble}") from trouble

    return send


def push_photo(send: Send, photo: bytes, piece_bytes: int = PIECE_BYTES) -> str:
    """The SHA-256 of a photo that the server has confirmed whole. Called again after Offline it goes on where it was."""
    name = hashlib.sha256(photo).hexdigest()
    state = _photo_state(name, send("GET", f"photos/{name}", None, {}))
    while not state["complete"]:
        start = state["offset"] if state["offset"] < len(photo) else 0
        piece = photo[start:start + piece_bytes]
        state = _photo_state(name, send("PUT", f"photos/{name}", piece, {
            "Content-Type": "application/octet-stream",
            "Content-Range": f"bytes {start}-{start + len(piece) - 1}/{len(photo)}"}))
    return name


def _photo_state(name: str, received: bytes) -> dict[str, Any]:
    try:
        found = json.loads(received)
        if "error" in found:
            raise Refusal(str(found["error"]["code"]))
        if found["sha256"] != name or type(found["offset"]) is not int or type(found["complete"]) is not bool:
            raise Offline("the answer is not the state of this photo")
    except (ValueError, KeyError, TypeError) as trouble:
        raise Offline("the answer is not the state of a photo") from trouble
    state: dict[str, Any] = found
    return state
