"""Issued reports: what was said, frozen, with its number and its seal; whether it still stands.

Promises: what a report says never changes once it has a number, but for what is erased of its owner (erasing.py), and its
seal proves that (sealing.py); no number is given twice, also not after older books were put back: counts go on from
lasting.json, and every restore begins a series with a random mark of its own in its numbers, for where that file is gone
too. Whether a report still stands is derived: it is told by the verdicts (webform/verdicts.py) as they are judged.
"""

import datetime
import json
import secrets
from collections.abc import Callable, Iterable
from typing import Any

from sync.log import FIRST_CHAIN, Store, next_chain

from . import report_tables, sealing
from .checklist.case import is_worse
from .lasting import Lasting, mark_of
from .owner_links import OwnerLinks
from .trade.tag_code import ALPHABET
from .verdicts import alone

COLUMNS = report_tables.COLUMNS["issued_report"]
SEALED = ("number", "job", "verdict", "issued_at", "issued_by", "answers", "calculation", "rules", "content")
PLACED = ("owner", "epoch", "place", "place_chain")
MARK_CHARACTERS = 4
SHOWN_DIGITS = 12  # of a chain or a seal on paper


class Issued:
    """The issued reports of one store. lasting: what outlasts its books. is_as_found: nothing is made or sealed."""

    def __init__(self, store: Store, lasting: Lasting, is_as_found: bool = False) -> None:
        self.store, self.lasting = store, lasting
        self.links = OwnerLinks(store, lasting)
        if not is_as_found:
            with store.working(), alone(store):
                report_tables.lock(store)  # two processes starting at once
                is_before_seals = not store.has_table("report_seal")
                report_tables.make(store)
                if is_before_seals:  # never later: a seal that somebody took out must not be made again
                    self._seal_all()

    def issue(self, content: Callable[[str], dict[str, Any]], state: dict[str, Any], answers: str, by: str, at: str,
              owner: str = "", told: Callable[[str], None] = lambda number: None) -> str:
        """The number of a report that says from now on what this content of it says; it replaces the job's earlier ones.

        answers: the hash of all standing answers that it was made of; at: the time of this server; owner: their record.
        Asked for again with the same answers (a button pressed twice), it is the number that was given already. told(number)
        is called inside the transaction: what it writes is stored together with the report.
        """
        with self.store.working(), alone(self.store):
            report_tables.lock(self.store)
            given = self.store.rows("SELECT number FROM issued_report WHERE job = ? AND answers = ? AND replaced_by = ''",
                                    (state["job"], answers))
            if given:
                return str(given[0][0])
            year = int(at[:4])
            last = self.store.rows("SELECT MAX(count) FROM issued_report WHERE year = ?", (year,))[0][0]
            count = self.lasting.next_count(mark_of(self.store), year, last or 0)
            series = self.store.rows("SELECT mark FROM report_series ORDER BY serial DESC LIMIT 1")
            number = f"{year}-{count:04}" + (f"-{series[0][0]}" if series else "")
            self.store.rows("UPDATE issued_report SET replaced_by = ? WHERE job = ? AND replaced_by = ''",
                            (number, state["job"]))
            said = json.loads(json.dumps(content(number), ensure_ascii=False))
            row = (number, year, count, state["job"], state["verdict"], at, by, answers, state["calculation"],
                   state["rules"], json.dumps(said, ensure_ascii=False), "")
            report_tables.insert(self.store, "issued_report", [row])
            end = self.store.counter()
            self._seal({**dict(zip(COLUMNS, row, strict=True)), "content": said},
                       {"owner": owner, "epoch": end["epoch"], "place": end["position"], "place_chain": end["chain"]})
            told(number)
        return number

    def find(self, number: str) -> dict[str, Any] | None:
        """One report: {"number", "job", "verdict", "issued_at", ..., "content", "replaced_by", "is_recalled"}, with what
        report_seal has of it."""
        found = self.where("r.number = ?", number)
        return found[0] if found else None

    def of_job(self, job: str) -> list[dict[str, Any]]:
        """The reports of a job, the newest first."""
        return self.where("r.job = ? ORDER BY year DESC, count DESC", job)

    def recalled(self) -> list[dict[str, Any]]:
        """The reports that no longer stand and that no newer one replaces, the newest first."""
        return self.where("is_recalled = ? AND replaced_by = '' ORDER BY year DESC, count DESC", 1)

    def jobs_among(self, jobs: Iterable[str]) -> set[str]:
        """Those of the jobs that have a report."""
        with self.store.working():
            return {row[0] for row in self.store.rows_of("SELECT job FROM issued_report", "job", jobs)}

    def judged(self, states: list[dict[str, Any]], seen: int) -> None:
        """Notes which reports no longer stand; told by the verdicts within their transaction. seen: the log so far."""
        mine = self.jobs_among(state["job"] for state in states)
        rows = []
        for state in sorted((state for state in states if state["job"] in mine), key=lambda state: str(state["job"])):
            for number, verdict in self.store.rows("SELECT number, verdict FROM issued_report WHERE job = ? ORDER BY number",
                                                   (state["job"],)):
                rows.append((int(is_worse(state["verdict"], verdict)), seen, number, seen))
        self.store.write_many("UPDATE issued_report SET is_recalled = ?, judged = ? WHERE number = ? AND judged <= ?", rows)

    def erase(self, report: dict[str, Any], paths: Iterable[str]) -> None:
        """Drops parts of what a report says, for good; its seal goes on proving the rest. paths: see sealing.py."""
        content, opening = sealing.erase(sealed(report), report["opening"], ["/content" + path for path in paths])
        with self.store.working(), alone(self.store):
            self.store.rows("UPDATE issued_report SET content = ? WHERE number = ?",
                            (json.dumps(content["content"], ensure_ascii=False), report["number"]))
            self.store.rows("UPDATE report_seal SET opening = ? WHERE number = ?", (json.dumps(opening), report["number"]))

    def load(self, entries: Iterable[list[Any]]) -> None:
        """Puts entries of a backup in; what is here already stays as it is. Reports of a time before seals get one."""
        rows: dict[str, list[Any]] = {table: [] for table in report_tables.TABLES}
        for table, *row in entries:
            rows[table].append(row)
        with self.store.working(), alone(self.store):
            for table, listed in rows.items():
                report_tables.insert(self.store, table, listed)
            if not rows["report_seal"]:
                self._seal_all()

    def begin_series(self, at: str) -> str:
        """The mark that the numbers carry from now on: the books were put back, and what was given since is not known."""
        mark = "".join(secrets.choice(ALPHABET) for _ in range(MARK_CHARACTERS))
        with self.store.working(), alone(self.store):
            report_tables.lock(self.store)
            last = self.store.rows("SELECT MAX(serial) FROM report_series")[0][0] or 0
            report_tables.insert(self.store, "report_series", [(last + 1, mark, at)])
        return mark

    def learn(self, at: str) -> None:
        """Lets the lasting file know what these books know; of a table that they have not, nothing."""
        with self.store.working():
            here = {table for table in report_tables.TABLES if self.store.has_table(table)}
            numbers = dict(self.store.rows("SELECT year, MAX(count) FROM issued_report GROUP BY year")
                           if "issued_report" in here else ())
            erased = {row[0]: {"at": row[1], "by": row[2], "reason": row[3]} for row in self.store.rows(
                "SELECT record, erased_at, erased_by, reason FROM erasure")} if "erasure" in here else {}
        withdrawn = self.links.known(at) if "report_link" in here else {}
        self.lasting.learn(mark_of(self.store), numbers, withdrawn, erased)

    def go_on(self, entries: Iterable[list[Any]]) -> int:
        """Takes over what was issued after these reports, from books that go on from them; how many reports that were.

        entries: of those books. Nothing is taken where these reports are not the beginning of those, or are altered there.
        """
        theirs: dict[str, list[list[Any]]] = {table: [] for table in report_tables.TABLES}
        for table, *row in entries:
            theirs[table].append(row)
        with self.store.working(), alone(self.store):
            mine = [list(row) for row in self.store.rows(
                "SELECT serial, number, seal, chain FROM report_seal ORDER BY serial")]
            if [row[:4] for row in theirs["report_seal"][:len(mine)]] != mine:
                return 0
            of_number = {row[0]: row for row in theirs["issued_report"]}
            later = [row for row in theirs["report_seal"][len(mine):] if row[1] in of_number]
            if not all(_is_whole(of_number[row[1]], row) for row in later):
                return 0
            report_tables.insert(self.store, "issued_report", [of_number[row[1]] for row in later])
            report_tables.insert(self.store, "report_seal", later)
            report_tables.insert(self.store, "report_link", theirs["report_link"])
            report_tables.insert(self.store, "report_series", theirs["report_series"])
            self.store.write_many("UPDATE issued_report SET replaced_by = ? WHERE number = ?",
                                  [(row[-1], number) for number, row in of_number.items()])
        return len(later)

    def where(self, condition: str, *values: Any) -> list[dict[str, Any]]:
        """The reports that an SQL condition finds (r: the report, s: its seal), as find() gives them."""
        names = (*COLUMNS, "is_recalled", "serial", "seal", "opening", *PLACED)
        with self.store.working():
            rows = self.store.rows(
                f"SELECT {', '.join('r.' + name if name in COLUMNS else name for name in names)} FROM issued_report r "
                f"LEFT JOIN report_seal s ON s.number = r.number WHERE {condition}", values)
        found = [dict(zip(names, row, strict=True)) for row in rows]
        for report in found:
            report["content"] = json.loads(report["content"])
            report["opening"] = json.loads(report["opening"] or "{}")
        return found

    def _seal_all(self) -> None:
        """Seals reports of a time before there were seals, as they stand now; where the log stood then is not known."""
        for report in self.where("s.number IS NULL ORDER BY year, count"):
            self._seal(report, {"owner": "", "epoch": "", "place": 0, "place_chain": ""})

    def _seal(self, report: dict[str, Any], placed: dict[str, Any]) -> None:
        last = self.store.rows("SELECT serial, chain FROM report_seal ORDER BY serial DESC LIMIT 1")
        serial, chain = last[0] if last else (0, FIRST_CHAIN)
        seal, opening = sealing.seal(sealed({**report, **placed}))
        report_tables.insert(self.store, "report_seal", [(
            serial + 1, report["number"], seal, next_chain(chain, report["number"], seal), json.dumps(opening),
            *(placed[name] for name in PLACED))])


def _is_whole(row: list[Any], sealed_row: list[Any]) -> bool:
    report = {**dict(zip(report_tables.COLUMNS["report_seal"], sealed_row, strict=True)),
              **dict(zip(COLUMNS, row, strict=True))}
    return sealing.is_sealed(sealed({**report, "content": json.loads(report["content"])}), json.loads(report["opening"]),
                             report["seal"])


def sealed(report: dict[str, Any]) -> dict[str, Any]:
    """What a seal covers of a report."""
    return {name: report[name] for name in (*SEALED, *PLACED)}


def paper_line(report: dict[str, Any]) -> str:
    """What is printed so that `ashbook verify --paper` can compare it: NUMBER/POSITION:CHAIN/SEAL; "" of a time before it."""
    if not report["place_chain"]:
        return ""
    return f"{report['number']}/{report['place']}:{_grouped(report['place_chain'])}/{_grouped(report['seal'])}"


def _grouped(digits: str) -> str:
    return "-".join(digits[start:start + 4] for start in range(0, SHOWN_DIGITS, 4))


def now() -> str:
    """The time of this server as changes hold it."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
