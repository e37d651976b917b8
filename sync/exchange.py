"""Push, pull, fetch; each a single transaction or a read that cannot miss anything.

Promises: a receipt "stored" means on disk; the same change again gets the same receipt; the same id with other
content is kept raw and raised; one bad change never stops another; a pull costs what changed, not what exists.
Whether a change makes sense is the business of `accept`, which comes as an argument and runs before the transaction.
"""

import datetime
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, NamedTuple

from . import merge
from .change import Change, IsPlain, Pen, Refused, content_hash, identity_in, is_hash, make_change, read, to_text
from .log import STANDING, Store, next_chain, next_held_chain, snapshot_of, snapshot_text

Accept = Callable[[Change], str | None]
Carried = Callable[[str, str, dict[str, Any]], bool]
Receipt = dict[str, Any]
Place = dict[str, Any]
Reference = tuple[str, str, str]  # target, field, record

PAGE_RECORDS = 1_000
PAGE_CHARACTERS = 4_000_000

# Reasons that lie in the device and not in the change: shut out by the desk; named by a file, and not known here.
SHUT = ("device_revoked", "device_unknown")

class Entry(NamedTuple):
    """What one change made at the server itself is to say; replaces: the ids that stood on that person's screen."""

    record: str
    answers: Mapping[str, Any]
    replaces: Mapping[str, Iterable[str]]
    basis: Mapping[str, Any] | None = None


@dataclass(slots=True)
class Arrival:
    """One text as it came in, with what was found out before the transaction."""

    text: str
    stated_hash: str
    hash: str
    identity: str
    change: Change | None
    reason: str | None


def push(store: Store, device: str, texts: Sequence[str], hashes: Sequence[str], accept: Accept | None = None, *,
         is_plain: IsPlain | None = None, shut: str | None = None) -> list[Receipt]:
    """One receipt for each text, in the order sent, after the commit.

    {"id", "hash" as stated, "status": "stored"|"held", "position": n or None, "reason": code or None}, and for the
    caller "record" and "is_new".
    accept(change) returns None or the code of a reason to hold it; it is not asked where is_plain (change.check) says yes.
    shut: one of SHUT, for which all is held that is not stored already. Raises log.Unavailable: nothing is stored then.
    """
    arrivals = [arrive(store, text, stated, accept, is_plain, shut) for text, stated in zip(texts, hashes, strict=True)]
    if not arrivals:
        return []
    with store.writing() as counter:
        return store_arrivals(store, counter, device, arrivals)


def arrive(store: Store, text: str, stated_hash: str, accept: Accept | None, is_plain: IsPlain | None = None,
           shut: str | None = None) -> Arrival:
    """What can be said about a text without the database: its change, or the reason to hold it."""
    found = content_hash(text)
    stated_hash = stated_hash if is_hash(stated_hash) else ""
    try:
        change, is_known = read(text, store.newest_schema, is_plain)
    except Refused as refusal:
        reason = refusal.code if found == stated_hash else "hash_mismatch"
        return Arrival(text, stated_hash, found, identity_in(text), None, shut or reason)
    identity = change["id"]
    if shut:
        return Arrival(text, stated_hash, found, identity, change, shut)
    if found != stated_hash:
        return Arrival(text, stated_hash, found, identity, None, "hash_mismatch")
    return Arrival(text, stated_hash, found, identity, change, None if is_known or accept is None else accept(change))


def store_arrivals(store: Store, counter: SimpleNamespace, device: str, arrivals: list[Arrival]) -> list[Receipt]:
    known = {row[0]: (row[1], row[2]) for row in
             store.rows_of("SELECT id, hash, position FROM change_log", "id",
                           (a.identity for a in arrivals if a.identity))}
    now = time_text()
    receipts: list[Receipt] = []
    log_rows: list[tuple[Any, ...]] = []
    held: list[Arrival] = []
    of_record: dict[str, list[tuple[int, Change]]] = {}
    for arrival in arrivals:
        change = arrival.change
        reason = arrival.reason
        position = None
        is_new = False
        stored_hash, stored_position = known.get(arrival.identity, (None, None))
        # what is stored is confirmed for good: also by a program that was put back a version and would not take it now
        is_stored = stored_hash == arrival.hash == arrival.stated_hash
        if is_stored or (change is not None and stored_hash is not None):
            if stored_hash != arrival.hash:
                reason = "other_content"
            elif reason not in SHUT:
                reason, position = None, stored_position
        elif change is not None and reason is None:
            counter.position += 1
            counter.chain = next_chain(counter.chain, arrival.identity, arrival.hash)
            counter.lamport = max(counter.lamport, change["lamport"])
            position, is_new = counter.position, True
            known[arrival.identity] = (arrival.hash, position)
            log_rows.append((position, arrival.identity, arrival.hash, counter.chain, change["record"], change["kind"],
                             device, now, arrival.text))
            of_record.setdefault(change["record"], []).append((position, change))
        if reason is not None and not (reason in SHUT and stored_hash == arrival.hash):
            arrival.reason = reason
            held.append(arrival)
        receipts.append({"id": arrival.identity or None, "hash": arrival.stated_hash, "position": position,
                         "status": "held" if reason else "stored", "reason": reason, "is_new": is_new,
                         "record": change["record"] if change is not None else None})
    store.write_many("INSERT INTO change_log (position, id, hash, chain, record, kind, device, received_at, body) "
                     "VALUES (?,?,?,?,?,?,?,?,?)", log_rows)
    _merge(store, of_record)
    _hold(store, counter, device, held, now)
    _resolve(store, [(row[1], row[2]) for row in log_rows], now)
    return receipts


