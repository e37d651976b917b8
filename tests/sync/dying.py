"""A process that upgrades a store and is killed at its n-th statement: python -m tests.sync.dying URL N.

Ends with 0 where there was no n-th statement.
"""

import os
import signal
import sys

from sync import versions
from sync.log import Store

from .making import open_store


def main(url: str, n: int) -> None:
    """Upgrades, unless killed before."""
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
    versions.upgrade(store)
    store.close()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
