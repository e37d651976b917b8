"""One device floods the served program and a crowd sends as slowly as it can; another phone's work goes on. No browser.

Every one of its syncs gets through within the time that a phone waits; how long pushes take is measured in tests/bench.
"""

import contextlib
import http.client
import json
import socket
import threading

import pytest

from sync.client import Client, http_post
from tests.keeping.test_served import enrolled

pytestmark = pytest.mark.browser  # it needs the server of these tests

PUSHES = 40
SLOW = 60
FLOODERS = 6
PATIENCE_S = 20  # as the phone's TIME_OUT_MS


def slow_sender(server, cookie):
    """A connection with a request that has begun and never ends."""
    link = socket.create_connection(("127.0.0.1", server.port), 10)
    link.sendall((f"POST /sync/push HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nContent-Type: application/json\r\n"
                  f"Cookie: {cookie}\r\nContent-Length: 100000\r\n\r\n{{").encode())
    return link


def flood(server, cookie, stop, said):
    """Asks one thing after another as fast as it can: all of the book, junk, a body that is too large."""
    bodies = [("pull", b'{"cursor": null}'), ("push", b"{" * 1000),
              ("fetch", json.dumps({"records": ["x:y"] * 900}).encode()),
              ("push", b'{"schema": 1, "changes": [' + b'"x",' * 4000 + b'"x"], "hashes": []}')]
    number = 0
    while not stop.is_set():
        number += 1
        route, body = bodies[number % len(bodies)]
        with contextlib.suppress(OSError, http.client.HTTPException):
            link = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
            link.request("POST", "/sync/" + route, body, {"Content-Type": "application/json", "Cookie": cookie})
            answer = link.getresponse()
            answer.read()
            said.append(answer.status)
            link.close()


def test_a_flood_and_slow_senders_hold_up_nobody_else(server, tmp_path):
    (_, bad), (device, good) = enrolled(server), enrolled(server)
    stop, said = threading.Event(), []
    slow = [slow_sender(server, bad["Cookie"]) for _ in range(SLOW)]
    flooders = [threading.Thread(target=flood, args=(server, bad["Cookie"], stop, said)) for _ in range(FLOODERS)]
    for one in flooders:
        one.start()
    van = Client(f"{tmp_path}/van.db", device, http_post(server.url + "/sync", good, timeout_s=PATIENCE_S))
    try:
        for number in range(PUSHES):
            for one in slow[number % 10::10]:
                with contextlib.suppress(OSError):
                    one.sendall(b" ")  # one more byte, now and then: none of them is idle
            van.write(f"filter:f{number}", {"serial": f"S-{number}"}, "person:kim")
            van.sync()  # raises Offline where it is kept waiting
            assert van.waiting() == []
    finally:
        stop.set()
        for one in flooders:
            one.join()
        for one in slow:
            one.close()
        van.close()
    assert len(said) > PUSHES and max(said) < 500, sorted(set(said))