def _merge(store: Store, of_record: dict[str, list[tuple[int, Change]]]) -> None:
    """Brings the snapshots up to date: each read once and written once, however many changes it gets."""
    snapshots = {row[0]: snapshot_of(*row) for row in
                 store.rows_of(f"SELECT record, kind, position, json FROM {STANDING}", "record", of_record)}
    rows: list[tuple[Any, ...]] = []
    outdated: list[Reference] = []
    refs: list[Reference] = []
    for record, entries in of_record.items():
        kind = entries[0][1]["kind"]
        snapshot = snapshots.get(record)
        if snapshot is None and len(entries) == 1:  # most of what phones send: it stands in the log and says it all
            position, change = entries[0]
            rows.append((record, kind, position, ""))
            refs.extend((target, field, record) for field in change["set"].keys() & store.ref_fields(kind)
                        for target in targets([{"value": change["set"][field]}]))
            continue
        before = references(store, snapshot) if snapshot is not None else set()
        if snapshot is None:
            snapshot = merge.empty(record, kind)
            snapshot["moved"] = {}
        moved = snapshot["moved"]
        for position, change in entries:
            for field in merge.lay(snapshot, change):
                moved[field] = position
        rows.append((record, kind, max(moved.values(), default=entries[-1][0]), snapshot_text(snapshot)))
        after = references(store, snapshot)
        outdated.extend(before - after)
        refs.extend(after - before)
    store.write_many("INSERT INTO snapshot (record, kind, position, json) VALUES (?,?,?,?) "
                     "ON CONFLICT (record) DO UPDATE SET position = excluded.position, json = excluded.json", rows)
    store.write_many("DELETE FROM ref WHERE target = ? AND field = ? AND record = ?", outdated)
    store.write_many("INSERT INTO ref (target, field, record) VALUES (?,?,?) ON CONFLICT DO NOTHING", refs)


def references(store: Store, snapshot: dict[str, Any]) -> set[Reference]:
    """What the standing answers of a record refer to."""
    return {(target, field, snapshot["record"]) for field in store.ref_fields(snapshot["kind"])
            for target in targets(merge.standing(snapshot, field))}


def targets(answers: list[dict[str, Any]]) -> list[str]:
    """The record ids that the standing answers of a reference field name, each once, sorted."""
    found: set[str] = set()
    for answer in answers:
        value = answer["value"]
        found.update(item for item in (value if isinstance(value, list) else [value]) if isinstance(item, str) and item)
    return sorted(found)


def _hold(store: Store, counter: SimpleNamespace, device: str, held: list[Arrival], now: str) -> None:
    """Keeps what is new under the next number; what is held already only gets its newest reason."""
    known = {(row[0], row[1]) for row in
             store.rows_of("SELECT raw_hash, stated_hash FROM held", "raw_hash", (a.hash for a in held))}
    rows: list[tuple[Any, ...]] = []
    again: list[tuple[str | None, str, str]] = []
    for a in held:
        if (a.hash, a.stated_hash) in known:
            again.append((a.reason, a.hash, a.stated_hash))
            continue
        known.add((a.hash, a.stated_hash))
        counter.held += 1
        counter.held_chain = next_held_chain(counter.held_chain, a.identity, a.stated_hash, a.hash, device, now)
        rows.append((counter.held, a.identity, a.stated_hash, a.hash, a.text.encode("utf-8", "surrogatepass"), device,
                     a.reason, now))
    store.write_many("INSERT INTO held (number, id, stated_hash, raw_hash, body, device, reason, received_at, resolved_at) "
                     "VALUES (?,?,?,?,?,?,?,?,'')", rows)
    store.write_many("UPDATE held SET reason = ? WHERE raw_hash = ? AND stated_hash = ?", again)


def _resolve(store: Store, stored: list[tuple[str, str]], now: str) -> None:
    """Marks held changes that have now been stored, by id and stated hash."""
    if stored and store.rows("SELECT 1 FROM held WHERE resolved_at = '' LIMIT 1"):
        store.write_many("UPDATE held SET resolved_at = ? WHERE resolved_at = '' AND id = ? AND stated_hash = ?",
                         [(now, identity, found) for identity, found in stored])


def touched(receipts: Iterable[Receipt]) -> list[str]:
    """The sorted records that a push has changed: whose verdicts are to be computed again after the commit."""
    return sorted({receipt["record"] for receipt in receipts if receipt["is_new"]})


