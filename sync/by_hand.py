"""An outbox that travels as a file, because there is no network: read, and taken in with the receipts of a push.

Promises: the same changes may come by file and by wire, in any order and any number, and are stored once; what is no such
file is refused whole with a code, and nothing of it is stored.
"""

from collections.abc import Sequence

from marshmallow import ValidationError

from .exchange import SHUT, Accept, Receipt, push
from .json_text import Refused, strict_json
from .log import Store
from .shapes import LARGEST_BODY, MOST_CHANGES, OutboxFile

FORMAT = 1


class NotTaken(ValueError):
    """What was handed over is not an outbox that can be read; `code` says why."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def read(body: bytes) -> tuple[str, list[str], list[str]]:
    """(device named, texts, hashes) of a file; raises NotTaken."""
    if len(body) > LARGEST_BODY:
        raise NotTaken("too_large")
    try:
        found = strict_json(body.decode("utf-8-sig"))
    except (UnicodeDecodeError, Refused):
        raise NotTaken("not_json") from None
    try:
        file = OutboxFile().load(found)
    except ValidationError:
        raise NotTaken("foreign") from None
    if file["ashbook_outbox"] != FORMAT:
        raise NotTaken("other_version")
    if len(file["changes"]) != len(file["hashes"]):
        raise NotTaken("damaged")
    return file["device"], file["changes"], file["hashes"]


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
