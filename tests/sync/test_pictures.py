"""What is shown of a photo is drawn anew; bombs and what is no photo are refused before they can do harm."""

import io
import struct
import subprocess
import sys
import zlib

import pytest
from PIL import Image

from sync import pictures
from sync.photos import Photos

from .picturing import code_of, jpeg, name_of, put


@pytest.fixture
def store(tmp_path):
    return Photos(tmp_path / "photos")


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


def test_no_memory_for_a_picture_is_trouble_and_not_a_refusal(store, monkeypatch):
    photo = jpeg()

    def none(*_what):
        raise MemoryError

    monkeypatch.setattr(pictures, "_drawn", none)
    assert code_of(lambda: put(store, photo)) == (503, "unavailable")
    monkeypatch.undo()
    assert put(store, photo)["complete"]
