"""Keeping a shop's books: backup while phones push, verify, and the upgrade of older books. restoring.py restores.

Promises: a backup has its name only when it is whole and on disk; books are upgraded only after a backup of them was made,
whole or not at all; nobody restores or upgrades a shop that somebody serves. Every trouble is a sentence.
A backup holds the books, access.json and the photos. It does not hold session.key: that key would open the desk to whoever
has the backup, and all that a new one costs is signing in again.
"""

import contextlib
import datetime
import fcntl
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from sync import keep, merge, versions
from sync.log import STANDING, VERSION, NoStore, Store, snapshot_of
from sync.verify import verify as verify_store

from . import archive, find_index, report_check, report_tables, verdicts
from .lasting import Lasting
from .shop import open_store

ACCOUNTS = "access.json"
BOOKS = "shop.db"
COPY, LINES = "books.db", "books.jsonl"  # in a backup, of SQLite and of PostgreSQL
REPORTS = "reports.jsonl"  # the issued reports, beside LINES; COPY holds them itself
READY = "restored-"
ASIDE = "before-restore-"
OPEN_FIELD_TABLES = ("open_field", "open_field_place")  # an index beside the books, made again from them
DERIVED_TABLES = (*OPEN_FIELD_TABLES, *verdicts.TABLES, *find_index.TABLES)

LAST_GOOD = "Restore the newest backup in which it is not; phones send again what came later."
REBUILD = "Make a backup and restore it with --replace: a restore makes the records anew from the log."
SENTENCES = {
    "file_damaged": "The database file is damaged. " + LAST_GOOD,
    "unreadable": "The books cannot be read. " + LAST_GOOD,
    "not_gap_free": "Changes are missing just before this one, or it was put in. " + LAST_GOOD,
    "chain_broken": "This line of the log, or its place in it, was altered. " + LAST_GOOD,
    "end_differs": "The end of the log was cut off, or its counter was altered. " + LAST_GOOD,
    "text_altered": "This text is not the one that was stored. " + LAST_GOOD,
    "text_missing": "This text was removed, although nothing personal stands in such a record. " + LAST_GOOD,
    "row_altered": "This line names another change or record than its text. " + LAST_GOOD,
    "record_differs": "This record does not say what the log says. " + REBUILD,
    "record_missing": "The log names this record, and it is not there. " + REBUILD,
    "references_differ": "What this record refers to is noted wrongly. " + REBUILD,
    "held_altered": "This held change is not the one that came. " + LAST_GOOD,
    "held_missing": "Held changes are missing just before this one, or it was put in. " + LAST_GOOD,
    "held_hidden": "This held change is marked as stored, and it is not. " + LAST_GOOD,
    "held_end_differs": "Held changes were altered, or the last of them are missing. " + LAST_GOOD,
    "question_hidden": "The desk's list of two answers is wrong here. " + REBUILD,
    "report_altered": "This issued report does not say what was sealed when it was issued. " + LAST_GOOD,
    "report_unsealed": "This report has no seal: it was put in, or its seal was taken out. " + LAST_GOOD,
    "report_missing": "This report was issued, and it is not there. " + LAST_GOOD,
    "report_chain_broken": "Reports are missing just before this one, it was put in, or its seal was made anew. " + LAST_GOOD,
    "report_place_differs": "When it was issued the log had another history than it has now. " + LAST_GOOD,
    "report_replaced_wrongly": "Which report replaces this one is noted wrongly. " + LAST_GOOD,
    "link_reopened": "An owner's link that was withdrawn stands open in the books. Start the server once: it ends it again.",
    "paper_place_differs": "The books do not go on from what they were when this paper was printed. They were altered, or "
                           "put back from a backup made before it.",
    "paper_unknown": "There is no such report in these books. They were altered, or put back from a backup made before it.",
    "paper_differs": "The report of this number in the books is not the one on this paper.",
    "photo_damaged": "The photo's bytes are not those that were taken. Copy this file out of an older backup.",
    "history_differs": "The books do not go on from this backup: what it had seen was altered or cut off. " + LAST_GOOD,
}


