"""Forgetting a person: texts that no longer stand are taken out of the log, the chain over ids and hashes stays whole.

Texts of the person that were held go too; the chain over held changes covers their hashes only.
"""

import json
from collections.abc import Iterable, Mapping
from typing import Any

from . import merge
from .change import Change
from .exchange import time_text
from .log import Store, snapshot_text


def erase(store: Store, record: str) -> int:
    """The number of texts erased: those of a personal record whose answers no longer stand.

    Push a change that replaces what stands first, so that every device forgets; the chain stays whole because it
    covers ids and hashes only. Raises ValueError for a record whose kind was not declared personal.
    """
    kind = record.partition(":")[0]
    if kind not in store.personal:
        raise ValueError(f"{kind} is not declared personal, so {record} cannot be erased; void it instead")
    with store.writing():
        snapshot = store.snapshots([record]).get(record)
        if snapshot is None:
            return 0
        standing = {answer["id"] for answers in snapshot["heads"].values() for answer in answers}
        texts = {row[0]: json.loads(row[1]) for row in store.rows(
            "SELECT id, body FROM change_log WHERE record = ? AND body IS NOT NULL", (record,))}
        doomed = sorted(texts.keys() - _needed(texts, standing))
        store.write_many("UPDATE change_log SET body = NULL WHERE id = ?", [(identity,) for identity in doomed])
        _forget_replaced(store, record, snapshot)
    return len(doomed)


def erase_held(store: Store, records: Iterable[str]) -> dict[str, list[int]]:
    """Record → the numbers of its held changes that were emptied; also of those that cannot be read and name it.

    They are over afterwards: no retry stores them. `verify` takes an emptied one as sound only when it is told the number.
    """
    wanted, now = sorted(set(records)), time_text()
    with store.working():
        if not _held_of(store, wanted):  # most often: then nothing has to be written
            return {}
    with store.writing():
        found = _held_of(store, wanted)
        store.write_many("UPDATE held SET body = ?, reason = 'erased', resolved_at = CASE resolved_at WHEN '' THEN ? "
                         "ELSE resolved_at END WHERE number = ?",
                         [(b"", now, number) for numbers in found.values() for number in numbers])
    return found


def _held_of(store: Store, wanted: Iterable[str]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, body in store.rows("SELECT number, body FROM held ORDER BY number"):
        record = _record_in(bytes(body).decode("utf-8", "surrogatepass"), wanted)
        if record is not None:
            found.setdefault(record, []).append(number)
    return found


def texts_of(store: Store, record: str) -> list[str]:
    """What was ever said in a record, as far as the log still holds it, each text once."""
    with store.working():
        bodies = store.rows("SELECT body FROM change_log WHERE record = ? AND body IS NOT NULL ORDER BY position", (record,))
    found = [value for row in bodies for value in json.loads(row[0])["set"].values()]
    return list(dict.fromkeys(value for value in found if isinstance(value, str) and value))


def _record_in(text: str, wanted: Iterable[str]) -> str | None:
    """Which of these records a held text is of; where that cannot be read, the first one that it names at all."""
    try:
        named = json.loads(text)["record"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return next((record for record in wanted if record in text), None)
    return next((record for record in wanted if record == named), None)


def _needed(texts: Mapping[str, Change], standing: set[str]) -> set[str]:
    """The ids of the texts that make what stands, and of those that replace a part of them, which would else stand again."""
    kept = standing & texts.keys()
    while more := {identity for identity in texts.keys() - kept
                   if any(other in kept and field in texts[other]["set"]
                          for field, ids in texts[identity]["replaces"].items() for other in ids)}:
        kept |= more
    return kept


def _forget_replaced(store: Store, record: str, snapshot: dict[str, Any]) -> None:
    """Leaves in the snapshot what the texts that are left say, so that a rebuild from the log gives the same."""
    left = store.rows("SELECT body, position FROM change_log WHERE record = ? AND body IS NOT NULL ORDER BY position",
                      (record,))
    gone = merge.apply_all(merge.empty(record, snapshot["kind"]), [json.loads(row[0]) for row in left])["gone"]
    store.rows("UPDATE snapshot SET json = ? WHERE record = ?", (snapshot_text({**snapshot, "gone": gone}), record))
    if len(left) == 1:  # log.STANDING: it says it all
        store.rows("UPDATE snapshot SET json = '' WHERE record = ? AND position = ?", (record, left[0][1]))
