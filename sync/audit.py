"""The log as it is stored, page by page, and a store made from such pages alone.

Promises: texts are handed out verbatim; a store that was made from the pages holds the same log, records and references,
byte for byte, and refuses pages whose positions, hashes or chain do not follow from each other.
"""

import json
from collections.abc import Iterable
from typing import Any

from . import exchange
from .change import Change, content_hash
from .log import Store, next_chain

PAGE_CHANGES = 2_000
PAGE_CHARACTERS = 4_000_000

NAMES = ("position", "id", "hash", "chain", "record", "device", "received_at", "text")


class Unsound(ValueError):
    """An entry that does not follow from the ones before it, or whose text is not the one that its hash was made of."""


def changes(store: Store, cursor: exchange.Place | None) -> dict[str, Any]:
    """One page of the log after a place: {"epoch", "cursor", "next", "reset", "lamport", "changes"}; text None if erased.

    reset: the place is not one of this log, so this page begins with its first change.
    """
    with store.working():
        end = store.counter()  # before the rows: what is committed later comes with the next page
        is_reset = not exchange.fits(store, cursor, end)
        after = 0 if is_reset or cursor is None else cursor["position"]
        rows = store.rows("SELECT position, id, hash, chain, record, device, received_at, body FROM change_log "
                          "WHERE position > ? AND position <= ? ORDER BY position LIMIT ?",
                          (after, end["position"], PAGE_CHANGES))
    page, characters = [], 0
    for row in rows:
        page.append(dict(zip(NAMES, row, strict=True)))
        characters += len(row[7] or "")
        if characters > PAGE_CHARACTERS:
            break
    place = exchange.place_of(end)
    if page:
        place.update(position=page[-1]["position"], chain=page[-1]["chain"])
    return {"epoch": end["epoch"], "cursor": place, "next": "more" if place["position"] < end["position"] else None,
            "reset": is_reset, "lamport": end["lamport"], "changes": page}


def rebuild(store: Store, pages: Iterable[dict[str, Any]]) -> None:
    """Fills an empty store with the pages of a log, from its beginning; raises Unsound, then that page is not kept.

    The store keeps its own epoch, so that every device that meets it offers its confirmed changes again.
    """
    for page in pages:
        with store.writing() as counter:
            rows: list[tuple[Any, ...]] = []
            of_record: dict[str, list[tuple[int, Change]]] = {}
            for entry in page["changes"]:
                where = f"change {entry['position']} ({entry['id']})"
                chain = next_chain(counter.chain, entry["id"], entry["hash"])
                if entry["position"] != counter.position + 1 or entry["chain"] != chain:
                    raise Unsound(f"{where} does not follow from the change before it")
                counter.position, counter.chain = entry["position"], chain
                if entry["text"] is not None:
                    if content_hash(entry["text"]) != entry["hash"]:
                        raise Unsound(f"the text of {where} is not the one that was accepted")
                    change = json.loads(entry["text"])
                    if (change["id"], change["record"]) != (entry["id"], entry["record"]):
                        raise Unsound(f"the text of {where} tells of another change")
                    of_record.setdefault(entry["record"], []).append((entry["position"], change))
                rows.append((entry["position"], entry["id"], entry["hash"], chain, entry["record"],
                             entry["record"].partition(":")[0], entry["device"], entry["received_at"], entry["text"]))
            store.write_many("INSERT INTO change_log (position, id, hash, chain, record, kind, device, received_at, body) "
                             "VALUES (?,?,?,?,?,?,?,?,?)", rows)
            exchange._merge(store, of_record)
            counter.lamport = max(counter.lamport, page["lamport"])
