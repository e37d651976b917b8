"""Requests cut on their way into the served program: nothing of them is stored, whole they work. No browser needed."""

import contextlib
import json
import random
import socket
import struct
import urllib.request

import pytest

from sync import change
from tests.keeping.test_served import enrolled
from tests.sync.making import made
from webform.shop import Shop

pytestmark = pytest.mark.browser  # it needs the server of these tests

CUTS = 100  # of each kind
CHANGES = 12


def requests_of(server, headers):
    """One push as head and body in both manners of HTTP: with its length (RFC 9110, 8.6), in chunks (RFC 9112, 7.1)."""
    texts = [change.to_text(made(f"a.{n}", f"filter:f{n}", {"serial": f"S-{n}"})) for n in range(CHANGES)]
    body = json.dumps({"schema": 1, "changes": texts, "hashes": [change.content_hash(text) for text in texts]}).encode()
    head = (f"POST /sync/push HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nContent-Type: application/json\r\n"
            f"Cookie: {headers['Cookie']}\r\n").encode()
    pieces = [body[start:start + 500] for start in range(0, len(body), 500)]
    chunked = b"".join(b"%x\r\n%s\r\n" % (len(piece), piece) for piece in pieces) + b"0\r\n\r\n"
    return {"length": (head + b"Content-Length: %d\r\n\r\n" % len(body), body),
            "chunks": (head + b"Transfer-Encoding: chunked\r\n\r\n", chunked)}


def answer_to(server, sent, is_reset=False):
    """Sends these bytes and ends the connection, hard or in peace; what comes back."""
    with socket.create_connection(("127.0.0.1", server.port), 10) as link, contextlib.suppress(ConnectionError):
        link.sendall(sent)
        if is_reset:
            link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            return b""
        link.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: link.recv(65536), b""))


def stored(server):
    shop = Shop(server.data)
    position = shop.store.counter()["position"]
    shop.store.close()
    return position


@pytest.mark.parametrize("manner", ["length", "chunks"])
def test_a_push_cut_at_any_byte_stores_nothing_and_whole_it_is_stored(server, manner):
    head, body = requests_of(server, enrolled(server)[1])[manner]
    draw, before = random.Random(4711), stored(server)
    # random places, and the sharp ones: nothing of the body, the end of a change's text, one byte short
    ends = [place + 1 for place in range(len(body)) if body[place:place + 1] == b"}"][:20]
    places = [0, len(body) - 1, *ends, *(draw.randrange(len(body)) for _ in range(CUTS - 2 - len(ends)))]
    for number, place in enumerate(places):
        answer = answer_to(server, head + body[:place], is_reset=number % 4 == 0)
        status = answer.split(b" ")[1] if answer else b"none"
        assert status == b"none" or status.startswith(b"4"), (place, answer[:300])
    # the server takes what comes after them, and a look at its books is not too early: it has answered since
    with urllib.request.urlopen(server.url + "/health", timeout=10) as said:
        assert json.load(said)["position"] == before
    whole = answer_to(server, head.replace(b"HTTP/1.1\r\n", b"HTTP/1.1\r\nConnection: close\r\n", 1) + body)
    assert whole.split(b" ")[1] == b"200" and whole.count(b'"stored"') == CHANGES, whole[:300]
    assert stored(server) == before + CHANGES
