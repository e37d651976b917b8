"""Moves what SQLite's journal holds into the database itself, beside the requests instead of inside one of them.

A commit is on disk when the journal is; moving its pages to their places took as long again as the rest of a push of 1,000
into a store of 100,000. A passive checkpoint waits for nobody and nobody waits for it. Where none runs (commands, a stopped
thread) SQLite does it itself once the journal holds log.LONGEST_JOURNAL pages.
"""

import threading

from .log import Store, Unavailable

QUIET_S = 0.3
LONGEST_WAIT_S = 3.0


class Tidying:
    """The background of one store. PostgreSQL has its own."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="tidying", daemon=True)

    def start(self) -> None:
        """Begins, in a thread of its own."""
        if not self.store.is_postgresql:
            self._thread.start()

    def stop(self) -> None:
        """Ends the thread."""
        self._stop.set()
        self.store.written.set()
        if self._thread.ident is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                self.store.written.wait()
                self._await_quiet()
                try:
                    tidy(self.store)
                except Unavailable:  # a full disk, say: the journal keeps what it has, the next write wakes this again
                    continue
        finally:
            self.store.close()

    def _await_quiet(self) -> None:
        """Until nothing was written for a moment; a long rush is not waited for."""
        waited_s = 0.0
        while waited_s < LONGEST_WAIT_S and self.store.written.is_set() and not self._stop.is_set():
            self.store.written.clear()
            self._stop.wait(QUIET_S)
            waited_s += QUIET_S
        self.store.written.clear()


def tidy(store: Store) -> int:
    """Moves what can be moved now; the number of journal pages that were left."""
    with store.working():
        _is_busy, pages, moved = store.rows("PRAGMA wal_checkpoint(PASSIVE)")[0]
    return int(pages - moved)
