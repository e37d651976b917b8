"""Proves a store: the log's order and chain, every stored text's hash, and that all records are what the log makes of them.

Finds what was edited, deleted, added, reordered or cut off with other means than this program, and what a disk has spoilt.
Not covered by any hash: which device handed a stored change in and when it came. An end that was cut off together with
everything that tells of it shows only against a place kept elsewhere: a phone's cursor, or a backup's.
"""

import hashlib
import json
from collections.abc import Collection, Iterable
from typing import Any, NamedTuple

from . import merge
from .exchange import Reference, references
from .keep import PAGE, change_in, pages, reading
from .log import CHUNK, FIRST_CHAIN, STANDING, Store, Unavailable, next_chain, next_held_chain, snapshot_of

# What a rebuild from a sound log makes good again.
DERIVED = frozenset(("record_differs", "record_missing", "references_differ"))


class Problem(NamedTuple):
    """What is wrong, as a code, and where."""

    code: str
    where: str


class Report:
    """What was looked at, and what was found."""

    def __init__(self) -> None:
        self.counts = {"changes": 0, "texts": 0, "erased": 0, "records": 0, "held": 0}
        self.problems: list[Problem] = []

    def found(self, code: str, where: object) -> None:
        """Notes a problem."""
        self.problems.append(Problem(code, str(where)))


def verify(store: Store, emptied: Collection[int] = ()) -> Report:
    """The report on a store, as it is at one moment; others may write on meanwhile.

    emptied: the numbers of held changes whose text was erased with a person's record; any other empty one is a finding.
    """
    report = Report()
    try:
        with reading(store):
            if not store.is_postgresql:
                for (text,) in store.rows("PRAGMA integrity_check"):
                    if text != "ok":
                        report.found("file_damaged", text)
            _check_log(store, report)
            _check_records(store, report)
            _check_held(store, report, emptied)
    except Unavailable as trouble:
        report.found("unreadable", str(trouble).splitlines()[0])
    return report


def _check_log(store: Store, report: Report) -> None:
    last, chain = 0, FIRST_CHAIN
    for page in pages(store, "SELECT position, id, hash, chain, record, kind, body FROM change_log", "position", -2**62):
        for position, identity, found_hash, found_chain, record, kind, body in page:
            where = f"change {position} ({identity})"
            if position != last + 1:
                report.found("not_gap_free", where)
            chain = next_chain(chain, identity, found_hash)
            if chain != found_chain:
                report.found("chain_broken", where)
            last, chain = position, found_chain  # the next break is told once, at its own place
            report.counts["changes"] += 1
            _check_text(store, report, where, (identity, found_hash, record, kind, body))
    if store.rows("SELECT position, chain FROM counter WHERE number = 1") != [(last, chain)]:
        report.found("end_differs", f"the log ends at {last}")


def _check_text(store: Store, report: Report, where: str, row: tuple[str, str, str, str, str | None]) -> None:
    identity, found_hash, record, kind, body = row
    if body is None:
        report.counts["erased"] += 1
        if kind not in store.personal:
            report.found("text_missing", where)
        return
    report.counts["texts"] += 1
    change = change_in(body, found_hash)
    if change is None:
        report.found("text_altered", where)
    elif (change["id"], change["record"], change["kind"]) != (identity, record, kind):
        report.found("row_altered", where)


def _check_records(store: Store, report: Report) -> None:
    count = 0  # of references that stand rightly
    for page in pages(store, f"SELECT record, kind, position, json FROM {STANDING}", "record", ""):
        names = [row[0] for row in page]
        logged: dict[str, list[Any]] = {name: [] for name in names}
        for record, *row in store.rows_of("SELECT record, position, hash, body FROM change_log", "record", names):
            logged[record].append(row)
        referred: set[Reference] = set()
        for record, kind, position, text in page:
            report.counts["records"] += 1
            made = rebuilt(record, kind, logged[record])
            if not _is_as_made(record, kind, position, text, made, any(row[2] is None for row in logged[record])):
                report.found("record_differs", record)
            referred |= references(store, made)
        missing = referred - _noted(store, sorted(referred))
        count += len(referred) - len(missing)
        for record in sorted({record for _target, _field, record in missing}):
            report.found("references_differ", record)
    for (record,) in store.rows("SELECT DISTINCT record FROM change_log WHERE body IS NOT NULL AND NOT EXISTS "
                                "(SELECT 1 FROM snapshot WHERE snapshot.record = change_log.record)"):
        report.found("record_missing", record)
    if store.rows("SELECT COUNT(*) FROM ref") != [(count,)]:
        _name_stray_references(store, report)


