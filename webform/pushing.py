"""The pushes of all phones, one after the other, in a thread with a connection of its own.

They share one interpreter and SQLite lets one write at a time, so nothing is lost by it. What is gained: the next push finds
in memory what the last one has read (another connection's commit would make it read anew, a fifth of a push into 100,000
records), and pushes queue up instead of asking the database again and again whether it is free.
"""

import contextlib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from sync.log import Store, Unavailable

CACHE = "PRAGMA cache_size = -64000"  # kB: the indexes of 100,000 records and more


class Pushing:
    """The pushes into one store; before it is started, and where the database lets many write, each is done at once."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._thread: ThreadPoolExecutor | None = None

    def start(self) -> None:
        """From here on in a thread of its own."""
        if not self.store.is_postgresql:
            self._thread = ThreadPoolExecutor(1, thread_name_prefix="pushing")

    def stop(self) -> None:
        """Ends the thread after the pushes that it has in hand."""
        if self._thread is not None:
            self._thread.submit(self.store.close)
            self._thread.shutdown()
            self._thread = None

    def do(self, work: Callable[[], Any]) -> Any:
        """What the work gives or raises. Once the thread is told to end, the work is done where it is asked for."""
        thread, asked = self._thread, None
        if thread is not None:
            with contextlib.suppress(RuntimeError):  # it takes no more
                asked = thread.submit(self._done, work)
        return work() if asked is None else asked.result()

    def _done(self, work: Callable[[], Any]) -> Any:
        if self.store.db.is_closed():  # at first, and after one that broke
            with contextlib.suppress(Unavailable), self.store.working():
                self.store.rows(CACHE)
        return work()
