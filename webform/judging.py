"""Judges in the background what changed: after a push the jobs that it touched, after an upgrade all that still matter.

It follows the store: for each calculation a place in the log is kept, and moves on when the jobs behind it are judged. So a
new calculation begins at the start by itself, a stop or a kill costs one page, and nothing has to tell it what to do.
Several processes may do so at once; they see each other's work and nobody's requests wait: nothing is judged inside a
transaction, it rests as long as it works, and while a phone's request is at work it stands still, at the next job at the
latest: else a push would share the interpreter with it and take nearly twice as long. Under requests without an end it still
comes on, a step each LONGEST_WAIT_S: a job is read, then judged.
"""

import datetime
import logging
import threading
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from sync import lookup
from sync.log import STANDING, Store, Unavailable, snapshot_of

from .verdicts import alone

PAGE = 200
TOGETHER = 10  # jobs that are judged between two rests, and written in one transaction, which lasts a few milliseconds
INDEX_PAGES = 20  # of the index between two pages of jobs
QUIET_S = 0.3  # without a request before the next job is judged: a phone with a full outbox sends one after the other
LONGEST_WAIT_S = 2.0  # that one step of a job waits for requests
LONGEST_REST_S = 0.5
LOOK_AGAIN_S = 20.0  # for what other processes took in
RECENT_DAYS = 90
# Records of which any job may have been made, without a reference that leads back from them.
WIDE = ("person", "shop", "instrument", "bench_check", "scale_check")


