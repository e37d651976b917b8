"""Measures the push against the bare limit of the same machine in the same run. python tests/bench/bench_sync.py

The bare limit: one POST of the same bytes to the same kind of server in a process of its own, parsed as JSON, one
SQLite transaction with synchronous=FULL of one row each. Runs are interleaved; medians are told.
"""

import argparse
import gzip
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

CHANGES = 1_000
FACTOR = 6.0
JOB_FACTOR = 2.0


def serve(kind: str, folder: str) -> None:
    """Serves one of the two on a free port with waitress, and prints the port."""
    from waitress.server import create_server

    app = bare_app(folder) if kind == "bare" else sync_app(folder, kind)
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    print(server.effective_port, flush=True)
    server.run()


def bare_app(folder):
    """What cannot be done without: take the bytes, unpack, parse, one row each in one transaction, answer."""
    import apsw

    count = 0

    def app(environ, start_response):
        nonlocal count
        count += 1
        body = environ["wsgi.input"].read()
        request = json.loads(gzip.decompress(body) if environ.get("HTTP_CONTENT_ENCODING") == "gzip" else body)
        connection = apsw.Connection(f"{folder}/bare.db")
        connection.pragma("journal_mode", "wal")
        connection.pragma("synchronous", 2)
        connection.execute("CREATE TABLE IF NOT EXISTS row (number INTEGER PRIMARY KEY, text TEXT)")
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT INTO row (text) VALUES (?)", [(text,) for text in request["changes"]])
        connection.execute("COMMIT")
        connection.close()
        answer = json.dumps({"stored": len(request["changes"])}).encode()
        start_response("200 OK", [("Content-Type", "application/json"), ("Content-Length", str(len(answer)))])
        return [answer]

    return app


def sync_app(folder, kind):
    """The real thing behind the same server; "checked" with the declaration's check of every answer."""
    from sync import wire
    from sync.log import Store
    from webform.checklist import check, lookup

    store = Store(f"sqlite:///{folder}/{kind}.db", ref_fields=lookup.ref_fields)
    accept = check.refusal if kind == "checked" else None

    def app(environ, start_response):
        body = environ["wsgi.input"].read()
        status, answer = wire.answer_push(store, "bench", body, environ.get("HTTP_CONTENT_ENCODING"), accept)
        packed, headers = wire.packed(answer, environ.get("HTTP_ACCEPT_ENCODING"))
        start_response(f"{status} x", [*headers.items(), ("Content-Length", str(len(packed)))])
        return [packed]

    return app


def change_texts(run: str, jobs: int, per_job: int) -> list[str]:
    """Texts of invented readings: a slot of a job each, as a phone queues them."""
    from sync.change import make_change, to_text

    slots = ("before.visual", "before.weight", "before.rod", "before.flow", "after.weight", "after.flow")
    cells = [{"zone": n % 12 + 1, "feel": "soft", "depth": {"n": "170", "u": "mm"}} for n in range(12)]
    readings = {
        "visual": lambda number: {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"},
        "weight": lambda number: {"mass": {"n": str(14_000 + number % 500), "u": "g"}, "fitted": ["adapter"],
                                  "temperature": "cold", "moisture": "dry"},
        "rod": lambda number: {"full_depth": {"n": "290", "u": "mm"}, "cells": cells},
        "flow": lambda number: {"drop": {"n": f"2.{number % 100:02d}", "u": "inH2O"}, "bench": "good"},
    }
    texts = []
    for job in range(jobs):
        for n in range(per_job):
            number = job * per_job + n
            slot = slots[number % len(slots)]
            before = [f"bench.{run}.{number - len(slots)}"] if n >= len(slots) else []
            reading = readings[slot.partition(".")[2]](number)
            change = make_change(f"bench.{run}.{number}", f"job:{run}x{job}", {slot: reading}, lamport=number,
                                 at="2026-11-25T17:40:00.000Z", by="person:invented", replaces={slot: before})
            texts.append(to_text(change))
    return texts


def timed_push(port: int, texts: list[str]) -> float:
    """Seconds from the packed bytes at hand to the whole answer read."""
    from sync.change import content_hash

    body = json.dumps({"schema": 1, "changes": texts, "hashes": [content_hash(text) for text in texts]}).encode()
    packed = gzip.compress(body, 6)
    request = urllib.request.Request(f"http://127.0.0.1:{port}/push", packed, {"Content-Encoding": "gzip"})
    start = time.perf_counter()
    with urllib.request.urlopen(request, timeout=60) as answer:
        body = answer.read()
    seconds = time.perf_counter() - start
    received = json.loads(body)
    assert all(receipt["status"] == "stored" for receipt in received.get("receipts", [])), received["receipts"][:2]
    return seconds


def main() -> int:
    """Prints the medians and the two factors; the exit code says whether they hold."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--serve", choices=["bare", "sync", "checked"])
    parser.add_argument("--folder")
    parser.add_argument("--runs", type=int, default=11)
    options = parser.parse_args()
    if options.serve:
        serve(options.serve, options.folder)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        servers = {kind: subprocess.Popen([sys.executable, __file__, "--serve", kind, "--folder", folder],
                                          stdout=subprocess.PIPE, text=True) for kind in ("bare", "sync", "checked")}
        try:
            ports = {kind: int(server.stdout.readline()) for kind, server in servers.items()}
            seconds: dict[str, list[float]] = {"bare": [], "push": [], "checked": [], "one job": [], "many jobs": []}
            for run in range(options.runs + 1):
                texts = change_texts(f"r{run}", CHANGES, 1)
                measured = {"bare": timed_push(ports["bare"], texts), "push": timed_push(ports["sync"], texts),
                            "checked": timed_push(ports["checked"], texts),
                            "one job": timed_push(ports["sync"], change_texts(f"o{run}", 1, 500)),
                            "many jobs": timed_push(ports["sync"], change_texts(f"m{run}", 500, 1))}
                if run:  # the first warms up
                    for name, value in measured.items():
                        seconds[name].append(value)
        finally:
            for server in servers.values():
                server.terminate()
                server.wait()
    medians = {name: statistics.median(found) for name, found in seconds.items()}
    for name, median in medians.items():
        spread = f"{min(seconds[name]) * 1000:.0f}..{max(seconds[name]) * 1000:.0f}"
        print(f"{name:10} median {median * 1000:7.1f} ms   ({spread} ms, {options.runs} runs)")
    factor, checked_factor = medians["push"] / medians["bare"], medians["checked"] / medians["bare"]
    job_factor = medians["one job"] / medians["many jobs"]
    print(f"push of {CHANGES:,} changes: {factor:.2f} x the bare limit (at most {FACTOR})")
    print(f"the same with the declaration's check of every answer: {checked_factor:.2f} x")
    print(f"a job with 500 changes: {job_factor:.2f} x 500 jobs with one (at most {JOB_FACTOR})")
    return 0 if factor <= FACTOR and job_factor <= JOB_FACTOR else 1


if __name__ == "__main__":
    sys.path.insert(0, os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__)))))
    sys.exit(main())
