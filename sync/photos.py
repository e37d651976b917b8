"""Photos, addressed by the SHA-256 of the device's bytes: taken in pieces, checked, kept once, shown only re-encoded.

Promises: a piece is on disk before it is confirmed; a photo is `complete` only after its whole hash was right and it
could be decoded, and then it is on disk for good, by an atomic rename; a cut leaves what was confirmed and nothing
half. What is shown is drawn anew from the pixels, so neither position nor anything else that was in the file leaves.
Refuses: other types, other hashes, too many bytes or pixels (before decoding), a device beyond its quota.

Folder: `ab/abcd...` the originals, `partial/DEVICE/HASH`, `shown/ab/HASH.SIZE.jpg` (can be made again at any time),
`sent/DEVICE` one line a photo. Every name is made here. Needs Pillow, and knows nothing of changes.
"""

import contextlib
import fcntl
import hashlib
import os
import re
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from . import pictures
from .pictures import SIZES, PhotoRefused

LARGEST_BYTES = 10 * 2**20
LARGEST_PIECE = 2**20
QUOTA_BYTES = 500 * 2**20  # what one device may send in QUOTA_SECONDS
QUOTA_SECONDS = 86_400
MOST_PARTIAL = 200
PARTIAL_SECONDS = 30 * 86_400

_is_hash = re.compile(r"[0-9a-f]{64}").fullmatch
_is_device = re.compile(r"[A-Za-z0-9_-]{1,64}").fullmatch
_range = re.compile(r"bytes (\d{1,12})-(\d{1,12})/(\d{1,12})", re.ASCII).fullmatch


class Photos:
    """The photos of one shop, in one folder. Any number of processes may use it at once."""

    def __init__(self, folder: Path, *, quota_bytes: int = QUOTA_BYTES) -> None:
        self.folder = folder
        self.quota_bytes = quota_bytes

    def has(self, name: str) -> bool:
        """Whether this photo is here, whole."""
        return self._original(name).is_file()

    def names(self) -> Iterator[str]:
        """The hashes of all whole photos, sorted."""
        for part in sorted(self.folder.glob("[0-9a-f][0-9a-f]")):
            yield from sorted(path.name for path in part.iterdir() if _is_hash(path.name))

    def damaged(self) -> list[str]:
        """The hashes of photos whose bytes are not those of their name any more."""
        return [name for name in self.names() if _digest(self._original(name)) != name]

    def state(self, device: str, name: str) -> dict[str, Any]:
        """{"sha256", "offset", "complete"}: how far this device has come with a photo."""
        whole = self._original(name)
        if whole.is_file():
            return {"sha256": name, "offset": whole.stat().st_size, "complete": True}
        partial = self._partial(device, name)
        return {"sha256": name, "offset": partial.stat().st_size if partial.is_file() else 0, "complete": False}

    def take(self, device: str, name: str, content_range: str | None, body: bytes) -> dict[str, Any]:
        """The state after one more piece; with the last one the photo is checked and kept. Raises PhotoRefused."""
        start, total = _place(content_range, body)
        try:
            if self.has(name):
                return self.state(device, name)
            self._admit(device, name, len(body))
            partial = self._partial(device, name)
            partial.parent.mkdir(parents=True, exist_ok=True)
            with partial.open("ab") as file:
                fcntl.flock(file, fcntl.LOCK_EX)  # one piece at a time, whichever process has it
                if self.has(name):  # it was finished while we waited, and this file is no longer what it was
                    return self.state(device, name)
                offset = os.fstat(file.fileno()).st_size
                if start > offset:
                    raise PhotoRefused(409, "wrong_offset", {"offset": offset})
                _write_from(file.fileno(), start, body)
                if start + len(body) == total:
                    self._finish(device, name, partial)
            return self.state(device, name)
        except (OSError, MemoryError) as trouble:
            raise PhotoRefused(503, "unavailable") from trouble

    def picture(self, name: str, size: str) -> bytes | None:
        """The re-encoded JPEG of a photo in one of SIZES; None where the photo is not here."""
        shown = self._shown(name, size)
        if not shown.is_file():
            whole = self._original(name)
            if not whole.is_file():
                return None
            self._draw(name, whole)
        return shown.read_bytes()

    def _finish(self, device: str, name: str, partial: Path) -> None:
        """Checks a photo that has all of its bytes and puts it in its place; a wrong one is dropped."""
        try:
            if _digest(partial) != name:
                raise PhotoRefused(422, "wrong_hash")
            self._draw(name, partial)
        except PhotoRefused:
            partial.unlink()
            raise
        size = partial.stat().st_size
        whole = self._original(name)
        whole.parent.mkdir(parents=True, exist_ok=True)
        partial.replace(whole)
        try:
            for folder in (whole.parent, self.folder):  # the photo's name, and its folder's, which may be new
                _sync_folder(folder)
        except OSError:
            whole.replace(partial)  # else it would be told as complete when it is asked for again
            raise
        sent = self.folder / "sent" / device
        sent.parent.mkdir(exist_ok=True)
        with sent.open("a") as file:
            file.write(f"{name} {size} {int(time.time())}\n")

    def _draw(self, name: str, source: Path) -> None:
        for size, drawn in pictures.draw(source).items():
            shown = self._shown(name, size)
            shown.parent.mkdir(parents=True, exist_ok=True)
            fresh = shown.with_suffix(f".{os.getpid()}.new")
            fresh.write_bytes(drawn)
            fresh.replace(shown)

    def _admit(self, device: str, name: str, more: int) -> None:
        """Raises PhotoRefused where a device has sent enough; half photos of long ago are forgotten first.

        One that is begun may always be ended, and what was begun counts on the day of its last piece only: else a device
        that has begun too many could send nothing before they are forgotten.
        """
        now = time.time()
        used, others = more, 0
        for partial in self._partial(device, name).parent.glob("*"):
            with contextlib.suppress(FileNotFoundError):  # another request has just finished it
                found = partial.stat()
                if found.st_mtime < now - PARTIAL_SECONDS:
                    partial.unlink()
                    continue
                used += found.st_size if found.st_mtime > now - QUOTA_SECONDS else 0
                others += partial.name != name
        sent = self.folder / "sent" / device
        for line in sent.read_text().splitlines() if sent.is_file() else ():
            _name, size, at = line.split()
            used += int(size) if int(at) > now - QUOTA_SECONDS else 0
        is_begun = self._partial(device, name).is_file()
        if used > self.quota_bytes or (others >= MOST_PARTIAL and not is_begun):
            raise PhotoRefused(429, "photo_quota", {"quota": self.quota_bytes})

    def _original(self, name: str) -> Path:
        if not _is_hash(name):
            raise PhotoRefused(400, "bad_photo")
        return self.folder / name[:2] / name

    def _partial(self, device: str, name: str) -> Path:
        if not _is_device(device):
            raise PhotoRefused(400, "bad_photo")
        return self.folder / "partial" / device / name

    def _shown(self, name: str, size: str) -> Path:
        if not _is_hash(name) or size not in SIZES:
            raise PhotoRefused(400, "bad_photo")
        return self.folder / "shown" / name[:2] / f"{name}.{size}.jpg"


