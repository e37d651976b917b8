"""The bad link: a TCP proxy that takes one HTTP request a connection and does to it what was planned for it.

It sees bytes, not changes: it can cut both directions at any byte, send a request twice or late, answer in the server's
place, or have the server killed under a request. Without a plan it passes everything on.
"""

import contextlib
import random
import socket
import threading
import time

from tests import proxying
from tests.proxying import reset

WITHIN_S = 0.02  # a push takes about 5 ms here: a kill or a cut within this time falls before, into or after its commit
PATIENCE_S = 20
WELCOME = b"/welcome"
PORTALS = (b"<html>Welcome. Please accept our terms.</html>", b"", b"{}", b'{"ok": true}', b"[]", b"null",
           b'{"receipts": [], "epoch": "0", "end": null, "reset": false', b'{"status": "stored"}')


class Proxy(proxying.Proxy):
    """Listens on a port of its own. plan(fate): for the next connection; deliver_late(): lets go what was held back."""

    def __init__(self, target_port, tally, on_kill):
        self.tally, self.on_kill = tally, on_kill
        self.fates, self.late = [], []
        self.lock = threading.Lock()
        super().__init__(target_port)

    def plan(self, *fates):
        """These fates, one for each of the next connections, and nothing that was planned before."""
        with self.lock:
            self.fates = list(fates)

    def deliver_late(self, rng):
        """Requests that were swallowed reach the server now, in another order; nobody hears its answers."""
        with self.lock:
            waiting, self.late = self.late, []
        rng.shuffle(waiting)
        for request in waiting:
            if self._ask_server(request) is not None:
                self.tally.took_place("sent_late")

    def met(self, phone):
        """Does to its one request what was planned."""
        phone.settimeout(PATIENCE_S)
        with self.lock:
            fate = self.fates.pop(0) if self.fates else None
        with contextlib.suppress(OSError), phone:
            if fate is not None and fate.name == "refused":
                self.tally.took_place("refused")
                return reset(phone)
            request = read_message(phone)
            if request.startswith(b"GET " + WELCOME):
                return phone.sendall(http("200 OK", PORTALS[0]))
            answer = self._ask_server(request) if fate is None else getattr(self, "_" + fate.name)(request, fate.where)
            if fate is not None and fate.name != "sent_late":
                self.tally.took_place(fate.name)
            if not answer:
                return reset(phone)
            phone.sendall(answer)
            if fate is not None and fate.name == "answer_cut":
                reset(phone)

    def _ask_server(self, request):
        """The server's whole answer to these bytes; None where there is none."""
        with contextlib.suppress(OSError), self.to_server(PATIENCE_S) as server:
            server.sendall(request)
            return read_message(server)

    def _request_cut(self, request, where):
        with contextlib.suppress(OSError), self.to_server(PATIENCE_S) as server:
            server.sendall(request[:int(where * len(request))])
            server.shutdown(socket.SHUT_WR)
            server.recv(65536)

    def _request_short(self, request, where):
        return self._ask_server(shortened(request, where))

    def _cut_while_committing(self, request, where):
        with contextlib.suppress(OSError), self.to_server(PATIENCE_S) as server:
            server.sendall(request)
            time.sleep(where * WITHIN_S)  # the moment of the cut is the fault itself
            reset(server)

    def _answer_lost(self, request, where):
        self._ask_server(request)

    def _answer_cut(self, request, where):
        answer = self._ask_server(request) or b""
        return answer[:int(where * len(answer))]

    def _answer_short(self, request, where):
        answer = self._ask_server(request)
        return answer and shortened(answer, where)

    def _sent_twice(self, request, where):
        answers = []
        both = [threading.Thread(target=lambda: answers.append(self._ask_server(request))) for _ in range(2)]
        for one in both:
            one.start()
            if where < 0.5:
                one.join()
        for one in both:
            one.join()
        return answers[int(where * 4) % 2]

    def _sent_late(self, request, where):
        with self.lock:
            self.late.append(request)

    def _portal_200(self, request, where):
        return http("200 OK", PORTALS[int(where * len(PORTALS))])

    def _portal_302(self, request, where):
        return http("302 Found", b"", f"Location: http://127.0.0.1:{self.port}".encode() + WELCOME + b"\r\n")

    def _error_500(self, request, where):
        return http("500 Internal Server Error", random.Random(where).choice(PORTALS))

    def _error_401(self, request, where):
        return http("401 Unauthorized", b'{"error": {"code": "login", "text": "Log in", "details": null}}')

    def _killed_while_answering(self, request, where):
        with contextlib.suppress(OSError), self.to_server(PATIENCE_S) as server:
            server.sendall(request)
            time.sleep(where * WITHIN_S)  # the moment of the kill is the fault itself
            self.on_kill()
            return read_message(server)
        self.on_kill()


def read_message(source):
    """The bytes of one HTTP message: its head, and as much body as its Content-Length says; OSError where it ends early."""
    data = b""
    while b"\r\n\r\n" not in data:
        data += received(source)
    head, _, body = data.partition(b"\r\n\r\n")
    while len(body) < length_in(head):
        body += received(source)
    return head + b"\r\n\r\n" + body


def received(source):
    """Some bytes; OSError at the end."""
    data = source.recv(65536)
    if not data:
        raise ConnectionResetError
    return data


def length_in(head):
    """What a head says of the length of its body."""
    found = [line.split(b":")[1] for line in head.split(b"\r\n") if line.lower().startswith(b"content-length:")]
    return int(found[0]) if found else 0


def shortened(message, where):
    """A message with only the first part of its body, and a head that says so."""
    head, _, body = message.partition(b"\r\n\r\n")
    body = body[:int(where * len(body))]
    lines = [line for line in head.split(b"\r\n") if not line.lower().startswith(b"content-length:")]
    return b"\r\n".join([*lines, b"Content-Length: %d" % len(body)]) + b"\r\n\r\n" + body


def http(status, body, more=b""):
    """A whole HTTP answer."""
    return (f"HTTP/1.1 {status}\r\nContent-Type: text/html\r\nConnection: close\r\n".encode() + more
            + b"Content-Length: %d\r\n\r\n" % len(body) + body)
