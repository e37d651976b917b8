"""Photos: cut anywhere and resumed, checked before they count, kept once, shown only drawn anew. Pictures are made here."""

import errno
import hashlib
import http.server
import io
import json
import os
import random
import struct
import subprocess
import sys
import threading
import zlib

import pytest
from PIL import Image

from sync import client, photo_client, photos, pictures
from sync.photos import LARGEST_BYTES, LARGEST_PIECE, Photos, error, missing
from sync.pictures import PhotoRefused


def jpeg(width=320, height=240, seed=1, **more):
    """A picture of noise: it does not compress, so its bytes are many."""
    noise = random.Random(seed).randbytes(width * height * 3)
    out = io.BytesIO()
    Image.frombytes("RGB", (width, height), noise).save(out, "JPEG", quality=80, **more)
    return out.getvalue()


def name_of(photo):
    return hashlib.sha256(photo).hexdigest()


def piece(photo, start, end):
    return f"bytes {start}-{end - 1}/{len(photo)}", photo[start:end]


def put(store, photo, name=None, device="phone-a", step=65_536):
    """Sends a whole photo; the last answer."""
    name = name or name_of(photo)
    for start in range(0, len(photo), step):
        answer = store.take(device, name, *piece(photo, start, min(len(photo), start + step)))
    return answer


def code_of(call):
    with pytest.raises(PhotoRefused) as caught:
        call()
    shape = error(caught.value)["error"]
    assert set(shape) == {"code", "text", "details"} and shape["text"].endswith(".")
    return caught.value.status, shape["code"]


@pytest.fixture
def store(tmp_path):
    return Photos(tmp_path / "photos")


def test_a_photo_cut_at_many_bytes_is_resumed_and_whole(store):
    photo, draw = jpeg(), random.Random(4711)
    name, start, sent = name_of(photo), 0, 0
    assert store.state("phone-a", name) == {"sha256": name, "offset": 0, "complete": False}
    while start < len(photo):
        end = min(len(photo), start + draw.randrange(1, 4000))
        answer = store.take("phone-a", name, *piece(photo, start, end))
        sent += end - start
        start = answer["offset"]
        assert start == end and answer["complete"] == (end == len(photo))
    assert store.state("phone-a", name) == {"sha256": name, "offset": len(photo), "complete": True} and sent == len(photo)
    assert (store.folder / name[:2] / name).read_bytes() == photo
    assert not list((store.folder / "partial" / "phone-a").iterdir())
    assert list(store.names()) == [name] and store.damaged() == [] and missing(store, [name, "0" * 64]) == ["0" * 64]


@pytest.mark.parametrize("cut", [0, 1, 999, 1999])
def test_a_piece_that_was_cut_stores_nothing(store, cut):
    photo = jpeg()
    name = name_of(photo)
    store.take("phone-a", name, *piece(photo, 0, 1000))
    content_range, body = piece(photo, 1000, 3000)
    assert code_of(lambda: store.take("phone-a", name, content_range, body[:cut])) == (400, "body_cut")
    assert store.state("phone-a", name)["offset"] == 1000


def test_a_piece_beyond_what_has_come_is_told_where_to_go_on(store):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    with pytest.raises(PhotoRefused) as caught:
        store.take("phone-a", name_of(photo), *piece(photo, 2000, 3000))
    assert (caught.value.status, caught.value.code, caught.value.details) == (409, "wrong_offset", {"offset": 1000})


def test_a_piece_sent_twice_and_a_start_anew_do_no_harm(store):
    photo = jpeg()
    name = name_of(photo)
    store.take("phone-a", name, *piece(photo, 0, 2000))
    assert store.take("phone-a", name, *piece(photo, 1000, 2000))["offset"] == 2000
    assert store.take("phone-a", name, *piece(photo, 0, 1500))["offset"] == 1500
    assert store.take("phone-a", name, *piece(photo, 1500, len(photo)))["complete"]
    assert store.take("phone-a", name, *piece(photo, 0, 100)) == store.state("phone-a", name)