class Judging:
    """The background of one shop (webform.shop.Shop)."""

    def __init__(self, shop: Any) -> None:
        self.shop, self.store, self.calculation = shop, shop.store, shop.calculation
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread: threading.Thread | None = None
        self._free, self._at_work, self._last_ended = threading.Condition(), 0, -QUIET_S

    @contextmanager
    def giving_way(self) -> Iterator[None]:
        """In here a request is at work that nothing in the background slows down."""
        with self._free:
            self._at_work += 1
        try:
            yield
        finally:
            with self._free:
                self._at_work -= 1
                self._last_ended = time.monotonic()
                self._free.notify_all()

    def _wait_for_requests(self) -> None:
        latest = time.monotonic() + LONGEST_WAIT_S
        with self._free:
            while not self._stop.is_set() and (left_s := self._quiet_in_s()) > 0.0 and time.monotonic() < latest:
                self._free.wait(min(left_s, latest - time.monotonic()))

    def _quiet_in_s(self) -> float:
        """Seconds until requests have been quiet for long enough, should none come."""
        return LONGEST_WAIT_S if self._at_work else self._last_ended + QUIET_S - time.monotonic()

    def start(self) -> None:
        """Begins to judge in a thread of its own."""
        self._thread = threading.Thread(target=self._run, name="judging", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Ends the thread after the jobs that it has in hand."""
        self._stop.set()
        self._wake.set()
        with self._free:
            self._free.notify_all()
        if self._thread is not None:
            self._thread.join()

    def wake(self) -> None:
        """Says that something came in."""
        self._wake.set()

    def left(self) -> int:
        """How many jobs have not been looked at since they changed, or since the calculation did."""
        with self.store.working():
            place = self.store.rows("SELECT position FROM verdict_place WHERE calculation = ?", (self.calculation,))
            return int(self.store.rows("SELECT COUNT(*) FROM snapshot WHERE kind = 'job' AND position > ?",
                                       (place[0][0] if place else 0,))[0][0])

    def catch_up(self) -> None:
        """Judges until nothing is left, or until it is stopped; the desk's index (find_index.py) goes along."""
        while not self._stop.is_set() and (self._index() | self.step()):
            pass

    def _index(self) -> bool:
        """Reads some pages of the index as one judges: still while a request is at work, at rest after each page."""
        page = 0
        while page < INDEX_PAGES and not self._stop.is_set() and self.shop.index.is_behind():
            self._wait_for_requests()
            began = time.monotonic()
            self.shop.index.step()
            page += 1
            if self._thread is not None:
                self._stop.wait(min(time.monotonic() - began, LONGEST_REST_S))
        return page > 0

    def step(self) -> bool:
        """Looks at the next page of what changed; whether there was one."""
        position, target = self._place()
        if position < target:
            jobs, end = self._page_of_all(position, target)
        else:
            jobs, end = self._page_of_changes(position)
            if end == position:
                return False
        if not self._judge(jobs):
            return False
        with self.store.working(), alone(self.store):  # where another process was quicker, it stays where that one put it
            self.store.rows("UPDATE verdict_place SET position = ? WHERE calculation = ? AND position = ?",
                            (end, self.calculation, position))
        if position < target <= end:
            self._forget_other_calculations()
        return True

    def _run(self) -> None:
        while not self._stop.is_set():
            self._wake.clear()
            try:
                self.catch_up()
            except Unavailable:
                pass  # requests say so; it goes on when the database does
            finally:
                self.store.close()
            self._wake.wait(LOOK_AGAIN_S)

    def _place(self) -> tuple[int, int]:
        """(how far it has come, the end of the log when this calculation began)."""
        question = "SELECT position, target FROM verdict_place WHERE calculation = ?"
        with self.store.working():
            rows = self.store.rows(question, (self.calculation,))
            if not rows:
                end = self.store.counter()["position"]
                with alone(self.store):
                    self.store.rows("INSERT INTO verdict_place (calculation, position, target) VALUES (?, 0, ?) "
                                    "ON CONFLICT (calculation) DO NOTHING", (self.calculation, end))
                rows = self.store.rows(question, (self.calculation,))
        return int(rows[0][0]), int(rows[0][1])

    def _page_of_all(self, position: int, target: int) -> tuple[list[str], int]:
        """The jobs among the next ones that still matter, and where the page ends."""
        with self.store.working():
            rows = self.store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE kind = 'job' AND position > ? "
                                   "AND position <= ? ORDER BY position LIMIT ?", (position, target, PAGE))
            recent = recent_from(self.store)
        reported = self.shop.issued.jobs_among(row[0] for row in rows)
        jobs = [row[0] for row in rows
                if row[2] >= recent or row[0] in reported or not snapshot_of(*row)["heads"].get("signoff")]
        return jobs, int(rows[-1][2]) if len(rows) == PAGE else target

    def _page_of_changes(self, position: int) -> tuple[list[str], int]:
        """The jobs that the next changed records have to do with, and where the page ends."""
        with self.store.working():
            rows = self.store.rows(f"SELECT record, kind, position, json FROM {STANDING} WHERE position > ? "
                                   "ORDER BY position LIMIT ?", (position, PAGE))
        if not rows:
            return [], position
        found: dict[str, None] = {}
        if any(row[1] in WIDE for row in rows):
            found.update(dict.fromkeys(self._live()))
        for row in rows:
            found.update(dict.fromkeys(self._jobs_of(row[0], row[1], snapshot_of(*row)["heads"])))
        return list(found), int(rows[-1][2])

    def _jobs_of(self, record: str, kind: str, heads: dict[str, Any]) -> Iterable[str]:
        """The jobs that a changed record feeds, the record itself among them where it is one."""
        named = [answer["value"] for field in ("filter", "job", "one", "other", "box") for answer in heads.get(field, [])
                 if isinstance(answer["value"], str)]
        if kind == "round":
            yield from named
            yield from self._jobs_around(self._names(named, "filter"))
        elif kind == "job":
            yield record
            yield from self._jobs_around(named)  # the other jobs of its filter read it too
        elif kind in ("tag", "link"):
            yield from self._jobs_around(named)
        elif kind == "filter":
            yield from self._jobs_around([record, *named])
        elif kind == "model":
            yield from self._jobs_around(lookup.find(self.store, "filter", "model", record))

    def _jobs_around(self, filters: list[str]) -> Iterable[str]:
        """The jobs of some filters, under any of their names, and those of the one-boxes that they are bricks of."""
        one_each = {one for name in filters for one in self.shop.group(name)[0]}
        one_each |= {one for box in self._names(sorted(one_each), "box") for one in self.shop.group(box)[0]}
        for name in sorted(one_each):
            yield from lookup.find(self.store, "job", "filter", name)

    def _names(self, records: list[str], field: str) -> list[str]:
        """The records that any standing answer in a reference field of these names, sorted."""
        held = [view["fields"].get(field, {"answers": []}) for view in lookup.views(self.store, records).values()]
        return sorted({answer["value"] for entry in held for answer in entry["answers"] if isinstance(answer["value"], str)})

    def _live(self) -> list[str]:
        """The judged jobs that are open, moved not long ago, or have a report in somebody's hands."""
        with self.store.working():
            return [row[0] for row in self.store.rows(
                "SELECT job FROM verdict WHERE calculation = ? AND (is_open = 1 OR moved >= ? "
                "OR job IN (SELECT job FROM issued_report))", (self.calculation, recent_from(self.store)))]

    def _judge(self, jobs: list[str]) -> bool:
        """Whether all were judged before it was stopped."""
        for start in range(0, len(jobs), TOGETHER):
            if self._stop.is_set():
                return False
            began = time.monotonic()
            self._judge_some(jobs[start:start + TOGETHER])
            if self._thread is not None:
                self._stop.wait(min(time.monotonic() - began, LONGEST_REST_S))
        return True

    def _judge_some(self, jobs: list[str]) -> None:
        try:
            self.shop.judge(jobs, self._wait_for_requests)
        except Unavailable:
            raise
        except Exception:  # whatever one job's answers may do, the others are judged
            if len(jobs) == 1:
                logging.getLogger(__name__).exception("%s could not be judged", jobs[0])
            else:
                for job in jobs:
                    self._judge_some([job])

    def _forget_other_calculations(self) -> None:
        """Drops what older calculations said, a little at a time."""
        with self.store.working():
            others = [row[0] for row in self.store.rows("SELECT calculation FROM verdict_place WHERE calculation <> ?",
                                                        (self.calculation,))]
        for other in others:
            rows = [("",)]
            while rows and not self._stop.is_set():
                with self.store.working(), alone(self.store):
                    rows = self.store.rows("SELECT job FROM verdict WHERE calculation = ? LIMIT ?", (other, PAGE))
                    for table in ("verdict", "verdict_asks"):
                        self.store.write_many(f"DELETE FROM {table} WHERE calculation = ? AND job = ?",
                                              [(other, row[0]) for row in rows])
                    if not rows:
                        self.store.rows("DELETE FROM verdict_place WHERE calculation = ?", (other,))


def recent_from(store: Store, days: int = RECENT_DAYS) -> int:
    """The first position that this server gave in the last days, by halving: its own clock, no phone's."""
    wanted = (datetime.datetime.now(datetime.UTC) - datetime.timedelta(days=days)).strftime("%Y-%m-%dT%H:%M:%S")
    low, high = 1, int(store.rows("SELECT position FROM counter WHERE number = 1")[0][0]) + 1
    while low < high:
        middle = (low + high) // 2
        rows = store.rows("SELECT received_at FROM change_log WHERE position = ?", (middle,))
        if rows and rows[0][0] >= wanted:
            high = middle
        else:
            low = middle + 1
    return low
