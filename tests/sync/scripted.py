"""A server that does to its link what a protocol case says: the real store and the real wire behind it, HTTP before it."""

import contextlib
import gzip
import itertools
import json
import socket
import struct
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from sync import exchange, lookup, merge, wire
from tests.sync.cases import PATIENCE_S, record_of

from .making import open_store, policy_of

PORTAL = b"<html><title>Welcome</title>Please sign in to use this network</html>"
UNTOUCHED = {"login page": (200, PORTAL), "empty": (200, b""), "list": (200, b"[]"), "other object": (200, b'{"ok": true}'),
             "error with status 200": (200, b'{"error": {"code": "x", "text": "x", "details": null}}'),
             **{status: (int(status), json.dumps({"error": {"code": "x", "text": "x", "details": None}}).encode())
                for status in ("400", "401", "413", "429", "500", "503")}}


def _each_receipt(answer, **more):
    answer["receipts"] = [{**receipt, **more} for receipt in answer["receipts"]]


ALTERED = {
    "other ids": lambda answer: _each_receipt(answer, id="other.r.1"),
    "other hashes": lambda answer: _each_receipt(answer, hash="0" * 32),
    "unknown status": lambda answer: _each_receipt(answer, status="fine"),
    "no positions": lambda answer: _each_receipt(answer, position=None),
    "no receipts": lambda answer: answer.update(receipts=[]),
    "first receipt only": lambda answer: answer.update(receipts=answer["receipts"][:1]),
    "null receipts": lambda answer: answer.update(receipts=None),
    "receipts of null": lambda answer: answer.update(receipts=[None] * len(answer["receipts"])),
    "receipts twice": lambda answer: answer.update(receipts=answer["receipts"] * 2),
    "receipts turned round": lambda answer: answer["receipts"].reverse(),
    "a stranger's receipt too": lambda answer: answer["receipts"].insert(0, {**answer["receipts"][0], "id": "other.r.1"}),
    "more keys": lambda answer: answer.update(colour="blue", **{name: {**answer[name], "colour": "blue"}
                                                                for name in ("end", "cursor") if name in answer}),
    "no records": lambda answer: answer.pop("records"),
    "records of null": lambda answer: answer.update(records=[None]),
    "no cursor": lambda answer: answer.pop("cursor"),
}
LATE = ("reset after", "cut", "silent after", "drop by drop")
DROPS = 5


class Scripted:
    """One server for many cases, each with a store of its own. files: path → (type, bytes) of pages to serve beside."""

    def __init__(self, folder, files=None):
        self.folder, self.files, self.store, self.number = folder, files or {}, None, 0
        self.lock = threading.Lock()
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), type("Handler", (Handler,), {"scripted": self}))
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_port}"
        threading.Thread(target=self.server.serve_forever, args=(0.05,), daemon=True).start()

    def begin(self, case):
        """An empty store, and the fates of a case."""
        self.case, self.fates = case, {route: list(fate) if isinstance(fate, list) else fate
                                       for route, fate in case.fates.items()}
        self.requests, self.is_honest = [], False
        self.put_back()

    def be_honest(self):
        """From now on nothing goes wrong; where the case says so, the server has been put back to nothing."""
        self.fates, self.requests, self.is_honest = {}, [], True
        if self.case.limits.get("put_back"):
            self.put_back()

    def put_back(self, is_by_hand=False):
        """Another, empty store: what a backup from before the first change is. is_by_hand: a file, of the same epoch."""
        with self.lock:
            epoch = self.store.counter()["epoch"] if is_by_hand else None
            self.number += 1
            self.store = open_store(f"sqlite:///{self.folder}/shop{self.number}.db")
            if is_by_hand:
                self.store.rows("UPDATE counter SET epoch = ?", (epoch,))
            self.store.close()

    def views(self):
        """What the server makes of all that it has."""
        with self.lock:
            found = lookup.views(self.store, [record_of(number) for number in range(self.case.writes)])
            self.store.close()
        return {record: merge.canonical(view["fields"]) for record, view in found.items()}

    def stored(self):
        """The ids of what the server has accepted."""
        with self.lock:
            found = [entry["id"] for entry in lookup.entries(self.store)]
            self.store.close()
        return found

    def close(self):
        """Ends the server."""
        self.server.shutdown()
        self.server.server_close()

    def fate_of(self, route):
        """What happens to the next request of a route."""
        fate = self.fates.get(route, "honest")
        if isinstance(fate, list):
            return fate.pop(0) if fate else "honest"
        return fate

    def accept(self, change):
        """Holds the changes from a number on, where the case says so."""
        from_number = None if self.is_honest and self.case.limits.get("let_in") else self.case.limits.get("held_from")
        return "answer.unwanted" if from_number is not None and int(change["id"].split(".")[2]) > from_number else None

    def answer(self, route, body, encoding):
        """The wire's own answer."""
        with self.lock:
            try:
                if len(body if encoding is None else gzip.decompress(body)) > self.case.limits.get("largest_body", 10**9):
                    return wire.WireError("too_large").answer
                if route == "push":
                    return wire.answer_push(self.store, "van", body, encoding, self.accept)
                if route == "fetch":
                    return wire.answer_fetch(self.store, body, encoding)
                status, page = wire.answer_pull(self.store, body, encoding,
                                                limit=self.case.limits.get("page", exchange.PAGE_RECORDS))
                if self.case.limits.get("parts") and not self.is_honest:
                    page["records"] = [{**one, "heads": {}, "whole": False} for one in page["records"]]
                return status, page
            finally:
                self.store.close()


