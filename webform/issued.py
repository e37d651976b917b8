"""Issued reports: what was said, frozen, with its number; whether it still stands; the links under which owners read it.

Promises: what a report says never changes once it has a number, and no number is given twice; whoever has an owner's link
has 256 random bits, of which only the hash is kept here. Whether a report still stands is derived: it is told by the
verdicts (webform/verdicts.py) as they are judged. These tables are facts, not derived: every backup holds them.
"""

import datetime
import hashlib
import hmac
import json
import secrets
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sync.log import Store

from .checklist.case import is_worse
from .verdicts import alone

TABLES = ("issued_report", "report_link")
COLUMNS = ("number", "year", "count", "job", "verdict", "issued_at", "issued_by", "answers", "calculation", "rules",
           "content", "replaced_by")
LINK = ("digest", "number", "made_at", "withdrawn_at")
SECRET_BYTES = 32


class Issued:
    """The issued reports of one store."""

    def __init__(self, store: Store) -> None:
        self.store = store
        with store.working(), alone(store):
            if store.is_postgresql:
                store.rows("SELECT pg_advisory_xact_lock(7224004)")  # two processes starting at once
            store.rows("CREATE TABLE IF NOT EXISTS issued_report (number TEXT PRIMARY KEY, year INTEGER NOT NULL, "
                       "count INTEGER NOT NULL, job TEXT NOT NULL, verdict TEXT NOT NULL, issued_at TEXT NOT NULL, "
                       "issued_by TEXT NOT NULL, answers TEXT NOT NULL, calculation TEXT NOT NULL, rules TEXT NOT NULL, "
                       "content TEXT NOT NULL, replaced_by TEXT NOT NULL, is_recalled INTEGER NOT NULL DEFAULT 0, "
                       "judged BIGINT NOT NULL DEFAULT 0, UNIQUE (year, count))")
            store.rows("CREATE INDEX IF NOT EXISTS issued_report_job ON issued_report (job)")
            store.rows("CREATE INDEX IF NOT EXISTS issued_report_recalled ON issued_report (number) WHERE is_recalled = 1")
            store.rows("CREATE INDEX IF NOT EXISTS issued_report_standing ON issued_report "
                       "(is_recalled, replaced_by, year, count)")
            store.rows("CREATE TABLE IF NOT EXISTS report_link (digest TEXT PRIMARY KEY, number TEXT NOT NULL, "
                       "made_at TEXT NOT NULL, withdrawn_at TEXT NOT NULL)")
            store.rows("CREATE INDEX IF NOT EXISTS report_link_number ON report_link (number)")

    def issue(self, content: Callable[[str], dict[str, Any]], state: dict[str, Any], answers: str, by: str, at: str,
              told: Callable[[str], None] = lambda number: None) -> str:
        """The number of a report that says from now on what this content of it says; it replaces the job's earlier ones.

        answers: the hash of all standing answers that it was made of; at: the time of this server. Asked for again with the
        same answers (a button pressed twice), it is the number that was given already. told(number) is called inside the
        transaction: what it writes is stored together with the report.
        """
        with self.store.working(), alone(self.store):
            if self.store.is_postgresql:
                self.store.rows("SELECT pg_advisory_xact_lock(7224004)")
            given = self.store.rows("SELECT number FROM issued_report WHERE job = ? AND answers = ? AND replaced_by = ''",
                                    (state["job"], answers))
            if given:
                return str(given[0][0])
            year = int(at[:4])
            last = self.store.rows("SELECT MAX(count) FROM issued_report WHERE year = ?", (year,))[0][0]
            count = (last or 0) + 1
            number = f"{year}-{count:04}"
            self.store.rows("UPDATE issued_report SET replaced_by = ? WHERE job = ? AND replaced_by = ''",
                            (number, state["job"]))
            self._insert([(number, year, count, state["job"], state["verdict"], at, by, answers, state["calculation"],
                           state["rules"], json.dumps(content(number), ensure_ascii=False), "")])
            told(number)
        return number

    def find(self, number: str) -> dict[str, Any] | None:
        """One report: {"number", "job", "verdict", "issued_at", ..., "content", "replaced_by", "is_recalled"}."""
        found = self._reports("number = ?", number)
        return found[0] if found else None

    def of_job(self, job: str) -> list[dict[str, Any]]:
        """The reports of a job, the newest first."""
        return self._reports("job = ? ORDER BY year DESC, count DESC", job)

    def recalled(self) -> list[dict[str, Any]]:
        """The reports that no longer stand and that no newer one replaces, the newest first."""
        return self._reports("is_recalled = ? AND replaced_by = '' ORDER BY year DESC, count DESC", 1)

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

    def make_link(self, number: str, at: str) -> str:
        """A new secret that opens this report for its owner; told once, only its hash is kept."""
        secret = secrets.token_urlsafe(SECRET_BYTES)
        with self.store.working(), alone(self.store):
            self._insert_links([(_digest(secret), number, at, "")])
        return secret

    def withdraw(self, number: str, at: str) -> None:
        """Ends every link to this report."""
        with self.store.working(), alone(self.store):
            self.store.rows("UPDATE report_link SET withdrawn_at = ? WHERE number = ? AND withdrawn_at = ''", (at, number))

    def links(self, number: str) -> list[dict[str, str]]:
        """{"made_at", "withdrawn_at"} of every link to a report, in the order of making."""
        with self.store.working():
            return [{"made_at": row[0], "withdrawn_at": row[1]} for row in self.store.rows(
                "SELECT made_at, withdrawn_at FROM report_link WHERE number = ? ORDER BY made_at, digest", (number,))]

    def opened_by(self, secret: str) -> dict[str, Any] | None:
        """The report that a link opens, None where there is no such link or it was withdrawn."""
        wanted = _digest(secret)
        with self.store.working():
            rows = self.store.rows("SELECT digest, number FROM report_link WHERE digest = ? AND withdrawn_at = ''", (wanted,))
        return self.find(rows[0][1]) if rows and hmac.compare_digest(rows[0][0], wanted) else None

    def load(self, entries: Iterable[list[Any]]) -> None:
        """Puts entries of a backup in; what is here already stays as it is."""
        listed = list(entries)
        with self.store.working(), alone(self.store):
            self._insert([entry[1:] for entry in listed if entry[0] == "issued_report"])
            self._insert_links([entry[1:] for entry in listed if entry[0] == "report_link"])

    def _insert(self, rows: list[Any]) -> None:
        self.store.write_many(f"INSERT INTO issued_report ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))}) "
                              "ON CONFLICT DO NOTHING", rows)

    def _insert_links(self, rows: list[Any]) -> None:
        self.store.write_many("INSERT INTO report_link (digest, number, made_at, withdrawn_at) VALUES (?,?,?,?) "
                              "ON CONFLICT DO NOTHING", rows)

    def _reports(self, where: str, value: Any) -> list[dict[str, Any]]:
        names = (*COLUMNS, "is_recalled")
        with self.store.working():
            rows = self.store.rows(f"SELECT {', '.join(names)} FROM issued_report WHERE {where}", (value,))
        found = [dict(zip(names, row, strict=True)) for row in rows]
        for report in found:
            report["content"] = json.loads(report["content"])
        return found


def entries(store: Store) -> Iterator[list[Any]]:
    """All issued reports and links of a store as JSON values, for a backup in lines; none where there never were any."""
    if store.has_table(TABLES[0]):
        for table, columns in zip(TABLES, (COLUMNS, LINK), strict=True):
            for row in store.rows(f"SELECT {', '.join(columns)} FROM {table} ORDER BY {columns[0]}"):
                yield [table, *row]


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def now() -> str:
    """The time of this server as changes hold it."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
