"""Proves the issued reports of a store: each says what was sealed, none is missing between two, no withdrawn link is open.

Finds what was edited, deleted, added or reordered with other means than this program. Who makes every seal and the whole
chain anew is found by the papers out there, whose line `ashbook verify --paper` compares.
"""

import json
import re

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
        numbers = _check_contents(store, Issued(store, lasting, is_as_found=True), report)
        _check_chain(store, numbers, report)
        _check_replacing(store, report)
        for digest, number, withdrawn_at in store.rows_of("SELECT digest, number, withdrawn_at FROM report_link", "digest",
                                                          lasting.withdrawn()):
            if not withdrawn_at:
                report.found("link_reopened", f"a link to report {number} ({digest[:12]})")


def _check_contents(store: Store, issued: Issued, report: Report) -> set[str]:
    """Each report against its seal; the numbers of all."""
    epoch, numbers = store.counter()["epoch"], set()
    for page in keep.pages(store, "SELECT number FROM issued_report", "number", ""):
        found = issued.where(f"r.number IN ({','.join('?' * len(page))}) ORDER BY year, count", *(row[0] for row in page))
        for entry in found:
            numbers.add(entry["number"])
            where = f"report {entry['number']}"
            if entry["serial"] is None:
                report.found("report_unsealed", where)
            elif not is_sealed(sealed(entry), entry["opening"], entry["seal"]):
                report.found("report_altered", where)
            elif entry["place_chain"] and entry["epoch"] == epoch and \
                    store.chain_at(entry["place"]) != entry["place_chain"]:
                report.found("report_place_differs", where)
    report.counts["reports"] = len(numbers)
    return numbers


def _check_chain(store: Store, numbers: set[str], report: Report) -> None:
    """The seals in their order, and that each has its report."""
    last, chain = 0, FIRST_CHAIN
    for page in keep.pages(store, "SELECT serial, number, seal, chain FROM report_seal", "serial", -2**62):
        for serial, number, seal, found in page:
            chain = next_chain(chain, number, seal)
            if serial != last + 1 or chain != found:
                report.found("report_chain_broken", f"report {number}")
            last, chain = serial, found  # the next break is told once, at its own place
            if number not in numbers:
                report.found("report_missing", f"report {number}")


def _check_replacing(store: Store, report: Report) -> None:
    """That each report but the newest of its job is replaced, and by one of the same job."""
    rows = store.rows("SELECT number, job, replaced_by FROM issued_report ORDER BY year, count")
    newest = {job: number for number, job, _replaced_by in rows}
    of_job = {number: job for number, job, _replaced_by in rows}
    for number, job, replaced_by in rows:
        is_replaced = newest[job] != number
        if bool(replaced_by) != is_replaced or (is_replaced and of_job.get(replaced_by) != job):
            report.found("report_replaced_wrongly", f"report {number}")


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

