"""From the bytes of a photo to pictures that may be shown: decoded within limits, drawn anew, two sizes.

Promises: nothing is decoded before its pixels are counted; what comes out holds pixels and nothing else (no position,
no comment, no profile, nothing behind the end of the picture), upright. Refuses all but JPEG, PNG and WebP.
"""

import io
import threading
import warnings
from pathlib import Path
from typing import Any

from PIL import Image, ImageOps

MOST_PIXELS = 24_000_000
SIZES = {"large": 1600, "small": 640}  # longest side, pixels
QUALITY = 82
KINDS = ("JPEG", "PNG", "WEBP")
HEAD = 30
AT_ONCE = 2  # decoded pictures that this process holds in memory

SENTENCES = {
    "bad_photo": "This is not the address of a photo. It is named by 64 lower-case hex digits of its SHA-256.",
    "bad_type": "This address takes raw bytes. Send them as application/octet-stream.",
    "bad_range": "Say which bytes of how many these are: Content-Range: bytes 0-65535/300000.",
    "body_cut": "The request holds fewer or more bytes than it says. Ask how far the photo has come, then go on there.",
    "wrong_offset": "The photo has not come as far as this piece, or further. Go on at details.offset.",
    "photo_too_large": "The photo has too many bytes; see details. Scale it down.",
    "piece_too_large": "The piece is too large; see details. Send smaller ones.",
    "too_many_pixels": f"The photo has more than {MOST_PIXELS} pixels. Scale it down.",
    "not_a_photo": "This is not a JPEG, PNG or WebP picture that can be read to its end.",
    "wrong_hash": "These bytes do not have the hash that they were sent under. Nothing of them is kept: send them again.",
    "photo_quota": "This device has sent as many photos as it may in one day. Keep them and go on tomorrow.",
    "unavailable": "The photo could not be stored. Keep it and send it again later.",
}

_turns = threading.BoundedSemaphore(AT_ONCE)
warnings.filterwarnings("error", category=Image.DecompressionBombWarning)  # Pillow only warns below twice its limit


class PhotoRefused(Exception):
    """A photo or a piece of one that is not taken: HTTP status, code, details."""

    def __init__(self, status: int, code: str, details: Any = None) -> None:
        super().__init__(code)
        self.status = status
        self.code = code
        self.details = details


def draw(source: Path) -> dict[str, bytes]:
    """Size → JPEG, for each of SIZES. Raises PhotoRefused where the file is not a photo within the limits."""
    with _turns, source.open("rb") as file:
        if _webp_pixels(file.read(HEAD)) > MOST_PIXELS:  # Pillow makes room for a WebP when it opens it
            raise PhotoRefused(413, "too_many_pixels")
        file.seek(0)
        try:
            return _drawn(file)
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise PhotoRefused(413, "too_many_pixels") from None
        except (PhotoRefused, MemoryError):
            raise
        except Exception:  # decoders fail in many ways: OSError, SyntaxError, ValueError, EOFError, struct.error ...
            raise PhotoRefused(415, "not_a_photo") from None


def _drawn(file: Any) -> dict[str, bytes]:
    with Image.open(file, formats=KINDS) as found:
        if found.width * found.height > MOST_PIXELS:
            raise PhotoRefused(413, "too_many_pixels")
        found.draft("RGB", (SIZES["large"], SIZES["large"]))  # a JPEG is decoded no larger than needed
        upright = ImageOps.exif_transpose(found)
        upright.thumbnail((SIZES["large"], SIZES["large"]), Image.Resampling.LANCZOS)
    made = {}
    for size, side in SIZES.items():  # the largest comes first
        clean = _on_white(upright)
        clean.thumbnail((side, side), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        clean.save(out, "JPEG", quality=QUALITY, optimize=True)
        made[size] = out.getvalue()
    return made


def _on_white(picture: Image.Image) -> Image.Image:
    """The pixels alone, on a new picture, so that nothing else comes along."""
    clean = Image.new("RGB", picture.size, "white")
    layered = picture.convert("RGBA")
    clean.paste(layered, mask=layered.getchannel("A"))
    return clean


def _webp_pixels(head: bytes) -> int:
    """The pixels that a WebP file says to have, from its first HEAD bytes; 0 for any other file.

    Source: RFC 9649, sections 2.5 to 2.7 (VP8, VP8L, VP8X headers), from memory.
    """
    if len(head) < HEAD or head[:4] != b"RIFF" or head[8:12] != b"WEBP":
        return 0
    if head[12:16] == b"VP8X":
        return (1 + int.from_bytes(head[24:27], "little")) * (1 + int.from_bytes(head[27:30], "little"))
    if head[12:16] == b"VP8L":
        bits = int.from_bytes(head[21:25], "little")
        return (1 + (bits & 0x3FFF)) * (1 + (bits >> 14 & 0x3FFF))
    if head[12:16] == b"VP8 ":
        return (int.from_bytes(head[26:28], "little") & 0x3FFF) * (int.from_bytes(head[28:30], "little") & 0x3FFF)
    return 0