def test_killed_between_the_last_piece_and_its_place_a_photo_is_sent_again(store):
    photo = jpeg()
    half = store.folder / "partial" / "phone-a" / name_of(photo)
    half.parent.mkdir(parents=True)
    half.write_bytes(photo)  # what kill -9 leaves: every byte there, nothing checked
    assert store.state("phone-a", name_of(photo)) == {"sha256": name_of(photo), "offset": len(photo), "complete": False}
    assert put(store, photo)["complete"]


def test_a_wrong_hash_is_refused_and_nothing_of_it_stays(store):
    photo = bytearray(jpeg())
    name = name_of(bytes(photo))
    photo[500] ^= 1
    assert code_of(lambda: put(store, bytes(photo), name)) == (422, "wrong_hash")
    assert store.state("phone-a", name) == {"sha256": name, "offset": 0, "complete": False}


def test_the_same_photo_of_two_devices_is_kept_once(store):
    photo = jpeg()
    store.take("phone-b", name_of(photo), *piece(photo, 0, 1000))
    assert put(store, photo)["complete"]
    assert store.take("phone-b", name_of(photo), *piece(photo, 1000, 2000))["complete"]
    assert [path.name for path in store.folder.glob("??/*")] == [name_of(photo)]


def test_a_photo_finished_while_a_piece_waits_its_turn_is_not_written_to(store, monkeypatch):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    taken = []

    def turn(file, _how):
        if not taken:  # the other request was quicker
            taken.append(1)
            put(store, photo)

    monkeypatch.setattr(photos.fcntl, "flock", turn)
    assert store.take("phone-a", name_of(photo), *piece(photo, 1000, 2000))["complete"]
    assert store.damaged() == []


def encoded(kind, **more):
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(out, kind, **more)
    return out.getvalue()


NOT_PHOTOS = {
    "GIF": encoded("GIF"), "TIFF": encoded("TIFF"), "SVG": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "HTML": b"<html>", "cut JPEG": jpeg()[:9000], "cut PNG": encoded("PNG")[:60], "cut WebP": encoded("WEBP")[:40],
    "JPEG head": b"\xff\xd8\xff\xe0", "zeros": bytes(100)}


@pytest.mark.parametrize("name", NOT_PHOTOS)
def test_what_is_no_photo_is_refused_with_a_code(store, name):
    assert code_of(lambda: put(store, NOT_PHOTOS[name])) == (415, "not_a_photo")
    assert not list(store.folder.glob("??/*")) and not list(store.folder.glob("partial/*/*"))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("mode", ["RGB", "L", "RGBA", "P", "CMYK"])
