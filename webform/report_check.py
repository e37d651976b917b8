"""Proves the issued reports of a store: each says what was sealed, none is missing between two, no withdrawn link is open.

Finds what was edited, deleted, added or reordered with other means than this program. Who makes every seal and the whole
chain anew is found by the papers out there, whose line `ashbook verify --paper` compares.
"""

import json
import re
from collections.abc import Iterator

from sync import keep
from sync.log import FIRST_CHAIN, Store, next_chain
from sync.verify import Report

from .issued import Issued, sealed
from .lasting import Lasting
from .sealing import is_sealed

PAPER = re.compile(r"([0-9]{4}-[0-9]{4,}(?:-[0-9A-Z]{4})?)/([0-9]{1,15}):([0-9a-f-]{4,})(?:/([0-9a-f-]{4,}))?").fullmatch
SHORTEST_PROOF = 12  # digits of a chain or a seal that make a comparison worth its word


class UnreadablePaper(Exception):
    """This is not the line of a paper."""


def check(store: Store, lasting: Lasting, report: Report) -> None:
    """Puts what is wrong with the reports of a store into the report on it; none are made, so a store as found will do."""
    report.counts["reports"] = 0
    if not store.has_table("report_seal"):
        return
    with keep.reading(store):
        issued = Issued(store, lasting, is_as_found=True)
        found = issued.where("1 = 1 ORDER BY serial, year, count")
        report.counts["reports"] = len(found)
        here = {entry["number"] for entry in found}
        for code, where in _wrong(store, found):
            report.found(code, where)
        for serial, number in store.rows("SELECT serial, number FROM report_seal ORDER BY serial"):
            if number not in here:
                report.found("report_missing", f"report {number} (the {serial}. that was issued)")
        for digest, number, withdrawn_at in store.rows_of("SELECT digest, number, withdrawn_at FROM report_link", "digest",
                                                          lasting.withdrawn()):
            if not withdrawn_at:
                report.found("link_reopened", f"a link to report {number} ({digest[:12]})")


def _wrong(store: Store, found: list[dict]) -> Iterator[tuple[str, str]]:
    epoch = store.counter()["epoch"]
    last, chain, newest = 0, FIRST_CHAIN, {}
    chains = dict(store.rows("SELECT number, chain FROM report_seal"))
    for entry in found:
        newest[entry["job"]] = entry["number"]
    for entry in found:
        where = f"report {entry['number']}"
        if entry["serial"] is None:
            yield "report_unsealed", where
            continue
        chain = next_chain(chain, entry["number"], entry["seal"])
        if entry["serial"] != last + 1 or chain != chains[entry["number"]]:
            yield "report_chain_broken", where
        last, chain = entry["serial"], chains[entry["number"]]  # the next break is told once, at its own place
        if not is_sealed(sealed(entry), entry["opening"], entry["seal"]):
            yield "report_altered", where
        if entry["place_chain"] and entry["epoch"] == epoch and store.chain_at(entry["place"]) != entry["place_chain"]:
            yield "report_place_differs", where
        if bool(entry["replaced_by"]) == (newest[entry["job"]] == entry["number"]):
            yield "report_replaced_wrongly", where


def compare(store: Store, lasting: Lasting, line: str, report: Report) -> None:
    """Compares the books with the line of one paper, NUMBER/POSITION:CHAIN or with /SEAL; raises UnreadablePaper."""
    read = PAPER("".join(line.split()))
    if read is None:
        raise UnreadablePaper(line)
    number, position, chain, seal = read.group(1), int(read.group(2)), *(
        (text or "").replace("-", "") for text in (read.group(3), read.group(4)))
    if len(chain) < SHORTEST_PROOF or 0 < len(seal) < SHORTEST_PROOF:
        raise UnreadablePaper(line)
    where = f"the paper of report {number}"
    if not (store.chain_at(position) or "").startswith(chain):
        report.found("paper_place_differs", where)
    found = Issued(store, lasting, is_as_found=True).find(number) if store.has_table("report_seal") else None
    if found is None:
        report.found("paper_unknown", where)
    elif not found["seal"].startswith(seal) or (found["place"], found["place_chain"][:len(chain)]) != (position, chain):
        report.found("paper_differs", where)


def emptied(store: Store) -> set[int]:
    """The numbers of held changes that were emptied with a person's record, as far as the store knows."""
    if not store.has_table("erasure"):
        return set()
    return {number for (held,) in store.rows("SELECT held FROM erasure") for number in json.loads(held)}

