"""Measures a push while jobs wait to be judged against the same push with none. python -m tests.bench.bench_judging

The real server on a copy of one folder with 2,000 inspections, all open: either nothing of them is judged, as after an
upgrade, or the background has nothing to do. Then 1,000 inspections are pushed in one request and, after that, one by one.
How long the background alone takes for the 2,000 is told too. Medians of interleaved runs.
"""

import argparse
import json
import shutil
import sys
import tempfile
import time
from pathlib import Path

from webform.shop import open_store

from . import inspections, seeding
from .serving import Ashbook, Line, posted, push_body
from .telling import Table

WAITING, PUSHED, SINGLE = 2_000, 1_000, 20
FACTOR = 1.25


def left(server):
    """How many jobs wait."""
    return json.loads(Line(server.port).ask("GET", "/health")[2])["verdicts"]["left"]


def measure(folder, turn, is_waiting, found):
    """One server on its own copy: a push of 1,000, then 20 of one; found: {(what, is_waiting): seconds}."""
    if not is_waiting:
        seeding.call_it_judged(folder)
    server = Ashbook(folder)
    try:
        before, line = left(server), Line(server.port)
        body, worked = push_body(inspections.texts(turn * 100_000, PUSHED, run=f"j{turn}{is_waiting}")), server.worked()
        took, _size, answer = posted(line, "/sync/push", body, server.cookie)
        assert all(receipt["status"] == "stored" for receipt in answer["receipts"])
        found.setdefault(("thousand", is_waiting), []).append(took)
        found.setdefault(("cpu", is_waiting), []).append(server.worked() - worked)
        after = left(server)
        for single in range(SINGLE):
            body = push_body(inspections.texts(turn * 100_000 + 50_000 + single, 1, run=f"k{turn}{is_waiting}"))
            found.setdefault(("one", is_waiting), []).append(posted(line, "/sync/push", body, server.cookie)[0])
        assert not is_waiting or after > PUSHED, f"{before} waited, {after} after it: nothing was judged beside the push"
        if is_waiting:
            began, most = time.monotonic(), left(server)
            while waiting := left(server):
                assert time.monotonic() - began < 600, waiting
                time.sleep(0.1)  # polls a condition
            found.setdefault("rate", []).append(most / (time.monotonic() - began))
    finally:
        server.close()


def main() -> int:
    """Prints the table; the exit code says whether the limit holds."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    found, table = {}, Table()
    with tempfile.TemporaryDirectory(prefix="bench-judging-") as held:
        place = Path(held)
        (place / "seeded").mkdir()
        store = open_store(place / "seeded")
        seeding.seed(store, seeding.inspection_patterns(), WAITING, seeding.names_of_a_year)
        store.rows("PRAGMA wal_checkpoint(TRUNCATE)")
        store.close()
        for turn in range(given.runs):
            for is_waiting in (True, False) if turn % 2 else (False, True):
                shutil.copytree(place / "seeded", place / f"{turn}{is_waiting}")
                measure(place / f"{turn}{is_waiting}", turn, is_waiting, found)
                shutil.rmtree(place / f"{turn}{is_waiting}")
    table.times(f"push of {PUSHED:,} while {WAITING:,} jobs wait, against none", found["thousand", True],
                found["thousand", False], FACTOR)
    table.times("  processor time of the server meanwhile", found["cpu", True], found["cpu", False])
    table.times("push of one right after it, against none", found["one", True], found["one", False])
    table.count("jobs judged a second once nobody pushes", sorted(found["rate"])[len(found["rate"]) // 2])
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
