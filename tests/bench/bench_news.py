"""Measures what 10 changes made elsewhere cost an up-to-date phone, by the number of records on the server.

python -m tests.bench.bench_news [--large]: 1,000 against 100,000 records; --large adds 1,000,000.
Also: one field changed in each of 1,000 records, bytes a change on the wire, both ways together (the push and its
receipts, and another phone's pull of all of it is told beside).
"""

import argparse
import sys
import tempfile
from pathlib import Path

from sync.change import make_change, to_text
from webform.shop import open_store

from . import inspections, seeding
from .serving import Ashbook, Line, packed, posted, push_body
from .telling import Table

NEWS, EDITS = 10, 1_000
MOST_BYTES, FACTOR, MOST_EDIT_BYTES = 3_000, 1.5, 120


def name(number):
    """The name of a seeded record."""
    return f"{number:016d}"


def edit(run, number, record, replaced):
    """The text of a change of one field: the restriction as found, read again."""
    drop = inspections.figure(f"2.{number % 1000:03d}", "inH2O")
    return to_text(make_change(
        f"bench.{run}.{number}", record, {"before.flow": {"bench": "good", "fixture": ["adapter", "zero"], "drop": drop}},
        lamport=10**6 + number, at=f"2026-11-25T17:{number // 60 % 60:02d}:{number % 60:02d}.{number * 7 % 1000:03d}Z",
        by="person:0000000000invent", replaces={"before.flow": replaced}))


class Served:
    """One server that holds so many records, and a phone that is up to date."""

    def __init__(self, folder, many):
        data = folder / f"shop{many}"
        data.mkdir()
        store = open_store(data)
        seeding.seed(store, seeding.inspection_patterns(), many,
                     lambda number: {**seeding.names_of_a_year(number), seeding.NAME: name(number)})
        self.place = {key: store.counter()[key] for key in ("epoch", "position", "chain", "held")}
        store.close()
        seeding.call_it_judged(data)
        self.many, self.seconds, self.bytes = many, [], []
        self.server = Ashbook(data)
        self.line = Line(self.server.port)

    def pull(self):
        """(seconds, bytes both ways, records) of one request for what is new."""
        body = packed({"cursor": self.place, "next": None, "witness": self.place})
        seconds, answered, page = posted(self.line, "/sync/pull", body, self.server.cookie)
        assert page["next"] is None and not page["reset"]
        self.place = page["cursor"]
        return seconds, len(body) + answered, page["records"]

    def news(self, run):
        """Ten changes elsewhere, spread over the records that were there, then the pull."""
        step = self.many // NEWS
        # the seeded change n + 1 made record n
        texts = [edit(f"n{run}", n, "job:" + name(n * step + run), [f"seed.seed.{n * step + run + 1}"]) for n in range(NEWS)]
        _, _, answer = posted(self.line, "/sync/push", push_body(texts), self.server.cookie)
        assert all(receipt["status"] == "stored" for receipt in answer["receipts"]), answer["receipts"][0]
        seconds, size, records = self.pull()
        assert len(records) == NEWS
        self.seconds.append(seconds)
        self.bytes.append(size)

    def edits(self):
        """(bytes of the push, of its receipts, of another phone's pull) for one field changed in each of 1,000 records."""
        texts = [edit("e", n, "job:" + name(n), [f"seed.seed.{n + 1}"]) for n in range(EDITS)]
        body = push_body(texts, self.place)
        _, answered, answer = posted(self.line, "/sync/push", body, self.server.cookie)
        assert all(receipt["status"] == "stored" for receipt in answer["receipts"])
        _, pulled, records = self.pull()
        assert len(records) == EDITS
        return len(body), answered, pulled, len(packed(texts))


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--large", action="store_true", help="also 1,000,000 records (about 6 GB of disk, minutes)")
    given = parser.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory(prefix="bench-news-") as folder:
        sizes = [1_000, 100_000] + ([1_000_000] if given.large else [])
        served = [Served(Path(folder), many) for many in sizes]
        for run in range(given.runs):
            for one in served:
                one.news(run)
        few = served[0]
        for one in served:
            table.count(f"{NEWS} changes elsewhere, {one.many:,} records: bytes both ways", max(one.bytes), MOST_BYTES,
                        unit=" B")
        for one in served[1:]:
            table.times(f"  time with {one.many:,} records against {few.many:,}", one.seconds, few.seconds, FACTOR)
        pushed, answered, pulled, bare = few.edits()
        table.count(f"one field changed in each of {EDITS:,}: both ways, a change", (pushed + answered + pulled) / EDITS,
                    MOST_EDIT_BYTES, f"{bare / EDITS:.0f} B", " B")
        table.count("  the push alone", pushed / EDITS, unit=" B")
        table.count("  its receipts alone", answered / EDITS, unit=" B")
        table.count("  another phone's pull of them", pulled / EDITS, unit=" B")
        for one in served:
            one.server.close()
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