class Handler(BaseHTTPRequestHandler):
    """One request: a page, or an exchange with its fate."""

    scripted: Scripted

    def log_message(self, *_):
        """Nothing is said."""

    def do_GET(self):
        found = self.scripted.files.get(self.path)
        self.reply(200 if found else 404, found[1] if found else PORTAL, {"Content-Type": found[0] if found else "text/html"})

    def do_POST(self):
        route = self.path.rpartition("/")[2]
        body, encoding = self.rfile.read(int(self.headers["Content-Length"])), self.headers.get("Content-Encoding")
        fate = self.scripted.fate_of(route)
        request = json.loads(gzip.decompress(body) if encoding == "gzip" else body)
        seen = {"route": route, "fate": fate, "request": request, "is_packed": encoding == "gzip"}
        self.scripted.requests.append(seen)
        if fate == "reset before":
            self.end_hard()
        elif fate == "silent" or len(request.get("changes", ())) > self.scripted.case.limits.get("most_in_time", 10**9):
            self.be_silent(seen)
        elif fate == "redirect":
            self.reply(302, b"", {"Location": "/login"})
        elif fate in UNTOUCHED:
            self.reply(*UNTOUCHED[fate], {"Content-Type": "text/html" if fate == "login page" else "application/json"})
        else:
            status, answer = self.scripted.answer(route, body, encoding)
            seen.update(status=status, answer=json.loads(json.dumps(answer)))
            if fate in ALTERED and status == 200:
                ALTERED[fate](answer)
            assert fate in ALTERED or fate in LATE or fate == "honest", fate
            packed, headers = wire.packed(answer, self.headers.get("Accept-Encoding"))
            seen["is_answer_packed"] = "Content-Encoding" in headers
            if fate == "reset after":
                self.end_hard()
            elif fate == "silent after":
                self.be_silent(seen)
            else:
                self.reply(status, packed, headers, is_cut=fate == "cut", is_slow=fate == "drop by drop")

    def reply(self, status, body, headers, is_cut=False, is_slow=False):
        """Sends an answer; half of its body where it is cut, in drops of which each comes in time where it is slow."""
        self.send_response(status)
        for name, text in {**headers, "Content-Length": str(len(body)), "Connection": "close"}.items():
            self.send_header(name, text)
        self.end_headers()
        for drop in range(DROPS if is_slow else 0):
            self.wfile.write(body[drop * len(body) // DROPS:(drop + 1) * len(body) // DROPS])
            self.wfile.flush()
            time.sleep(PATIENCE_S / 2)  # the slow link itself
        if not is_slow:
            self.wfile.write(body[:len(body) // 2] if is_cut else body)
        if is_cut:
            self.end_hard()

    def be_silent(self, seen):
        """Says nothing until the client has given up; a client that waits for ever is left after half a minute."""
        self.close_connection = True
        self.connection.settimeout(30)
        try:
            seen["is_given_up"] = self.connection.recv(1) == b""
        except OSError as trouble:
            seen["is_given_up"] = not isinstance(trouble, TimeoutError)

    def end_hard(self):
        """Ends the connection with a reset."""
        self.close_connection = True
        with contextlib.suppress(OSError):
            self.wfile.flush()
            self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            self.connection.shutdown(socket.SHUT_RD)


def check_first(case, scripted, ids, waiting, held, shown):
    """What a client may believe after the first sync, never more than the server has, and must show, all that it wrote.

    shown: the ids of the answers on its screens.
    """
    latest = {record_of(number): identity for number, identity in enumerate(ids)}
    gone = set(latest.values()) - {one for one, _reason in held} - set(shown)
    assert not gone, "what a person saw as saved is gone from the screen"
    assert set(ids) - set(waiting) <= set(scripted.stored()) | {one for one, _reason in held}
    assert scripted.requests and any(one["route"] == "push" for one in scripted.requests)
    if case.confirmed == "none":
        assert sorted(waiting) == sorted(ids)
    elif case.confirmed == "all":
        assert waiting == []
    else:
        assert len(waiting) < len(ids)
    for one in scripted.requests:
        assert one.get("is_given_up", True), "a client waits for ever"
    if case.limits.get("held_from") is not None:
        assert held == [(one, "answer.unwanted") for one in ids[case.limits["held_from"]:]]
    if "packed" in case.name:
        assert all(one["is_packed"] for one in scripted.requests if one["route"] == "push")
        assert any(one.get("is_answer_packed") for one in scripted.requests)
    if "keys" in case.name:  # a place is given back whole
        assert all(one["request"]["witness"]["colour"] == "blue" for one in scripted.requests if one["route"] == "pull")
    if case.limits.get("parts"):
        fetched = [one["request"]["records"] for one in scripted.requests if one["route"] == "fetch"]
        assert sorted(itertools.chain(*fetched)) == sorted({record_of(number) for number in range(case.writes)})
    if case.limits.get("largest_body"):
        assert {one.get("status") for one in scripted.requests if one["route"] == "push"} == {200, 413}
    if case.limits.get("page"):
        pulls = [one for one in scripted.requests if one["route"] == "pull"]
        assert len(pulls) > 1  # each goes on from the cursor of the last good page, unchanged
        for earlier, later in itertools.pairwise(pulls):
            assert earlier["answer"]["next"] is not None and later["request"]["cursor"] == earlier["answer"]["cursor"]


def check_last(case, scripted, ids, waiting, held, views):
    """After an honest sync nothing waits, the server has each change once, and the client sees what the server has."""
    held_ids = {one for one, _reason in held}
    assert waiting == []
    assert len(held_ids) == len(held) == (
        len(ids) - case.limits["held_from"] if "held_from" in case.limits and not case.limits.get("let_in") else 0)
    assert sorted(scripted.stored()) == sorted(set(ids) - held_ids)
    expected = scripted.views()
    assert {record: merge.canonical(fields) for record, fields in views.items()} == expected


__all__ = ["Scripted", "check_first", "check_last", "policy_of"]
