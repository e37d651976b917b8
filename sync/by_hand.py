"""An outbox that travels as a file, because there is no network: read, and taken in with the receipts of a push.

Promises: the same changes may come by file and by wire, in any order and any number, and are stored once; what is no such
file is refused whole with a code, and nothing of it is stored. Version 1 is one JSON object. Version 2 is such an object in
the first line, which also lists photos, and behind that line the bytes of these (photos_by_hand.py takes them).
"""

from collections.abc import Sequence
from typing import IO, Any, NamedTuple

from marshmallow import ValidationError

from .exchange import SHUT, Accept, Receipt, push
from .json_text import Refused, strict_json
from .log import Store
from .shapes import LARGEST_BODY, MOST_CHANGES, OutboxFile

WITH_PHOTOS = 2
FORMATS = (1, WITH_PHOTOS)
LARGEST_FILE = 200 * 2**20


class NotTaken(ValueError):
    """What was handed over is not an outbox that can be read; `code` says why."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


class Carried(NamedTuple):
    """What a file says. photos: (SHA-256, bytes) of each, in the order in which they follow."""

    device: str
    texts: list[str]
    hashes: list[str]
    photos: list[tuple[str, int]]


def read(file: IO[bytes]) -> Carried:
    """What a file says; the next byte that is read from it is then the first of its photos. Raises NotTaken."""
    head = file.read(LARGEST_BODY + 1)
    line = head.partition(b"\n")[0]
    said = _first_line(line)
    if said is None:
        if len(head) > LARGEST_BODY:
            raise NotTaken("too_large")
        said = _json(head)
    try:
        found = OutboxFile().load(said)
    except ValidationError:
        raise NotTaken("foreign") from None
    if found["ashbook_outbox"] not in FORMATS:
        raise NotTaken("other_version")
    if len(found["changes"]) != len(found["hashes"]):
        raise NotTaken("damaged")
    has_photos = found["ashbook_outbox"] == WITH_PHOTOS
    if has_photos:
        file.seek(len(line) + 1)
    photos = [(photo["sha256"], photo["bytes"]) for photo in found["photos"]] if has_photos else []
    return Carried(found["device"], found["changes"], found["hashes"], photos)


def _first_line(line: bytes) -> dict[str, Any] | None:
    """What the first line says where the file is of version 2 or newer; None where all of the file is one JSON text."""
    try:
        said = _json(line) if len(line) <= LARGEST_BODY else None
    except NotTaken:
        return None
    return said if isinstance(said, dict) and said.get("ashbook_outbox") not in (None, 1) else None


def _json(text: bytes) -> Any:
    try:
        return strict_json(text.decode("utf-8-sig"))
    except (UnicodeDecodeError, Refused):
        raise NotTaken("not_json") from None


def take(store: Store, device: str, texts: Sequence[str], hashes: Sequence[str], accept: Accept | None = None,
         shut: str | None = None) -> list[Receipt]:
    """Receipts as of a push of that device; shut: the reason for which everything new is held, None for an enrolled one.

    Who reads the file may know what a device that was shut out may not: which of its changes are stored already.
    """
    receipts: list[Receipt] = []
    for start in range(0, len(texts), MOST_CHANGES):
        part = slice(start, start + MOST_CHANGES)
        receipts.extend(push(store, device, texts[part], hashes[part], accept, shut=shut))
    with store.working():
        known = {row[0]: (row[1], row[2]) for row in store.rows_of(
            "SELECT id, hash, position FROM change_log", "id", (one["id"] for one in receipts if one["reason"] in SHUT))}
    for receipt in receipts:
        stored_hash, position = known.get(receipt["id"], (None, None))
        if receipt["hash"] == stored_hash:
            receipt.update(status="stored", position=position, reason=None)
    return receipts