class Trouble(Exception):
    """A command could not do its work; the text is the sentence that says why and what to do."""


@contextlib.contextmanager
def using(data: Path, is_alone: bool = False) -> Iterator[None]:
    """In here nobody restores or upgrades this shop; is_alone: nobody else uses it at all. Raises Trouble."""
    folder = os.open(data, os.O_RDONLY)
    try:
        fcntl.flock(folder, (fcntl.LOCK_EX if is_alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        yield
    except BlockingIOError:
        raise Trouble(f"Another program is using the shop in {data}. Stop it first, then do this again." if is_alone else
                      f"The shop in {data} is being restored or upgraded. Do this again when that is done.") from None
    finally:
        os.close(folder)


def make_ready(data: Path, url: str | None = None) -> list[str]:
    """What was done so that a shop can be served: a restore that was cut short is finished, older books are upgraded."""
    data.mkdir(parents=True, exist_ok=True)
    said = []
    if finish(data):
        said.append("A restore that was cut short has been finished.")
    store = found_store(data, url)
    if store is not None:
        try:
            if store.version < VERSION:
                with using(data, is_alone=True):
                    said.append(_upgrade(data, store))
        finally:
            store.close()
    return said


def _upgrade(data: Path, store: Store) -> str:
    path = data / f"before-upgrade-{store.version}-{stamp()}.backup"
    write_backup(store, data, path, has_photos=False)
    before, after = versions.upgrade(store)
    return f"The books were upgraded from version {before} to {after}. As they were: {path}"


def finish(data: Path) -> bool:
    """Finishes a restore that was cut short after it had made everything ready; whether there was one."""
    if not _ready(data):
        return False
    with using(data, is_alone=True):
        put_in_place(data)
    return True


def put_in_place(data: Path) -> None:
    """Puts into place what a restore has made ready and moves aside what is there; goes on wherever it was stopped.

    A file is either in place or still among what is ready. So while it is ready, what bears its name here is the old one.
    """
    for folder in _ready(data):
        aside = data / folder.name.replace(READY, ASIDE, 1)
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            name = path.relative_to(folder)
            for old in (name, *([Path(BOOKS + "-wal"), Path(BOOKS + "-shm")] if str(name) == BOOKS else [])):
                if (data / old).exists():
                    (aside / old).parent.mkdir(parents=True, exist_ok=True)
                    archive.publish(data / old, aside / old)
            (data / name).parent.mkdir(parents=True, exist_ok=True)
            archive.publish(path, data / name)
        for child in sorted(folder.rglob("*"), reverse=True):
            child.rmdir()
        folder.rmdir()


def _ready(data: Path) -> list[Path]:
    return sorted(path for path in data.glob(READY + "*") if path.is_dir())


def found_store(data: Path, url: str | None) -> Store | None:
    """The store of a shop as it is, of whatever version; None where there is none."""
    if url is None and not (data / BOOKS).exists():
        return None
    try:
        return open_store(data, url, is_as_found=True)
    except NoStore:
        return None


def books_of(data: Path, url: str | None) -> Store:
    """The store of a shop as it is; raises Trouble where there is none."""
    store = found_store(data, url)
    if store is None:
        raise Trouble(f"There are no books in {url or data}. Give the folder that the shop is served from with --data, and "
                      "its --database if it has one.")
    return store


def backup(data: Path, url: str | None = None, to: Path | None = None) -> tuple[Path, dict[str, Any]]:
    """(path, manifest) of a new backup, made while others may write. to: a folder, or the name of a new file."""
    finish(data)
    with using(data):
        store = books_of(data, url)
        try:
            path = _destination(data, to)
            return path, write_backup(store, data, path)
        finally:
            store.close()


def _destination(data: Path, to: Path | None) -> Path:
    if to is None:
        to = data / "backups"
        to.mkdir(mode=0o700, exist_ok=True)
    path = to / f"ashbook-{stamp()}.backup" if to.is_dir() else to
    if path.exists():
        raise Trouble(f"{path} is there already, and nothing is ever written over. Give another name with --to.")
    if not path.parent.is_dir():
        raise Trouble(f"There is no folder {path.parent}. Make it, or give another with --to.")
    return path


def write_backup(store: Store, data: Path, path: Path, has_photos: bool = True) -> dict[str, Any]:
    """The manifest of a backup that stands at this path, whole and on disk, when this returns."""
    with archive.workshop(path.parent) as work:
        if store.is_postgresql:
            books = work / LINES
            place = _write_lines(store, books, work / REPORTS)
        else:
            books = work / COPY
            keep.copy_sqlite(store, str(books))
            copied = open_store(data, f"sqlite:///{books}", is_as_found=True)
            place = next(keep.entries(copied))
            copied.close()
        files = [(path.name, path) for path in (books, work / REPORTS) if path.exists()]
        if (data / ACCOUNTS).exists():
            files.append((ACCOUNTS, data / ACCOUNTS))
        if has_photos:
            files += archive.photos(data)
        about = dict(zip(("database_version", "epoch", "position", "chain"), place[1:], strict=False))
        manifest = archive.write(work / "archive", files, {"made_at": now(), **about})
        archive.publish(work / "archive", path)
    return manifest


def _write_lines(store: Store, path: Path, reports: Path) -> keep.Entry:
    """Writes the entries of a store and the issued reports, one JSON text a line; returns the first entry, its place."""
    place: keep.Entry = []
    with keep.reading(store), path.open("x", encoding="utf-8") as file, reports.open("x", encoding="utf-8") as more:
        for entry in keep.entries(store):
            place = place or entry
            file.write(json.dumps(entry, ensure_ascii=False, separators=(",", ":")) + "\n")
        for entry in report_tables.entries(store):
            more.write(json.dumps(entry, ensure_ascii=False, separators=(",", ":")) + "\n")
    return place


def verify(data: Path, url: str | None = None, against: Path | None = None,
           papers: Iterable[str] = ()) -> tuple[dict[str, int], list[tuple[str, str]]]:
    """(what was looked at, [(where, what is wrong and what to do)]).

    against: a backup that the books must go on from; papers: the lines of printed reports that they must fit.
    """
    finish(data)
    with using(data):
        store = books_of(data, url)
        try:
            report = verify_store(store, report_check.emptied(store))
            if not report.problems:  # the list is compared with the records, so these have to be right
                for where in _hidden_questions(store):
                    report.found("question_hidden", where)
            report_check.check(store, Lasting(data), report)
            for line in papers:
                report_check.compare(store, Lasting(data), line, report)
            if against is not None:
                manifest = archive.unpack(against)
                if store.chain_at(manifest["position"]) != manifest["chain"]:
                    report.found("history_differs", f"change {manifest['position']} of {against}")
        finally:
            store.close()
        report.counts["photos"] = 0
        for name, path in archive.photos(data):
            report.counts["photos"] += 1
            if archive.sha256(path) != archive.photo_hash(name):
                report.found("photo_damaged", name)
    return report.counts, [(problem.where, SENTENCES[problem.code]) for problem in report.problems]


def _hidden_questions(store: Store) -> list[str]:
    """Where the index of open fields, as far as it has come, is not what the records say."""
    with keep.reading(store):
        if not all(store.has_table(name) for name in OPEN_FIELD_TABLES):
            return []
        until = store.rows("SELECT position FROM open_field_place WHERE number = 1")[0][0]
        listed = set(store.rows("SELECT record, field FROM open_field"))
        for page in keep.pages(store, f"SELECT position, record, kind, json FROM {STANDING}", "position", -2**62):
            for position, record, kind, text in page:
                fields = merge.view(snapshot_of(record, kind, position, text), store.policy_of)["fields"]
                if position <= until:
                    listed ^= {(record, field) for field in fields if fields[field]["open"]}
                else:
                    listed -= {(record, field) for field in fields}  # the index catches up when it is next asked
    return sorted(f"{record} {field}" for record, field in listed)


def now() -> str:
    """The time in UTC, to the second."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def stamp() -> str:
    """The time in UTC for a file's name, to the microsecond, so that no two are the same."""
    return datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%S.%fZ")
