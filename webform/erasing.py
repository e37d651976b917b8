"""Erasing an owner: what is told of a person goes out of all that this server keeps; what was found on the filter stays.

Goes: the texts of the owner's record in log, records and held changes, the words by which the desk finds it, the name
wherever it stands in issued reports, who spoke for the owner there, every link to these reports, and what the database file
still remembers of all that.
Stays: readings, verdicts, decisions, the reports' seals; notes in jobs, which are the shop's record of its work (naming()
tells which); backups and what a restore moved aside, which nobody changes.
It is noted in lasting.json first: cut short at any moment, it is finished at the next start, and a backup that is restored,
or a phone that comes back with an old text, brings nothing back.
"""

import json
import re
from collections.abc import Iterable
from typing import Any

from sync import erasing, exchange, lookup
from sync.change import Pen
from sync.log import Store, Unavailable

from . import acceptance, find_index, report_tables, sealing
from .checklist import show
from .checklist.lookup import field_of, step_named
from .issued import Issued
from .lasting import mark_of
from .verdicts import alone
from .words import catalogue

SHORTEST = 3  # characters of a name, or of a part of a contact, that is looked for within other texts
# The parts of a report in which somebody typed; the others are the catalogue's sentences, figures and technicians.
TYPED = ("facts", "owner_answer", "decision", "table", "rounds", "work_order", "why", "photos")
VACUUMED = ("change_log", "snapshot", "held", "issued_report", "report_seal", "find_word")


