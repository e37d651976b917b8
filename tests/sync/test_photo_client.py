"""The reference client sends photos: cut, resumed, refused; over a store, over HTTP, over a link in virtual time."""

import contextlib
import http.server
import io
import json
import random
import threading

import pytest
from PIL import Image

from sync import client, photo_client
from sync.photos import Photos, error
from sync.pictures import PhotoRefused

from .picturing import jpeg, name_of


@pytest.fixture
def store(tmp_path):
    return Photos(tmp_path / "photos")


class Server:
    """The store behind the client's way of sending; `cuts` are the calls whose answer, or whose request, is lost."""

    def __init__(self, store, cuts=()):
        self.store, self.cuts, self.calls, self.bytes = store, dict(cuts), 0, 0

    def __call__(self, method, route, body, headers):
        self.calls += 1
        fault = self.cuts.get(self.calls)
        self.bytes += len(body or b"")
        if fault == "request":
            raise client.Offline("cut before it arrived")
        name = route.removeprefix("photos/")
        try:
            found = self.store.state("phone-a", name) if method == "GET" else self.store.take(
                "phone-a", name, headers["Content-Range"], body)
        except PhotoRefused as refused:
            found = error(refused)
        if fault == "answer":
            raise client.Offline("cut on the way back")
        return fault if isinstance(fault, bytes) else json.dumps(found).encode()


def test_the_client_goes_on_where_it_was_after_every_cut(store):
    photo = jpeg(800, 600)
    assert len(photo) > 300_000
    server = Server(store, {2: "request", 4: "answer", 6: b"<html>Welcome", 9: "answer", 11: "request"})
    tries = 0
    while True:
        tries += 1
        try:
            assert photo_client.push_photo(server, photo) == name_of(photo)
            break
        except client.Offline:
            assert not store.has(name_of(photo))
    assert tries == 6 and store.damaged() == [] and store.has(name_of(photo))
    assert server.bytes <= len(photo) + 2 * photo_client.PIECE_BYTES  # only what was lost on the way in went twice


def test_eight_megabytes_at_20_kilobytes_a_second_cut_every_30_seconds_cost_at_most_a_fifth_more(store):
    out = io.BytesIO()
    Image.frombytes("RGB", (1640, 1640), random.Random(8).randbytes(1640 * 1640 * 3)).save(out, "PNG", compress_level=0)
    photo = out.getvalue()
    assert len(photo) > 8_000_000
    spell = 30 * 20_000  # bytes that go through between two cuts: time is counted in bytes and not waited for
    sent, cuts = [0], [0]

    def link(method, route, body, headers):
        through = min(len(body or b""), spell - sent[0] % spell)
        sent[0] += through
        if through < len(body or b""):
            cuts[0] += 1
            raise client.Offline("cut")
        return Server(store)(method, route, body, headers)

    while not store.has(name_of(photo)):
        with contextlib.suppress(client.Offline):
            photo_client.push_photo(link, photo)
    assert store.damaged() == [] and cuts[0] >= 12 and sent[0] <= 1.2 * len(photo), (cuts, sent[0] / len(photo))


def test_the_client_starts_anew_where_all_bytes_are_there_but_unchecked(store):
    photo = jpeg()
    half = store.folder / "partial" / "phone-a" / name_of(photo)
    half.parent.mkdir(parents=True)
    half.write_bytes(photo + b"more")
    assert photo_client.push_photo(Server(store), photo) == name_of(photo)


def test_the_client_says_why_a_photo_is_refused(store):
    with pytest.raises(photo_client.Refusal) as caught:
        photo_client.push_photo(Server(store), b"no photo")
    assert caught.value.code == "not_a_photo"


@pytest.mark.parametrize("answer", [b"{}", b"[]", b"null", b"\xff", b'{"sha256": "x", "offset": 0, "complete": true}',
                                    b'{"error": 1}'])
def test_the_client_takes_nothing_else_for_an_answer(answer):
    with pytest.raises(client.Offline):
        photo_client.push_photo(lambda *_asked: answer, b"photo")


@pytest.fixture
def address(store):
    """A real server on the loopback interface that speaks for the store."""

    class Speaker(http.server.BaseHTTPRequestHandler):
        def log_message(self, *_said):
            pass

        def do_GET(self):
            self.answer(lambda name: store.state("phone-a", name))

        def do_PUT(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            self.answer(lambda name: store.take("phone-a", name, self.headers["Content-Range"], body))

        def answer(self, ask):
            try:
                status, found = 200, ask(self.path.rpartition("/")[2])
            except PhotoRefused as refused:
                status, found = refused.status, error(refused)
            self.send_response(status)
            self.end_headers()
            self.wfile.write(json.dumps(found).encode())

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Speaker)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/sync"
    server.shutdown()
    server.server_close()


def test_the_client_sends_photos_over_http(store, address):
    photo = jpeg()
    assert photo_client.push_photo(photo_client.http_send(address), photo, 20_000) == name_of(photo)
    assert store.has(name_of(photo))
    with pytest.raises(photo_client.Refusal) as caught:
        photo_client.push_photo(photo_client.http_send(address, {"Cookie": "x"}), b"no photo")
    assert caught.value.code == "not_a_photo"


def test_the_client_without_a_server_is_offline():
    with pytest.raises(client.Offline):
        photo_client.push_photo(photo_client.http_send("http://127.0.0.1:1/sync", timeout_s=1.0), b"photo")
