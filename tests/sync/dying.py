"""A process that works on a store and is killed at its n-th statement: python -m tests.sync.dying URL N upgrade|decide.

Ends with 0 where there was no n-th statement.
"""

import os
import signal
import sys

from sync import exchange, versions
from sync.change import Pen
from sync.exchange import Entry
from sync.log import Store

from .making import open_store


def decide(store: Store) -> None:
    """Two changes of one decision: that two filters are one, and where their tag leads."""
    exchange.write_all(store, Pen("desk"), [Entry("link:l", {"one": "filter:a", "other": "filter:b"}, {}),
                                            Entry("tag:t", {"filter": "filter:a"}, {})], "person:ana")


def main(url: str, n: int, work: str) -> None:
    """Does the work, unless killed before."""
    store = open_store(url, is_as_found=True)
    left, real_rows, real_many = n, Store.rows, Store.write_many

    def counted(real):
        def run(self, sql, values=()):
            nonlocal left
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return real(self, sql, values)
        return run

    Store.rows, Store.write_many = counted(real_rows), counted(real_many)
    {"upgrade": versions.upgrade, "decide": decide}[work](store)
    store.close()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), sys.argv[3])