def test_every_kind_of_photo_is_shown_as_jpeg_in_two_sizes(store, kind, mode):
    if (kind, mode) in {("JPEG", "RGBA"), ("JPEG", "P"), ("PNG", "CMYK"), ("WEBP", "CMYK")}:
        return  # the kind has no such pictures
    out = io.BytesIO()
    Image.new("RGB", (2000, 1000), "red").convert(mode).save(out, kind)
    photo = out.getvalue()
    assert put(store, photo)["complete"]
    for size, wanted in (("large", (1600, 800)), ("small", (640, 320))):
        shown = Image.open(io.BytesIO(store.picture(name_of(photo), size)))
        assert (shown.format, shown.mode, shown.size) == ("JPEG", "RGB", wanted)
        red, green, blue = shown.getpixel((wanted[0] // 2, wanted[1] // 2))
        assert (red > 240 and green < 20 and blue < 20) or mode == "L"


def test_a_transparent_picture_is_shown_on_white(store):
    out = io.BytesIO()
    Image.new("RGBA", (40, 30), (0, 0, 0, 0)).save(out, "PNG")
    put(store, out.getvalue())
    assert Image.open(io.BytesIO(store.picture(name_of(out.getvalue()), "small"))).getpixel((5, 5)) == (255, 255, 255)


def test_what_is_shown_carries_neither_position_nor_comment_nor_anything_behind_the_picture(store):
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: turn right by 90 degrees. Source: EXIF 2.32, tag 274, from memory
    exif.get_ifd(0x8825)[1] = "N"  # GPS latitude reference; tag 0x8825 is the GPS IFD: EXIF 2.32, from memory
    exif.get_ifd(0x8825)[2] = (54.0, 30.0, 0.0)
    exif[0x0110] = "INVENTED-MODEL"
    photo = jpeg(400, 300, exif=exif.tobytes(), comment=b"INVENTED-COMMENT", icc_profile=b"INVENTED-PROFILE")
    photo += b"<script>INVENTED-TAIL</script>"
    assert Image.open(io.BytesIO(photo)).getexif().get_ifd(0x8825)  # the planted position is there
    put(store, photo)
    for size in pictures.SIZES:
        drawn = store.picture(name_of(photo), size)
        shown = Image.open(io.BytesIO(drawn))
        assert not shown.getexif() and b"Exif" not in drawn and b"INVENTED" not in drawn
        assert not {"exif", "comment", "icc_profile"} & set(shown.info) and shown.size == (300, 400)  # upright


def test_pictures_are_made_again_from_the_original(store):
    photo = jpeg()
    put(store, photo)
    first = store.picture(name_of(photo), "small")
    for shown in store.folder.glob("shown/*/*"):
        shown.unlink()
    assert store.picture(name_of(photo), "small") == first
    assert store.picture("0" * 64, "small") is None


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_bomb(side):
    """A black PNG of side x side of few bytes; the format from the PNG specification, sections 5 and 11, from memory."""
    packer = zlib.compressobj(9)
    rows = b"".join(packer.compress(bytes(1 + (side + 7) // 8)) for _ in range(side)) + packer.flush()
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0))
            + chunk(b"IDAT", rows) + chunk(b"IEND", b""))


def webp_head(kind, body):
    return b"RIFF" + struct.pack("<I", 4 + 8 + len(body)) + b"WEBP" + kind + struct.pack("<I", len(body)) + body


SIDE = 6_000  # 36 million pixels: more than we take, less than Pillow would refuse by itself
BOMBS = {
    "5000": png_bomb(5_000),  # 25 million pixels, below Pillow's own limit
    "13000": png_bomb(13_000),  # Pillow warns
    "20000": png_bomb(20_000),  # Pillow refuses
    "VP8X": webp_head(b"VP8X", bytes(4) + (SIDE - 1).to_bytes(3, "little") * 2),
    "VP8L": webp_head(b"VP8L", b"\x2f" + ((SIDE - 1) | (SIDE - 1) << 14).to_bytes(4, "little") + bytes(9)),
    "VP8": webp_head(b"VP8 ", bytes(3) + b"\x9d\x01\x2a" + SIDE.to_bytes(2, "little") * 2),
}


@pytest.mark.parametrize("name", BOMBS)
def test_image_bombs_are_refused_before_they_are_decoded(store, name):
    assert code_of(lambda: put(store, BOMBS[name])) == (413, "too_many_pixels")


def test_a_webp_of_an_unknown_make_is_not_a_photo(store):
    assert code_of(lambda: put(store, webp_head(b"ABCD", bytes(20)))) == (415, "not_a_photo")


def test_a_bomb_of_a_few_kilobytes_does_not_need_300_megabytes(store, tmp_path):
    file = tmp_path / "bomb.png"
    file.write_bytes(BOMBS["13000"])
    assert file.stat().st_size < 25_000
    script = ("import resource, sys; from pathlib import Path; from sync import pictures\n"
              "resource.setrlimit(resource.RLIMIT_AS, (300 << 20, 300 << 20))\n"
              "try: pictures.draw(Path(sys.argv[1]))\nexcept pictures.PhotoRefused as refused: print(refused.code)")
    done = subprocess.run([sys.executable, "-c", script, str(file)], capture_output=True, text=True)
    assert done.stdout.strip() == "too_many_pixels", done.stderr


def test_too_many_bytes_and_too_large_a_piece_are_refused(store):
    body = bytes(LARGEST_PIECE + 1)
    name = name_of(body)
    assert code_of(lambda: store.take("a", name, f"bytes 0-9/{LARGEST_BYTES + 1}", bytes(10))) == (413, "photo_too_large")
    assert code_of(lambda: store.take("a", name, f"bytes 0-{len(body) - 1}/{len(body)}", body)) == (413, "piece_too_large")


@pytest.mark.parametrize("said", [None, "", "bytes */100", "bytes 0-9", "bytes 5-4/100", "bytes 0-100/100", "bytes 0-9/0",
                                  "items 0-9/100", "bytes 0-9/100 ", "bytes ٠-٩/100", "bytes -1-8/100"])
def test_a_range_that_says_nothing_clear_is_refused(store, said):
    assert code_of(lambda: store.take("a", "0" * 64, said, bytes(10))) == (400, "bad_range")


@pytest.mark.parametrize("name", ["", "0" * 63, "0" * 65, "A" * 64, "../" + "0" * 61, "0" * 64 + "\n", "g" * 64])
def test_names_that_are_no_hash_never_reach_the_disk(store, name):
    for call in (lambda: store.state("a", name), lambda: store.take("a", name, "bytes 0-0/1", b"x"),
                 lambda: store.picture(name, "small"), lambda: store.has(name)):
        assert code_of(call) == (400, "bad_photo")
    assert not store.folder.exists()


def test_devices_and_sizes_of_other_names_are_refused(store):
    assert code_of(lambda: store.state("../a", "0" * 64)) == (400, "bad_photo")
    assert code_of(lambda: store.picture("0" * 64, "original")) == (400, "bad_photo")


def test_a_device_has_a_quota_a_day_and_another_one_its_own(tmp_path, monkeypatch):
    photo, other = jpeg(seed=1), jpeg(seed=2)
    store = Photos(tmp_path, quota_bytes=len(photo) + 2_000)
    assert put(store, photo)["complete"]
    store.take("phone-a", name_of(other), *piece(other, 0, 1_500))
    assert code_of(lambda: store.take("phone-a", name_of(other), *piece(other, 1_500, 3_000))) == (429, "photo_quota")
    assert put(store, other, device="phone-b")["complete"]
    third = jpeg(seed=3)
    later = photos.time.time() + photos.QUOTA_SECONDS + 1
    monkeypatch.setattr(photos.time, "time", lambda: later)
    assert put(store, third)["complete"]


def test_half_photos_are_counted_and_forgotten_after_a_month(store, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PARTIAL", 1)
    old, photo, third = jpeg(seed=4), jpeg(seed=5), jpeg(seed=6)
    for one in (old, photo):
        store.take("phone-a", name_of(one), *piece(one, 0, 1000))
    assert code_of(lambda: store.take("phone-a", name_of(third), *piece(third, 0, 1000))) == (429, "photo_quota")
    long_ago = photos.time.time() - photos.PARTIAL_SECONDS - 1
    os.utime(store.folder / "partial" / "phone-a" / name_of(old), (long_ago, long_ago))
    assert store.take("phone-a", name_of(third), *piece(third, 0, 1000))["offset"] == 1000
    assert store.state("phone-a", name_of(old))["offset"] == 0


def test_a_full_disk_keeps_what_was_confirmed_and_says_so(store, monkeypatch):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    write, calls = os.write, []

    def full(number, body):
        calls.append(1)
        if len(calls) == 1:
            return write(number, bytes(body[:100]))  # a part of it still fits
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(photos.os, "write", full)
    assert code_of(lambda: store.take("phone-a", name_of(photo), *piece(photo, 1000, 3000))) == (503, "unavailable")
    monkeypatch.undo()
    assert store.state("phone-a", name_of(photo))["offset"] == 1000
    assert store.take("phone-a", name_of(photo), *piece(photo, 1000, len(photo)))["complete"]


def test_no_memory_for_a_picture_is_trouble_and_not_a_refusal(store, monkeypatch):
    photo = jpeg()

    def none(*_what):
        raise MemoryError

    monkeypatch.setattr(pictures, "_drawn", none)
    assert code_of(lambda: put(store, photo)) == (503, "unavailable")
    monkeypatch.undo()
    assert put(store, photo)["complete"]


def test_bytes_that_change_on_the_disk_are_found(store):
    photo = jpeg()
    put(store, photo)
    (store.folder / name_of(photo)[:2] / name_of(photo)).write_bytes(photo[:-1])
    assert store.damaged() == [name_of(photo)]


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