def _place(content_range: str | None, body: bytes) -> tuple[int, int]:
    """(first byte, bytes of the whole photo) of a piece, from its Content-Range (RFC 9110, 14.4)."""
    found = _range(content_range or "")
    if found is None:
        raise PhotoRefused(400, "bad_range")
    first, last, total = (int(text) for text in found.groups())
    if total > LARGEST_BYTES:
        raise PhotoRefused(413, "photo_too_large", {"bytes": total, "largest": LARGEST_BYTES})
    if len(body) > LARGEST_PIECE:
        raise PhotoRefused(413, "piece_too_large", {"bytes": len(body), "largest": LARGEST_PIECE})
    if not first <= last < total:
        raise PhotoRefused(400, "bad_range")
    if len(body) != last + 1 - first:
        raise PhotoRefused(400, "body_cut", {"bytes": len(body), "stated": last + 1 - first})
    return first, total


def _write_from(number: int, start: int, body: bytes) -> None:
    """Writes a piece through to the disk from `start` on, in the place of what may stand there; whole or not at all."""
    os.ftruncate(number, start)
    try:
        rest = memoryview(body)
        while rest:
            rest = rest[os.write(number, rest):]
        os.fsync(number)
    except OSError:
        os.ftruncate(number, start)
        raise


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sync_folder(folder: Path) -> None:
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def error(refused: PhotoRefused) -> dict[str, Any]:
    """The one shape of errors."""
    return {"error": {"code": refused.code, "text": pictures.SENTENCES[refused.code], "details": refused.details}}


def missing(photos: Photos, names: Iterable[str]) -> list[str]:
    """Those of the named photos that are not here, in their order, each once."""
    return [name for name in dict.fromkeys(names) if not photos.has(name)]