def _noted(store: Store, wanted: list[Reference]) -> set[Reference]:
    """Those of the references that the index of them holds."""
    found: set[Reference] = set()
    for start in range(0, len(wanted), CHUNK):
        piece = wanted[start:start + CHUNK]
        asked = ",".join(["(?,?,?)"] * len(piece))
        found.update((target, field, record) for target, field, record in store.rows(
            f"SELECT target, field, record FROM ref WHERE (target, field, record) IN (VALUES {asked})",
            [part for reference in piece for part in reference]))
    return found


def _name_stray_references(store: Store, report: Report) -> None:
    """Tells of every record under whose name a reference stands that the log knows nothing of."""
    beyond, last = ">=", ("", "", "")
    while page := store.rows(f"SELECT target, field, record FROM ref WHERE (target, field, record) {beyond} (?,?,?) "
                             f"ORDER BY target, field, record LIMIT {PAGE}", last):
        beyond, last = ">", page[-1]
        logged: dict[str, list[Any]] = {row[2]: [] for row in page}
        for record, *row in store.rows_of("SELECT record, position, hash, body FROM change_log", "record", logged):
            logged[record].append(row)
        known: set[Reference] = set()
        for record, rows in logged.items():
            known |= references(store, rebuilt(record, record.partition(":")[0], rows))
        for record in sorted({row[2] for row in page if row not in known}):
            report.found("references_differ", record)


def rebuilt(record: str, kind: str, rows: Iterable[Any]) -> dict[str, Any]:
    """The snapshot that the log's rows (position, hash, body) of one record make; an altered text is passed over."""
    snapshot = merge.empty(record, kind)
    snapshot["moved"] = {}
    for position, found_hash, body in sorted(rows):
        change = change_in(body, found_hash)
        if change is not None and change["record"] == record:
            for field in merge.lay(snapshot, change):
                snapshot["moved"][field] = position
    return snapshot


def _is_as_made(record: str, kind: str, position: int, text: str, made: dict[str, Any], has_erased: bool) -> bool:
    """Whether a stored snapshot says what the log makes of it; `moved` may lie later where texts were erased."""
    try:
        stored = snapshot_of(record, kind, position, text)
        moved = stored["moved"]
        if kind != record.partition(":")[0] or any(_plain(stored[part]) != _plain(made[part]) for part in ("heads", "gone")):
            return False
        is_moved_well = moved == made["moved"] or (has_erased and all(
            moved.get(field, 0) >= found for field, found in made["moved"].items()))
        return bool(is_moved_well and position == max(moved.values()))
    except (ValueError, KeyError, TypeError, AttributeError):
        return False


def _plain(lists: dict[str, Any]) -> str:
    """A text that is the same for equal parts of snapshots; a field in which nothing is left says nothing."""
    return json.dumps({field: found for field, found in lists.items() if found}, sort_keys=True)


def _check_held(store: Store, report: Report, emptied: Collection[int]) -> None:
    is_counted = store.version >= 2
    last, chain = 0, FIRST_CHAIN
    for page in pages(store, "SELECT number, id, stated_hash, raw_hash, device, received_at, resolved_at, body FROM held",
                      "number", -2**62):
        stored = dict(store.rows_of("SELECT id, hash FROM change_log", "id", (row[1] for row in page if row[6])))
        for number, identity, stated_hash, raw_hash, device, received_at, resolved_at, body in page:
            where = f"held {number} ({identity or 'no id'})"
            report.counts["held"] += 1
            is_erased = number in emptied and not bytes(body)
            report.counts["erased"] += is_erased
            if hashlib.sha256(bytes(body)).hexdigest()[:32] != raw_hash and not is_erased:
                report.found("held_altered", where)
            if resolved_at and not is_erased and stored.get(identity) != stated_hash:
                report.found("held_hidden", where)
            if is_counted and number != last + 1:
                report.found("held_missing", where)
            last, chain = number, next_held_chain(chain, identity, stated_hash, raw_hash, device, received_at)
    if is_counted and store.rows("SELECT held, held_chain FROM counter WHERE number = 1") != [(last, chain)]:
        report.found("held_end_differs", f"the last held change is {last}")
