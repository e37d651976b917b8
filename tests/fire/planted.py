"""Bugs that the harness must find: the mistakes of a competent team, each patched into the server or the client.

PLANTED: name → (where, attribute, what is put there). Three that tests/sync/test_planted.py has already come from there.
"""

import contextlib
import json
import threading
import time
from types import SimpleNamespace

from sync import exchange, merge, wire
from sync.client import Client
from sync.log import Store, next_chain
from tests.sync import test_planted as in_memory
from webform.checklist import case

real_push, real_pull, real_store = exchange.push, exchange.pull, exchange.store_arrivals
real_write, real_page, real_receipts = Client.write, Client._take_page, Client._take_receipts
real_rows_of, real_wire_push = Store.rows_of, wire.push
COMMIT_S = 0.01  # how long the planted commit takes: readers come in between


def latest_clock_wins(snapshot, change):
    """Whoever has the latest clock takes the field."""
    for field in change["set"]:
        answers = [*snapshot["heads"].get(field, []), merge.answer_of(change, field)]
        snapshot["heads"][field] = [max(answers, key=lambda answer: (answer["at"], answer["id"]))]
    return sorted(change["set"])


def order_dependent_tie(snapshot, change):
    """Answers stand in the order in which they came, and the first is shown."""
    for field in change["set"]:
        gone = snapshot["gone"].setdefault(field, [])
        gone[:] = sorted({*gone, *change["replaces"].get(field, [])})
        heads = [answer for answer in snapshot["heads"].get(field, []) if answer["id"] not in gone]
        if change["id"] not in [*gone, *[answer["id"] for answer in heads]]:
            heads.append(merge.answer_of(change, field))
        snapshot["heads"][field] = heads
    return sorted(change["set"])


def whole_row_save(self, record, answers, by, *, replaces=None, **more):
    """A save writes every field of the record as it stands on the screen, as an ordinary object mapper does."""
    shown = self.view(record)
    row = {field: held["used"] for field, held in shown["fields"].items() if not held["open"]} if shown else {}
    seen = {field: [answer["id"] for answer in shown["fields"][field]["answers"]] for field in row}
    return real_write(self, record, {**row, **answers}, by, replaces={**seen, **(replaces or {})}, **more)


def queue_cleared_on_status(self, **more):
    """A status 200 came back, so the queue was sent, whatever the answer says."""
    batch = self._batch(0, 500)
    if not batch:
        return False
    self.post("push", json.dumps({"schema": 1, "changes": [row[2] for row in batch],
                                  "hashes": [row[1] for row in batch]}).encode())
    with self.disk:
        self.disk.executemany("UPDATE outbox SET status = 'stored', epoch = '', position = 0 WHERE number = ?",
                              [(row[0],) for row in batch])
    return False


def queue_cleared_whole(self, answer):
    """The receipts are there, so all that waits goes, also what was written while the request was under way."""
    was_reset = real_receipts(self, answer)
    if not was_reset:
        with self.disk:
            self.disk.execute("UPDATE outbox SET status = 'stored', epoch = '', position = 0 WHERE status = 'waiting'")
    return was_reset


def cursor_before_rows(self, page):
    """The cursor is committed, then the rows."""
    with self.disk:
        self._keep_state("cursor", json.dumps(page["cursor"]))
    return real_page(self, page)


def serial_cursor(store, device, texts, hashes, accept=None, *, shut=None):
    """Numbers are taken as a sequence gives them: before the commit, which may come after that of a later number."""
    arrivals = [exchange.arrive(store, text, stated, accept, shut=shut)
                for text, stated in zip(texts, hashes, strict=True)]
    with store.writing() as counter:
        start = SimpleNamespace(**vars(counter))
        known = {row[0] for row in store.rows_of("SELECT id FROM change_log", "id", (one.identity for one in arrivals))}
        for one in arrivals:
            if one.change is not None and one.reason is None and one.identity not in known:
                known.add(one.identity)
                counter.position += 1
                counter.chain = next_chain(counter.chain, one.identity, one.hash)
                counter.lamport = max(counter.lamport, one.change["lamport"])
    time.sleep(COMMIT_S)
    with store.working(), store.db.transaction("IMMEDIATE"):
        return real_store(store, start, device, arrivals)


