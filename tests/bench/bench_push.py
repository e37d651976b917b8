"""Measures the push of queued inspections against the bare limit of the same run. python -m tests.bench.bench_push

The real server with the declaration's check, empty (a new one for each run) and holding 100,000 inspections; 1,000 in one
request and 10,000 in ten, against one POST of the same JSON to the bare server (bare.py). Wire: both directions, against
gzip of the plain JSON of the inspections. Also told, without a limit: the same inspections as the screens queue them, a
change for each reading, and the bare limit that does not read the documents.
"""

import argparse
import contextlib
import sys
import tempfile
from pathlib import Path

from webform.shop import open_store

from . import inspections, seeding
from .serving import Ashbook, Bare, Line, compact, packed, posted, push_body
from .telling import Table

BATCH = 1_000
FACTOR, WIRE = 4.0, 1.2
HELD = 100_000


class Bench:
    """All runs of one server's state; found: {what: seconds}."""

    def __init__(self):
        self.found, self.bytes, self.turn = {}, {}, 0

    def note(self, what, seconds):
        self.found.setdefault(what, []).append(seconds)

    def push(self, line, cookie, texts):
        """(seconds, bytes both ways) of all batches, one after the other on one connection."""
        bodies = [push_body(texts[start:start + BATCH]) for start in range(0, len(texts), BATCH)]
        seconds, size = 0.0, 0
        for body in bodies:
            took, answered, answer = posted(line, "/sync/push", body, cookie)
            assert all(receipt["status"] == "stored" for receipt in answer["receipts"]), answer["receipts"][:2]
            seconds, size = seconds + took, size + len(body) + answered
        return seconds, size

    @contextlib.contextmanager
    def timed(self, what, server):
        """Notes the processor time that a server uses meanwhile."""
        before = server.worked()
        yield
        self.note(("cpu", *what), server.worked() - before)

    def run(self, server, bare, many):
        """One push of so many, between two of the bare limit."""
        self.turn += 1
        texts = inspections.texts(self.turn * 100_000, many, run=f"n{self.turn}")
        body = push_body(texts)
        ours, limit = Line(server.port), Line(bare.port)
        posted(ours, "/sync/push", push_body([]), server.cookie)
        self.note(("outer", many), posted(limit, "/outer", body)[0])
        with self.timed(("push", many), server):
            seconds, size = self.push(ours, server.cookie, texts)
        self.note(("push", many), seconds)
        with self.timed(("bare", many), bare):
            self.note(("bare", many), posted(limit, "/", body)[0])
        self.bytes[many] = size, len(packed_plain(texts))
        return texts

    def run_steps(self, server, bare):
        """The same inspections a change for each reading: six changes each, in requests of 1,000 changes."""
        self.turn += 1
        texts = inspections.step_texts(self.turn * 100_000, BATCH, run=f"s{self.turn}")
        self.note("bare steps", posted(Line(bare.port), "/", push_body(texts))[0])
        self.note("steps", self.push(Line(server.port), server.cookie, texts)[0])


@contextlib.contextmanager
def loaded(data):
    """The server of the full store, with nothing left to judge from the runs before, whose work would be measured too."""
    seeding.call_it_judged(data)
    server = Ashbook(data)
    yield server
    server.close()


def packed_plain(texts):
    """gzip of the plain JSON of the inspections themselves."""
    return packed_text("[" + ",".join(texts) + "]")


def packed_text(text):
    import gzip
    return gzip.compress(text.encode(), 6, mtime=0)


def tell(table, bench, state, counts):
    """The lines of one state."""
    for many in counts:
        found = bench.found
        table.times(f"push of {many:,} into {state}", found["push", many], found["bare", many], FACTOR)
        table.times("  processor time of the two servers alone", found["cpu", "push", many], found["cpu", "bare", many])
        table.times("  the same, documents unread by the bare limit", found["push", many], found["outer", many])
        table.sizes("  on the wire, both ways, against gzip of the plain JSON", *bench.bytes[many], WIRE)
    table.times("  1,000 as the screens queue them (6,000 changes)", bench.found["steps"], bench.found["bare steps"])


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--counts", type=int, nargs="*", default=[1_000, 10_000])
    given = parser.parse_args()
    empty, full, table = Bench(), Bench(), Table()
    with tempfile.TemporaryDirectory(prefix="bench-push-") as folder:
        place = Path(folder)
        (place / "full").mkdir()
        store = open_store(place / "full")
        seeding.seed(store, seeding.inspection_patterns(), HELD, seeding.names_of_a_year)
        store.close()
        for run in range(given.runs):
            for many in given.counts:
                (place / f"bare{run}.{many}").mkdir()
                fresh, bare = Ashbook(place / f"fresh{run}.{many}"), Bare(place / f"bare{run}.{many}")
                empty.run(fresh, bare, many)
                fresh.close()
                with loaded(place / "full") as server:
                    full.run(server, bare, many)
                bare.close()
            (place / f"steps{run}").mkdir()
            fresh, bare = Ashbook(place / f"fresh{run}"), Bare(place / f"steps{run}")
            empty.run_steps(fresh, bare)
            fresh.close()
            with loaded(place / "full") as server:
                full.run_steps(server, bare)
            bare.close()
    tell(table, empty, "an empty server", given.counts)
    tell(table, full, f"one that holds {HELD:,}", given.counts)
    print(f"an inspection: {len(inspections.text_of(1).encode()):,} B as a change, "
          f"{len(compact(inspections.answers(1))):,} B of answers; packed alone {len(packed(inspections.answers(1)))} B")
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
