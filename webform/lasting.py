"""What outlasts the books: report numbers given, owners' links withdrawn, owners erased. lasting.json in the shop's folder.

A restore, and a database file that is copied back by hand, take the books back to an earlier day. This file lies beside them,
is written before the books are and is never restored, so none of the three is taken back with them. It holds nothing of any
person: years and counts, hashes of links that would still be good, ids of records, and the reason that the office gave.
Promises: written whole, on disk before a call returns; one writer at a time on this machine. It belongs to one shop, which
its books' first change tells; another shop's is not believed.
"""

import contextlib
import fcntl
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sync.log import Store

from . import archive

NAME = "lasting.json"


class Lasting:
    """The file of one shop's folder."""

    def __init__(self, data: Path) -> None:
        self.path = data / NAME

    def read(self) -> dict[str, Any] | None:
        """{"shop", "numbers": {year: count}, "withdrawn": {hash of a link: until when it would be good}, "erased": {record:
        {"at", "by", "reason"}}}; None where there is no such file, or none that can be read."""
        try:
            found = json.loads(self.path.read_text(encoding="utf-8"))
            is_whole = isinstance(found["shop"], str) and all(
                isinstance(found[part], dict) for part in ("numbers", "withdrawn", "erased"))
        except (OSError, ValueError, KeyError, TypeError):
            return None
        return found if is_whole else None

    def knows(self, shop: str) -> dict[str, Any] | None:
        """What it holds of this shop; None where it holds nothing, or is another's. shop: the mark of its books."""
        found = self.read()
        return found if found is not None and shop and found["shop"] == shop else None

    def next_count(self, shop: str, year: int, given: int) -> int:
        """The count of a new report: one more than given in the books and ever told here. On disk when it returns."""
        with self._writing(shop) as found:
            count = max(given, int(found["numbers"].get(str(year), 0))) + 1
            found["numbers"][str(year)] = count
        return count

    def withdraw(self, shop: str, links: Mapping[str, str], at: str) -> None:
        """Notes links (hash → until when they would be good) as withdrawn; those that are over anyway are dropped."""
        with self._writing(shop) as found:
            found["withdrawn"] = {digest: until for digest, until in {**found["withdrawn"], **links}.items() if until > at}

    def withdrawn(self) -> dict[str, str]:
        """Hash → until when it would be good, of every link withdrawn."""
        return dict((self.read() or _nothing())["withdrawn"])

    def erase(self, shop: str, record: str, told: dict[str, str]) -> None:
        """Notes that a person's record was erased; told: {"at", "by", "reason"}."""
        with self._writing(shop) as found:
            found["erased"].setdefault(record, told)

    def erased(self) -> dict[str, dict[str, str]]:
        """Record → {"at", "by", "reason"} of everything that was erased."""
        return dict((self.read() or _nothing())["erased"])

    def learn(self, shop: str, numbers: Mapping[int, int], withdrawn: Mapping[str, str],
              erased: Mapping[str, dict[str, str]]) -> None:
        """Takes in what the books know."""
        with self._writing(shop) as found:
            for year, count in numbers.items():
                found["numbers"][str(year)] = max(count, int(found["numbers"].get(str(year), 0)))
            found["withdrawn"] = {**withdrawn, **found["withdrawn"]}
            found["erased"] = {**erased, **found["erased"]}

    @contextlib.contextmanager
    def _writing(self, shop: str) -> Iterator[dict[str, Any]]:
        """What stands in the file; what it is afterwards is on disk when this ends, written only where it is new.

        What it held of another shop is dropped. shop: the mark of its books, "" where they are empty.
        """
        with self.path.with_suffix(".lock").open("w") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            found = self.read() or _nothing()
            before = json.dumps(found)
            if shop and found["shop"] not in ("", shop):
                found = _nothing()
            found["shop"] = shop or found["shop"]
            yield found
            if json.dumps(found) != before or not self.path.exists():
                archive.write_json(self.path, found)


def mark_of(store: Store) -> str:
    """What tells one shop's books from another's: the chain after the first change; "" while there is none."""
    return store.chain_at(1) or ""


def _nothing() -> dict[str, Any]:
    return {"shop": "", "numbers": {}, "withdrawn": {}, "erased": {}}