def pull(store: Store, cursor: Place | None, next_page: str | None = None, limit: int = PAGE_RECORDS,
         carried: Carried | None = None, witness: Place | None = None) -> dict[str, Any]:
    """One page of what changed since the cursor: {"epoch", "cursor", "next", "reset", "records"}.

    A record comes with only those fields whose standing answers changed. "next" is a text while there is more: ask
    again with this page's cursor. "reset": cursor or witness (the furthest place that this device was told of) did not
    fit this log, which was put back, so this page begins anew from nothing.
    carried(kind, record, heads) says whether a device that begins from nothing is given the record; None gives all. What
    changes after this pull began is told of every record: "whole" is false where fields are left out that a device may
    not have.
    """
    with store.working():
        end = store.counter()  # read before the rows: what is committed later is found by the next pull
        is_reset = not (fits(store, cursor, end) and fits(store, witness, end))
        since = 0 if is_reset or cursor is None else cursor["position"]
        # fields are sent from where the first page of this pull began: a record that stands beyond a page's end would
        # else lose what moved in it before that end. What moved since then may have been on an earlier page already, so
        # it is told of, carried or not
        began, until = since, end["position"]
        if not is_reset and cursor is not None and cursor.get("since") is not None:
            began, until = cursor["since"], cursor.get("until") or since
        rows = store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE position > ? "
                          "ORDER BY position LIMIT ?", (since, limit + 1))
        page, characters = [], 0
        for row in rows[:limit]:
            page.append(row)
            characters += len(row[3])
            if characters > PAGE_CHARACTERS:
                break
        is_more = len(page) < len(rows)
        place = place_of(end)
        if is_more:
            place.update(position=page[-1][2], chain=store.chain_at(page[-1][2]), since=began,
                         until=until)
    records = []
    for row in page:
        record, kind, position, _text = row
        snapshot = snapshot_of(*row)
        heads = snapshot["heads"]
        if carried is not None and not began and position <= until and not carried(kind, record, heads):
            continue
        answered = len(heads)
        if began:
            moved = snapshot["moved"]
            heads = {field: answers for field, answers in heads.items() if moved.get(field, 0) > began}
        records.append({"record": record, "kind": kind, "heads": heads, "whole": len(heads) == answered})
    return {"epoch": end["epoch"], "cursor": place, "next": "more" if is_more else None, "reset": is_reset,
            "records": records}


def fits(store: Store, place: Place | None, end: dict[str, Any] | None = None) -> bool:
    """Whether a place is one of this log: same epoch, same chain at that position, its last hold known. None fits always."""
    if place is None:
        return True
    found = end if end is not None else store.counter()
    return bool(place["epoch"] == found["epoch"] and place["position"] <= found["position"]
                and store.chain_at(place["position"]) == place["chain"] and store.has_held(place.get("held") or ""))


def place_of(counter: dict[str, Any]) -> Place:
    """The place at which the log ends."""
    return {name: counter[name] for name in ("epoch", "position", "chain", "held")}


def fetch(store: Store, records: Iterable[str]) -> dict[str, Any]:
    """{"records": [...]} as in a pull, whole, for those of the records that exist, in the order asked for."""
    found = store.snapshots(records)
    return {"records": [{"record": record, "kind": found[record]["kind"], "heads": found[record]["heads"]}
                        for record in dict.fromkeys(records) if record in found]}


def write(store: Store, pen: Pen, record: str, answers: Mapping[str, Any], by: str, *,
          replaces: Mapping[str, Iterable[str]], basis: Mapping[str, Any] | None = None,
          accept: Accept | None = None) -> Receipt:
    """The receipt of a change made at the server itself, as a desk does; pen: one for each process.

    replaces: the ids that stood on that person's screen, as the form hands them back. Raises change.Refused for a shape
    that no device could send.
    """
    text = _written(store, pen, Entry(record, answers, replaces, basis), by)
    return push(store, pen.device, [text], [content_hash(text)], accept)[0]


def write_all(store: Store, pen: Pen, entries: Iterable[Entry], by: str, accept: Accept | None = None) -> list[Receipt]:
    """Receipts of several changes of one decision: stored in one transaction, all of them or none.

    Raises change.Refused also where accept would hold one of them: half a decision says something else than the whole.
    """
    texts = [_written(store, pen, entry, by) for entry in entries]
    arrivals = [arrive(store, text, content_hash(text), accept) for text in texts]
    for arrival in arrivals:
        if arrival.reason is not None:
            raise Refused(arrival.reason, arrival.identity)
    with store.writing() as counter:
        return store_arrivals(store, counter, pen.device, arrivals)


def _written(store: Store, pen: Pen, entry: Entry, by: str) -> str:
    """The text of a change that is made at the server itself, after all that it has seen."""
    change = make_change(pen.next_id(), entry.record, entry.answers, lamport=store.counter()["lamport"] + 1, at=time_text(),
                         by=by, replaces=entry.replaces, basis=entry.basis, schema=store.newest_schema)
    return to_text(change)


def time_text() -> str:
    """Now, as text, in UTC, to the millisecond."""
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
