"""Measures 20 phones that push at once. python -m tests.bench.bench_crowd

Each of 20 enrolled phones pushes 100 inspections in 10 requests, all begin together: on SQLite with one real
`ashbook serve`, and on PostgreSQL with four of them on the same books, phones spread over their ports. No error may
reach a phone, and every change must be confirmed and be in the log once. Baseline: the same requests one after the other.
"""

import argparse
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from tests.sync.conftest import Cluster
from webform.shop import open_store

from . import inspections
from .serving import Ashbook, Line, posted, push_body
from .telling import Table

PHONES, REQUESTS, CHANGES = 20, 10, 10


def bodies_of(run, phone):
    """The requests of one phone."""
    first = (run * PHONES + phone) * 1_000
    return [push_body(inspections.texts(first + part * CHANGES, CHANGES, f"phone-{phone}", f"c{run}"))
            for part in range(REQUESTS)]


def push_all(server, headers, bodies, delays, problems):
    """One phone's day; what goes wrong is noted."""
    try:
        line = Line(server.port)
        for body in bodies:
            took, _, answer = posted(line, "/sync/push", body, headers)
            delays.append(took)
            assert all(receipt["status"] == "stored" for receipt in answer["receipts"]), answer["receipts"]
    except Exception as trouble:  # whatever it is, a phone has seen it
        problems.append(repr(trouble))


def one_run(run, servers, phones, found):
    """All at once, and as many requests one after the other."""
    for kind in ("at once", "in turn"):
        days = [bodies_of(run if kind == "at once" else run + 500, phone) for phone in range(PHONES)]
        notes = found["delays " + kind], found["problems"]
        threads = [threading.Thread(target=push_all, args=(servers[n % len(servers)], phones[n], days[n], *notes))
                   for n in range(PHONES)]
        start = time.perf_counter()
        for thread in threads:
            thread.start()
            if kind == "in turn":
                thread.join()
        for thread in threads:
            thread.join()
        found[kind].append(time.perf_counter() - start)


def measure(table, what, folder, database, processes, runs):
    """The lines of one database."""
    servers = [Ashbook(folder, database) for _ in range(processes)]
    phones = [servers[0].enrolled(f"phone {n}") for n in range(PHONES)]
    found = {name: [] for name in ("at once", "in turn", "delays at once", "delays in turn", "problems")}
    for run in range(runs + 1):
        one_run(run, servers, phones, found)
        if run == 0:  # the first warms up; its problems stay
            for name in ("at once", "in turn", "delays at once", "delays in turn"):
                found[name].clear()
    store = open_store(folder, database)
    sent = (runs + 1) * 2 * PHONES * REQUESTS * CHANGES
    missing = sent - store.counter()["position"]
    store.close()
    for server in servers:
        server.close()
    many = PHONES * REQUESTS * CHANGES
    table.times(f"{PHONES} phones at once, {many:,} inspections, {what}", found["at once"], found["in turn"])
    table.count("  errors that reached a phone", len(found["problems"]), 0)
    table.count(f"  of {sent:,} changes not in the log", abs(missing), 0)
    table.count("  one request of 10, median", statistics.median(found["delays at once"]) * 1000,
                baseline=f"{statistics.median(found['delays in turn']) * 1000:.1f} ms", unit=" ms")
    table.count("  one request of 10, longest", max(found["delays at once"]) * 1000, unit=" ms")
    for problem in found["problems"][:5]:
        print("    " + problem[:300])


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory(prefix="bench-crowd-") as folder:
        measure(table, "SQLite", Path(folder) / "sqlite", None, 1, given.runs)
        cluster = Cluster()
        try:
            measure(table, "PostgreSQL, 4 processes", Path(folder) / "postgresql", cluster.new_url(), 4, given.runs)
        finally:
            cluster.stop()
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
