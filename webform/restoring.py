"""Restoring a shop from a backup: everything is checked before anything is touched, and what is there is moved aside.

The restored books have a new epoch, so that every phone sends again what it had confirmed and the backup does not hold.
What the backup cannot know is put right (put_back.py): report numbers, withdrawn links, erased owners.
Stopped at any moment, the shop is either as it was or, from the next command on, as the backup says.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sync import keep, versions
from sync.log import NewerDatabase, Store, Unavailable
from sync.verify import DERIVED
from sync.verify import verify as verify_store

from . import archive, put_back, report_check, report_tables
from .issued import Issued
from .keeping import (
    ACCOUNTS,
    ASIDE,
    BOOKS,
    COPY,
    DERIVED_TABLES,
    LINES,
    READY,
    REPORTS,
    SENTENCES,
    Trouble,
    found_store,
    put_in_place,
    stamp,
    using,
)
from .shop import open_store


def restore(data: Path, source: Path, url: str | None = None, is_replace: bool = False,
            are_links_kept: bool = False) -> list[str]:
    """What was done, in sentences. url: a PostgreSQL database, SQLite in the shop's folder unless named.

    are_links_kept: owners' links stay open although nobody knows which were withdrawn since (a move to another machine).
    """
    if not source.is_file():
        raise Trouble(f"There is no file {source}. Give a backup with --from.")
    data.mkdir(parents=True, exist_ok=True)
    with using(data, is_alone=True), archive.workshop(data) as work:
        put_in_place(data)  # of a restore before this one
        if not is_replace and _is_in_use(data, url):
            raise Trouble(f"There are books in {url or data} already. Add --replace to move them aside and restore.")
        unpacked, ready, mark = work / "unpacked", work / "ready", stamp()
        ready.mkdir()
        manifest = archive.unpack(source, unpacked)
        said = [f"The backup of {manifest['made_at']} with {manifest['position']} changes is whole."]
        before = put_back.look(data, url, _mark_of(unpacked), manifest["made_at"], are_links_kept)
        if url is None:
            said += _make_books(unpacked, ready, before)
        _make_photos(data, unpacked, ready)
        said += _make_accounts(data, unpacked, ready, manifest["made_at"])
        archive.publish(ready, data / (READY + mark))
        put_in_place(data)  # the next command does, if this one ends here
        if (data / (ASIDE + mark)).exists():
            said.append(f"What was here before lies in {data / (ASIDE + mark)}.")
        if url is not None:
            said += _fill_postgresql(url, unpacked, (ASIDE + mark).replace("-", "_").replace(".", "_").lower(), before)
    return [*said, "The books have a new epoch: phones send again by themselves what they have and the backup has not."]


def _is_in_use(data: Path, url: str | None) -> bool:
    try:
        store = found_store(data, url)
    except (NewerDatabase, Unavailable):
        if url is not None:
            raise
        return True  # a file is there that cannot be read: all the more reason to ask
    if store is None:
        return False
    try:
        return bool(store.counter()["position"] or store.rows("SELECT 1 FROM held LIMIT 1"))
    finally:
        store.close()


def _make_books(unpacked: Path, ready: Path, before: put_back.Before) -> list[str]:
    """Makes shop.db among what is ready; what was found in it."""
    file = unpacked / COPY
    if file.exists():
        file.rename(ready / BOOKS)
        store = open_store(ready, is_as_found=True)
        versions.upgrade(store)
        for name in DERIVED_TABLES:
            store.rows(f"DROP TABLE IF EXISTS {name}")
        store.begin_epoch()
        reports = Issued(store, before.lasting)
    else:
        store = open_store(ready)
        keep.load(store, _entries(unpacked))
        reports = Issued(store, before.lasting)
        reports.load(_reports(unpacked))
    said = [*put_back.settle(reports, before), *put_back.erase_again(reports), *_checked(store)]
    store.close()
    return said


def _fill_postgresql(url: str, unpacked: Path, aside: str, before: put_back.Before) -> list[str]:
    told = []

    def opened(db: Any) -> Store:
        store = open_store(unpacked, url, db=db)
        reports = Issued(store, before.lasting)
        reports.load(_reports(unpacked))
        told.extend(put_back.settle(reports, before))
        return store

    store = keep.replace(url, _entries(unpacked), aside, opened, (*DERIVED_TABLES, *report_tables.TABLES))
    told += put_back.erase_again(Issued(store, before.lasting))
    is_aside = store.rows("SELECT 1 FROM pg_namespace WHERE nspname = ?", (aside,))
    said = [*told, *_checked(store), *([f"The tables that were there before lie in the schema {aside}."] if is_aside else [])]
    store.close()
    return said


def _entries(unpacked: Path) -> Iterator[keep.Entry]:
    """The entries of a backup, whichever database it was made of."""
    if (unpacked / COPY).exists():
        store = open_store(unpacked, f"sqlite:///{unpacked / COPY}", is_as_found=True)
        yield from keep.entries(store)
        store.close()
        return
    with (unpacked / LINES).open(encoding="utf-8") as file:
        for line in file:
            yield json.loads(line)


def _mark_of(unpacked: Path) -> str:
    """What tells the shop of a backup, "" for one without any change; as lasting.mark_of."""
    for entry in _entries(unpacked):
        if entry[0] == keep.CHANGE:
            return str(entry[4]) if entry[1] == 1 else ""
        if entry[0] == keep.HELD:
            break
    return ""


def _reports(unpacked: Path) -> Iterator[keep.Entry]:
    """The issued reports of a backup, whichever database it was made of; none in one that is older than they are."""
    if (unpacked / COPY).exists():
        store = open_store(unpacked, f"sqlite:///{unpacked / COPY}", is_as_found=True)
        yield from report_tables.entries(store)
        store.close()
    elif (unpacked / REPORTS).exists():
        with (unpacked / REPORTS).open(encoding="utf-8") as file:
            yield from map(json.loads, file)


def _checked(store: Store) -> list[str]:
    """What a whole check of the restored books found; records are made anew from the log where only they are wrong."""
    report = verify_store(store, report_check.emptied(store))
    if report.problems and all(problem.code in DERIVED for problem in report.problems):
        keep.rebuild(store)
        report = verify_store(store, report_check.emptied(store))
    said = ["Checked: " + ", ".join(f"{count} {what}" for what, count in report.counts.items()) + "."]
    if report.problems:
        said.append("The books were damaged already when this backup was made; an older backup may be better.")
    return said + [f"{problem.where}: {SENTENCES[problem.code]}" for problem in report.problems]


def _make_photos(data: Path, unpacked: Path, ready: Path) -> None:
    """Photos that the shop has not, or not whole, come among what is ready; a photo's name is its hash."""
    for name, path in archive.photos(unpacked):
        if not (data / name).exists() or archive.sha256(data / name) != archive.photo_hash(name):
            (ready / name).parent.mkdir(parents=True, exist_ok=True)
            path.rename(ready / name)


def _make_accounts(data: Path, unpacked: Path, ready: Path, made_at: str) -> list[str]:
    """Accounts and phones that are here stay, for they are newer: a phone that was shut out since stays out."""
    if not (unpacked / ACCOUNTS).exists() or _are_of_one_shop(data / ACCOUNTS, unpacked / ACCOUNTS):
        return ["Accounts and phones stay as they are here."]
    (unpacked / ACCOUNTS).rename(ready / ACCOUNTS)
    return [f"Accounts and phones are those of {made_at}. Phones that were enrolled or shut out since: enrol them, or shut "
            "them out, again."]


def _are_of_one_shop(one: Path, other: Path) -> bool:
    try:
        marks = [set(doors["devices"]) | set(doors["office"].values()) for doors in
                 (json.loads(path.read_text(encoding="utf-8")) for path in (one, other))]
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False
    return bool(marks[0] & marks[1])