class Erasures:
    """Erasing in one store. issued: its reports."""

    def __init__(self, store: Store, issued: Issued) -> None:
        self.store, self.issued, self.lasting = store, issued, issued.lasting
        self.pen = Pen("desk")
        self.is_owed = False  # whether something is to be erased again that could not be

    def erase(self, record: str, by: str, reason: str, at: str) -> None:
        """Erases all that is told of an owner; by: who does it, reason: as the office gives it, without names."""
        self.lasting.erase(mark_of(self.store), record, {"at": at, "by": by, "reason": reason})
        self._work(record, {"at": at, "by": by, "reason": reason})

    def again(self, touched: Iterable[str] | None = None) -> list[str]:
        """The records that were erased once more: because it was cut short, or something of them came back.

        touched: look only at these; all that were ever erased unless given.
        """
        known = self.lasting.erased()
        done = {entry["record"] for entry in self.all()} if known else set()
        found = [record for record in (known if touched is None else known.keys() & set(touched))
                 if record not in done or self._is_back(record)]
        for record in found:
            self._work(record, known[record])
        return found

    def came_in(self, touched: Iterable[str] | None, has_held: bool) -> None:
        """After a push: what is told anew of somebody who was erased, by a phone that did not know, is erased too.

        touched: None after a start, when nobody knows what came in before it. What cannot be done now, as on a full disk, is
        done after the next push or at the next start: the push itself is stored, and says so.
        """
        known = self.lasting.erased()
        if not known:
            return
        try:
            self.again(None if self.is_owed else touched)
            if has_held or self.is_owed:
                self._empty_held(known)
            self.is_owed = False
        except (Unavailable, OSError):
            self.is_owed = True

    def _empty_held(self, known: dict[str, dict[str, str]]) -> None:
        with self.store.working(), alone(self.store):
            found = erasing.erase_held(self.store, known)
            for record, numbers in found.items():
                self._note(record, known[record], 0, numbers)
        if found:
            self._clean()

    def all(self) -> list[dict[str, Any]]:
        """{"record", "erased_at", "erased_by", "reason", "texts", "held"} of every erasure that is finished."""
        return [entry for entry in self._begun() if entry["texts"] >= 0]

    def _begun(self) -> list[dict[str, Any]]:
        columns = report_tables.COLUMNS["erasure"]
        with self.store.working():
            rows = self.store.rows(f"SELECT {', '.join(columns)} FROM erasure ORDER BY erased_at, record")
        return [{**dict(zip(columns, row, strict=True)), "held": json.loads(row[-1])} for row in rows]

    def reports_of(self, record: str) -> list[dict[str, Any]]:
        """The issued reports of jobs that ever named this owner, the newest first."""
        has = "strpos(c.body, ?) > 0" if self.store.is_postgresql else "instr(c.body, ?) > 0"
        return self.issued.where(f"s.owner = ? OR r.job IN (SELECT i.job FROM issued_report i JOIN change_log c ON "
                                 f"c.record = i.job WHERE {has}) ORDER BY year DESC, count DESC", record, f'"{record}"')

    def naming(self, record: str) -> list[str]:
        """The jobs of this owner in whose notes the name stands, or that say who spoke; these stay as they are."""
        names = names_in(erasing.texts_of(self.store, record))
        views = lookup.views(self.store, lookup.find(self.store, "job", "owner", record))
        return [job for job in sorted(views) if any(
            "said_by" in path or tells(json.loads(text), names)
            for path, text in sealing.leaves([answer["value"] for held in views[job]["fields"].values()
                                              for answer in held["answers"]]).items())]

    def _is_back(self, record: str) -> bool:
        view = lookup.view(self.store, record)
        return view is not None and any(answer["value"] is not None for held in view["fields"].values()
                                        for answer in held["answers"])

    def _work(self, record: str, told: dict[str, str]) -> None:
        names = names_in(erasing.texts_of(self.store, record))
        reports = self.reports_of(record)
        self.issued.links.withdraw([report["number"] for report in reports], told["at"])
        for report in reports:
            paths = doomed(report, record, names)
            if paths:
                self.issued.erase(report, paths)
        self._empty(record, told["by"])
        with self.store.working(), alone(self.store):  # what was emptied is known as soon as it is
            texts, held = erasing.erase(self.store, record), erasing.erase_held(self.store, [record])
            self._note(record, told, texts, held.get(record, []), is_finished=False)
        find_index.forget(self.store, record)
        self._clean()
        self._note(record, told, 0, [])

    def _empty(self, record: str, by: str) -> None:
        """A change that replaces all that stands with nothing, so that every device forgets."""
        view = lookup.view(self.store, record) or {"fields": {}}
        said = {field: [answer["id"] for answer in held["answers"]] for field, held in view["fields"].items()
                if any(answer["value"] is not None for answer in held["answers"])}
        if said:
            exchange.write(self.store, self.pen, record, dict.fromkeys(said), by, replaces=said, accept=acceptance.refusal)

    def _clean(self) -> None:
        """Writes the database anew, so that no page of its files remembers what was overwritten."""
        with self.store.working():
            if self.store.is_postgresql:
                for table in VACUUMED:
                    if self.store.has_table(table):  # books just put back have no index yet
                        self.store.rows(f"VACUUM FULL {table}")
            else:
                self.store.rows("VACUUM")
                self.store.rows("PRAGMA wal_checkpoint(TRUNCATE)")

    def _note(self, record: str, told: dict[str, str], texts: int, held: list[int], is_finished: bool = True) -> None:
        """Adds to what is known of an erasure; until it is finished its count of texts is kept as -1 - count."""
        before = {entry["record"]: entry for entry in self._begun()}.get(record, {"texts": 0, "held": []})
        count = texts + (before["texts"] if before["texts"] >= 0 else -1 - before["texts"])
        row = (record, told["at"], told["by"], told["reason"], count if is_finished else -1 - count,
               json.dumps(sorted({*before["held"], *held})))
        with self.store.working(), alone(self.store):
            self.store.rows("DELETE FROM erasure WHERE record = ?", (record,))
            report_tables.insert(self.store, "erasure", [row])


def doomed(report: dict[str, Any], record: str, names: list[str]) -> list[str]:
    """The paths in a report's content where something is told of the owner: the name, who spoke, and texts with the name."""
    words, labels = catalogue(), set()
    if report["owner"] in ("", record):
        labels = {show.label_of(step, field_of(step, name), words) for step, name in (
            (step_named("check_in"), "owner"), (step_named("owner_answer"), "said_by"))}
    content, found = report["content"], []
    for path, text in sealing.leaves({part: content[part] for part in TYPED if part in content}).items():
        part, _, rest = path[1:].partition("/")
        entry = content[part][int(rest.partition("/")[0])] if part in ("facts", "owner_answer") and rest else {}
        is_theirs = path.endswith("/text") and entry.get("label") in labels
        if (is_theirs or tells(json.loads(text), names)) and text != json.dumps(sealing.ERASED):
            found.append(path)
    return found


def names_in(texts: Iterable[str]) -> list[str]:
    """What to look for: each text, and the parts of those that list several things."""
    parts = [part.strip().casefold() for text in texts for part in (text, *re.split(r"[,;\n]", text))]
    return sorted({part for part in parts if len(part) >= SHORTEST})


def tells(held: Any, names: list[str]) -> bool:
    """Whether a text holds one of the names as words of its own."""
    return isinstance(held, str) and any(re.search(r"(?<!\w)" + re.escape(name) + r"(?!\w)", held.casefold())
                                         for name in names)
