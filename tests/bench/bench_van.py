"""Measures a van's link, 150 ms round trip and 2 Mbit/s each way (van.py). python -m tests.bench.bench_van

The reference client against the real server through the link: push of 1,000 inspections, a fresh pull of 1,000, and 10
changes made elsewhere; against one gzipped POST of the same JSON through the same kind of link to the bare server.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

from sync.change import content_hash
from sync.client import Client, http_post
from sync.json_text import strict_json

from . import inspections
from .serving import Ashbook, Bare, Line, packed, posted, push_body
from .telling import Table
from .van import Van

MANY, NEWS = 1_000, 10
FACTOR, ROUND_TRIPS = 1.3, 3


def counted(post):
    """The same way to post, with a list of the routes that were asked."""
    asked = []

    def also(route, body):
        asked.append(route)
        return post(route, body)

    return also, asked


def client(folder, name, van, server):
    """(client with an empty file, the requests that it made)."""
    post, asked = counted(http_post(f"http://127.0.0.1:{van.port}/sync", server.cookie, 600))
    return Client(str(folder / name), name, post), asked


def queue_up(phone, texts):
    """Puts inspections into a client's outbox, as a day of writing would have."""
    with phone.disk:
        phone.disk.executemany("INSERT INTO outbox (id, hash, record, text, status) VALUES (?, ?, ?, ?, 'waiting')", [
            (strict_json(text)["id"], content_hash(text), "job:queued", text) for text in texts])


def timed(action):
    """Seconds that it takes."""
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def one_run(folder, run, found):
    """One new server, one push, one pull, one round of news; the bare POST between them."""
    server, bare = Ashbook(folder / f"shop{run}"), Bare(folder)
    van, bare_van = Van(server.port), Van(bare.port)
    texts = inspections.texts(run * 100_000, MANY, run=f"v{run}")
    body = packed({"changes": texts})
    http_post(f"http://127.0.0.1:{server.port}/sync", server.cookie)("pull", b'{"cursor": null}')  # warms the server up
    posted(Line(bare.port), "/", packed({"changes": []}))
    found["bare"].append(timed(lambda: posted(Line(bare_van.port), "/", body)))
    sender, _ = client(folder, f"sender{run}", van, server)
    queue_up(sender, texts)
    found["push"].append(timed(sender.push))
    assert sender.waiting() == [] and sender.held() == []
    reader, pulls = client(folder, f"reader{run}", van, server)
    before = van.down.bytes
    found["pull"].append(timed(reader.pull))
    assert len(reader.records()) == MANY
    found["pulled bytes"] = [van.down.bytes - before]
    found["bare"].append(timed(lambda: posted(Line(bare_van.port), "/", body)))
    news = inspections.texts(run * 100_000 + 50_000, NEWS, run=f"w{run}")
    posted(Line(server.port), "/sync/push", push_body(news), server.cookie)
    pulls.clear()
    taken = van.taken
    found["news"].append(timed(reader.pull))
    assert len(reader.records()) == MANY + NEWS
    found["news round trips"].append(len(pulls) + van.taken - taken)
    for one in (sender, reader, van, bare_van, server, bare):
        one.close()


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    table = Table()
    found = {name: [] for name in ("bare", "push", "pull", "news", "news round trips")}
    with tempfile.TemporaryDirectory(prefix="bench-van-") as folder:
        for run in range(given.runs):
            one_run(Path(folder), run, found)
    table.times(f"push of {MANY:,} inspections through a van's link", found["push"], found["bare"], FACTOR)
    table.times(f"fresh pull of {MANY:,}", found["pull"], found["bare"], FACTOR)
    table.count("  bytes of that pull, down", found["pulled bytes"][0], unit=" B")
    table.times(f"{NEWS} changes made elsewhere reach an up-to-date client", found["news"], found["bare"])
    table.count("  round trips (one for a connection, one for each request)", max(found["news round trips"]), ROUND_TRIPS)
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