def no_idempotency(store, counter, device, arrivals):
    """Every delivery is a new row."""
    for name, sql in store.rows("SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = 'change_log'"):
        if sql and sql.startswith("CREATE UNIQUE"):
            store.rows(f'DROP INDEX "{name}"')
    blind = SimpleNamespace(**{name: getattr(store, name) for name in ("rows", "write_many", "ref_fields")})
    blind.rows_of = lambda sql, column, wanted: \
        iter(()) if "FROM change_log" in sql else real_rows_of(store, sql, column, wanted)
    return real_store(blind, counter, device, arrivals)


def held_is_dropped(store, counter, device, held, now):
    """What cannot be accepted is answered with "held" and thrown away."""


def one_bad_change_refuses_all(store, device, body, encoding=None, accept=None, *, is_revoked=False):
    """A request with something unknown in it is refused whole."""
    with contextlib.suppress(ValueError, wire.WireError):  # a body that was cut is refused below
        request = json.loads(wire.unpacked(body, encoding))
        if any(json.loads(text)["schema"] > store.newest_schema for text in request["changes"]):
            return *wire.WireError(400, "bad_request").answer, []
    return real_wire_push(store, device, body, encoding, accept, is_revoked=is_revoked)


class Unwritten:
    """Pushes that were acknowledged and not yet committed; a kill loses them."""

    def __init__(self):
        self.pushes, self.lock = [], threading.RLock()

    def push(self, store, device, texts, hashes, accept=None, *, shut=None):
        """Receipts at once, the commit with the next request."""
        if device == "desk" or shut:
            return real_push(store, device, texts, hashes, accept, shut=shut)
        with self.lock:
            self.flush()
            arrivals = [exchange.arrive(store, text, stated, accept) for text, stated in zip(texts, hashes, strict=True)]
            self.pushes.append((store, device, texts, hashes, accept))
            end = store.counter()["position"]
            return [{"id": one.identity, "hash": one.stated_hash, "status": "held" if one.reason else "stored",
                     "position": None if one.reason else end + number, "reason": one.reason, "is_new": False,
                     "record": None} for number, one in enumerate(arrivals, 1)]

    def pull(self, *arguments, **more):
        """As ever, after the commit of what came before."""
        self.flush()
        return real_pull(*arguments, **more)

    def flush(self):
        """Commits what was acknowledged."""
        with self.lock:
            waiting, self.pushes = self.pushes, []
            for store, device, texts, hashes, accept in waiting:
                real_push(store, device, texts, hashes, accept)

    def forget(self):
        """The server was killed."""
        self.pushes = []


PLANTED = {
    "last writer wins": (merge, "lay", in_memory.last_one_wins),
    "latest clock wins": (merge, "lay", latest_clock_wins),
    "settle whatever is there": (merge, "lay", in_memory.settle_whatever_is_there),
    "a replaced answer comes back": (merge, "lay", in_memory.forget_the_gone),
    "order-dependent tie": (merge, "lay", order_dependent_tie),
    "whole-row save": (Client, "write", whole_row_save),
    "no basis": (case, "changed_since", lambda basis, now: []),
    "queue cleared on status": (Client, "push", queue_cleared_on_status),
    "queue cleared whole": (Client, "_take_receipts", queue_cleared_whole),
    "cursor before rows": (Client, "_take_page", cursor_before_rows),
    "late answer taken": (Client, "_turn", lambda self: 0),
    "serial cursor": (exchange, "push", serial_cursor),
    "no epoch": (exchange, "fits", in_memory.no_epoch_and_no_chain),
    "no idempotency": (exchange, "store_arrivals", no_idempotency),
    "held is dropped": (exchange, "_hold", held_is_dropped),
    "one bad change refuses all": (wire, "push", one_bad_change_refuses_all),
}
