"""The photos that travel in an outbox file: each gets a receipt of its own, one that is damaged stops no other.

Promises: a photo of a file is checked, counted and kept exactly as one that was uploaded (photos.py), once, however often
and on whichever way it comes; what a cut file still holds whole is taken.
"""

import hashlib
import os
from collections.abc import Iterable
from typing import IO, Any

from .photos import LARGEST_BYTES, LARGEST_PIECE, Photos
from .pictures import PhotoRefused


def take(photos: Photos, device: str, listed: Iterable[tuple[str, int]], file: IO[bytes]) -> list[dict[str, Any]]:
    """{"sha256", "status": "stored" or "refused", "is_new", "reason": code or None} for each, in the order of the file.

    listed: (SHA-256, bytes) as the file says; file: at the first byte of the first. Reasons are those of an upload;
    `body_cut`: the file ends before the photo does.
    """
    place = file.tell()
    end = file.seek(0, os.SEEK_END)
    receipts = []
    for name, size in listed:
        is_new, reason = False, None
        try:
            if not photos.has(name):
                _keep(photos, device, name, _body(file, place, size, end))
                is_new = True
        except PhotoRefused as refused:
            reason = refused.code
        place += size
        receipts.append({"sha256": name, "status": "refused" if reason else "stored", "is_new": is_new, "reason": reason})
    return receipts


def _body(file: IO[bytes], place: int, size: int, end: int) -> bytes:
    """The bytes of a photo that begins at that place of the file."""
    if place + size > end:
        raise PhotoRefused(400, "body_cut", {"bytes": max(0, end - place), "stated": size})
    if size > LARGEST_BYTES:
        raise PhotoRefused(413, "photo_too_large", {"bytes": size, "largest": LARGEST_BYTES})
    file.seek(place)
    return file.read(size)


def _keep(photos: Photos, device: str, name: str, body: bytes) -> None:
    """Takes a whole photo as an upload; one that is damaged drops nothing that its device has uploaded of it."""
    if hashlib.sha256(body).hexdigest() != name:
        raise PhotoRefused(422, "wrong_hash")
    for start in range(0, len(body), LARGEST_PIECE):
        piece = body[start:start + LARGEST_PIECE]
        photos.take(device, name, f"bytes {start}-{start + len(piece) - 1}/{len(body)}", piece)
