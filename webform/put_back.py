"""What a backup cannot know when it is restored: numbers given since, links withdrawn since, owners erased since.

The lasting file beside the books knows (lasting.py), and so do the books that are there, where they can be read and are of
the same shop; what was issued since the backup is taken over from them too, for those papers are in people's hands. Where
neither knows anything, every owner's link of the backup is closed and the office is told, for any may have been withdrawn.
"""

from pathlib import Path
from typing import Any, NamedTuple

from sync.log import NewerDatabase, Unavailable

from . import report_tables
from .erasing import Erasures
from .issued import Issued, now
from .keeping import found_store
from .lasting import Lasting, mark_of


class Before(NamedTuple):
    """What was found before anything was touched. later: all rows of the reports' tables of the books that are there."""

    lasting: Lasting
    is_known: bool
    later: list[list[Any]]
    made_at: str
    are_links_kept: bool


def look(data: Path, url: str | None, shop: str, made_at: str, are_links_kept: bool) -> Before:
    """What is known here beside a backup of a shop (its mark) made at that time."""
    lasting = Lasting(data)
    later = _books_there(data, url, shop, lasting)
    return Before(lasting, later is not None or lasting.knows(shop) is not None, later or [], made_at, are_links_kept)


def _books_there(data: Path, url: str | None, shop: str, lasting: Lasting) -> list[list[Any]] | None:
    """The rows of the books that are there; None where there are none, of another shop, or they cannot be read."""
    try:
        store = found_store(data, url)
        if store is None:
            return None
        try:
            with store.working():
                if not shop or not store.has_table("report_link") or mark_of(store) != shop:
                    return None
                found = list(report_tables.entries(store))
            Issued(store, lasting, is_as_found=True).learn(now())
            return found
        finally:
            store.close()
    except (Unavailable, NewerDatabase):
        return None


def settle(reports: Issued, before: Before) -> list[str]:
    """Puts the restored reports and links right; what was done, in sentences."""
    at, said = now(), []
    taken = reports.go_on(before.later)
    if taken:
        said.append(f"{taken} reports that were issued after the backup are taken over from the books that were here.")
    said.append(f"Numbers of new reports end with {reports.begin_series(at)} from now on, so that none is given twice.")
    if before.is_known or before.are_links_kept:
        reports.links.withdraw_again(at)
    elif closed := reports.links.withdraw_all(at):
        said.append(f"{closed} links of owners are closed: which of them were withdrawn after {before.made_at} is not known "
                    "here. Make a new one for whoever asks.")
    if not before.is_known:
        said.append(f"Owners who were erased after {before.made_at} are back in the books: erase them again.")
    return said


def erase_again(reports: Issued) -> list[str]:
    """Erases once more whoever was erased and is back with the backup; what was done, in sentences."""
    found = Erasures(reports.store, reports).again()
    return [f"{len(found)} owners who were erased after the backup have been erased again."] if found else []
