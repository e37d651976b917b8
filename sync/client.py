"""A reference client: what a device keeps (device_book.py), and its exchange with the server.

Promises: a change leaves the outbox only on a receipt that names its id and hash; the cursor moves in the same
transaction as the rows; whatever else an answer may be (a login page, half a body, an error status) changes nothing.
Needs the standard library only.
"""

import contextlib
import json
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from .device_book import NOWHERE, DeviceBook
from .link import NotCarried, Offline, Post, TooLarge, http_post

__all__ = ["Client", "NotCarried", "Offline", "Post", "TooLarge", "http_post"]

MOST = {"push": 1_000, "pull": 1_000}  # changes, records
LEAST = 8
MOST_FETCHED = 500

class Client(DeviceBook):
    """One device: its book, and the link on which it sends and takes."""

    def __init__(self, path: str, device: str, post: Post,
                 policy_of: Callable[[str, str], str] = lambda kind, field: "worse", personal: Iterable[str] = ()) -> None:
        super().__init__(path, device, policy_of, personal)
        self.post = post
        self._turn_asked = 0
        self._most = dict(MOST)

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

    def _ask(self, route: str, request: dict[str, Any]) -> dict[str, Any]:
        body = json.dumps(request, ensure_ascii=False, separators=(",", ":")).encode()
        try:
            answer = json.loads(self.post(route, body))
        except ValueError as trouble:
            raise Offline("the answer is not JSON") from trouble
        if not isinstance(answer, dict) or "error" in answer:
            raise Offline(f"the server did not take it: {str(answer)[:200]}")
        return answer
