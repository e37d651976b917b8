"""Measures looking things up by the number of filters. python -m tests.bench.bench_lookup [--large]

HTTP medians of look-up by tag and by what the desk's search field takes, of a job's page and today's list on the real
server, 1,000 filters against 100,000 (--large: and 1,000,000), each filter with its tag and one job, two on a truck, ten of
an owner. Each request names another filter, so that none is remembered.
That no statement scans a table is shown by tests/test_query_plans.py.
"""

import argparse
import re
import sys
import tempfile
import time
import urllib.parse
from pathlib import Path

from webform.shop import open_store

from . import seeding
from .seeding import OF_ONE_TRUCK, OWNER_NAME, SERIAL, desk_names
from .serving import PASSWORD, Ashbook, Line
from .telling import Table, tag_of

FACTOR = 1.5


def sought(text):
    return "/office/find?text=" + urllib.parse.quote(text)


# what is measured: the address for a filter, and the status of its answer
PAGES = {
    "look-up by tag": (lambda n: sought(tag_of(n)), 302), "job page": (lambda n: f"/office/jobs/{n:016d}", 200),
    "today's list": (lambda n: "/office/", 200),
    "find by serial": (lambda n: sought(desk_names(n)[SERIAL]), 302),
    "find by its last six": (lambda n: sought(f"{n:06d}"), 302),
    "find by work order": (lambda n: sought(f"wo {n:07d}"), 302),
    "find by truck, two filters": (lambda n: sought(f"kx-t{n // OF_ONE_TRUCK:06d}"), 200),
    "find by owner, ten filters": (lambda n: sought(desk_names(n)[OWNER_NAME].split()[1]), 200),
    "find by owner and truck": (lambda n: sought(f"{desk_names(n)[OWNER_NAME].split()[1]} t{n // OF_ONE_TRUCK:06d}"), 200),
    "find nothing": (lambda n: sought(f"no such {n}"), 404),
    "find by a word of every owner": (lambda n: sought("haulage"), 200),
}


class Desk:
    """One shop of so many filters, served, with a signed-in desk."""

    def __init__(self, folder, many):
        data = folder / f"shop{many}"
        data.mkdir()
        store = open_store(data)
        seeding.seed(store, seeding.desk_patterns(), many, desk_names)
        store.close()
        seeding.call_it_judged(data)
        start = time.perf_counter()
        seeding.note_words(data)
        print(f"{many:,} filters: their words noted in {time.perf_counter() - start:.0f} s", flush=True)
        self.many, self.found = many, {name: [] for name in PAGES}
        self.server = Ashbook(data)

    def sign_in(self):
        """As a person does, with the form's token; on a new connection, as an idle one ends while the next shop is filled."""
        self.line = Line(self.server.port)
        _, headers, page = self.line.ask("GET", "/office/login")
        cookie = headers["Set-Cookie"].split(";")[0]
        given = {"csrf_token": re.search(rb'csrf_token" value="([^"]+)', page).group(1).decode(), "name": "office",
                 "password": PASSWORD}
        status, headers, _ = self.line.ask("POST", "/office/login", urllib.parse.urlencode(given).encode(), {
            "Content-Type": "application/x-www-form-urlencoded", "Cookie": cookie})
        assert status == 302
        self.headers = {"Cookie": headers["Set-Cookie"].split(";")[0]}

    def ask(self, name, number):
        """One request, timed."""
        path = PAGES[name][0](number)
        start = time.perf_counter()
        status, _, page = self.line.ask("GET", path, headers=self.headers)
        self.found[name].append(time.perf_counter() - start)
        assert status == PAGES[name][1], (path, status, page[:200])


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=21)
    parser.add_argument("--large", action="store_true", help="also 1,000,000 filters (about 6 GB of disk, minutes)")
    given = parser.parse_args()
    table = Table()
    with tempfile.TemporaryDirectory(prefix="bench-lookup-") as folder:
        desks = [Desk(Path(folder), many) for many in (1_000, 100_000, *([1_000_000] if given.large else []))]
        for desk in desks:  # the first page makes the templates and reads the index of open fields
            desk.sign_in()
            for name in PAGES:
                desk.ask(name, 0)
                desk.found[name].clear()
        for desk in desks:  # the first page of the largest takes longer than an idle connection lasts
            desk.line = Line(desk.server.port)
        for run in range(1, given.runs + 1):
            for name in PAGES:
                for desk in desks:
                    desk.ask(name, run * desk.many // (given.runs + 1))
        for desk in desks[1:]:
            for name in PAGES:
                table.times(f"{name}, {desk.many:,} filters against {desks[0].many:,}", desk.found[name],
                            desks[0].found[name], FACTOR)
        for desk in desks:
            desk.server.close()
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
