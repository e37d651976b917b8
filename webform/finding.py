"""Finds the filter that somebody on the telephone speaks of: by serial, truck, owner, work order, part number or report.

Promises: nothing is shown that does not stand in the books now (every find is held against the record itself, so neither an
index that lags nor an erased owner's name shows anything), and nothing is missing because the index lags by a little: what
moved last is read beside it. Filters that were joined are one. A search writes nothing, scans no table, and what it reads is
bounded, however many filters there are.
First the whole text is looked for, then each of its words, all of which some record of the filter must have; if nothing reads
so, what only begins so.
"""

from collections.abc import Iterable
from typing import Any, NamedTuple

from sync import lookup

from .checklist.book import first_lamport
from .checklist.void import is_void
from .find_words import Pattern, exactly, fits, keys_of, loosely, words_of
from .verdicts import Views

MOST_READ = 200  # finds that are followed to their filters; beyond it the desk is asked to type more
MOST_UNREAD = 500  # records that the index has not come to and that are read beside it, below a tenth of a second
MOST_WORDS = 6
REPORT_DIGITS = 4  # of a count in a report's number, at least


class Find(NamedTuple):
    """One filter: all records that are it, and its newest job, or the one whose paper was named; none while it has none."""

    filters: tuple[str, ...]
    job: str | None


class Finds(NamedTuple):
    """finds: the newest first. is_loose: nothing reads so, these begin so. is_more: there are others that were not read.

    is_behind: the index is so far behind, as after a restore, that something may be missing.
    """

    finds: list[Find]
    is_loose: bool
    is_more: bool
    is_behind: bool


class _Reached(NamedTuple):
    """What some records lead to. named: the jobs that were asked for themselves. is_more: where it was cut off."""

    filters: set[str]
    jobs: set[str]
    named: set[str]
    is_more: bool


class Finding:
    """Finding in the books of one shop (webform.shop.Shop)."""

    def __init__(self, shop: Any) -> None:
        self.shop, self.store, self.index = shop, shop.store, shop.index

    def find(self, typed: str) -> Finds:
        """What a typed text finds."""
        unread, is_behind = self.index.unread(MOST_UNREAD)
        words, whole = words_of(typed)[:MOST_WORDS], "".join(words_of(typed))
        for is_loose, meaning in ((False, exactly), (True, loosely)):
            for texts in ([whole] if whole else [], words if len(words) > 1 else []):
                sought = [meaning(text) for text in texts]
                reached = self._reached(sought, unread)
                if len(sought) > 1:
                    reached = self._with_all(reached, sought)
                elif texts and not is_loose:
                    of_report = self._of_report(whole)
                    reached = reached._replace(jobs=reached.jobs | of_report, named=reached.named | of_report)
                if reached.filters or reached.jobs:
                    return Finds(self._finds(reached), is_loose, reached.is_more, is_behind)
        return Finds([], False, False, is_behind)

    def _reached(self, sought: list[list[Pattern]], unread: dict[str, set[str]]) -> _Reached:
        """What one of the texts leads to: that which leads to the fewest, and is not cut off if any is not."""
        reached = [self._of_text(patterns, unread) for patterns in sought]
        return min(reached, key=lambda one: (one.is_more, len(one.filters) + len(one.jobs)),
                   default=_Reached(set(), set(), set(), False))

    def _of_text(self, patterns: list[Pattern], unread: dict[str, set[str]]) -> _Reached:
        """What the records lead to that one text means, as they stand."""
        records = self.index.records(patterns, MOST_READ + 1)
        records += [record for record, keys in unread.items() if record not in records and fits(keys, patterns)]
        views = [view for view in lookup.views(self.store, records[:MOST_READ]).values()
                 if fits(keys_of(view), patterns) and not (view["kind"] == "fitting" and is_void(view))]
        return self._follow(views, patterns, len(records) > MOST_READ)

    def _follow(self, views: list[dict[str, Any]], patterns: list[Pattern], is_more: bool) -> _Reached:
        """From the records to filters and jobs."""
        filters, jobs, named = set(), set(), set()
        for view in views:
            if view["kind"] == "job":
                jobs.add(view["record"])
                if fits(keys_of(view, "work_order"), patterns):
                    named.add(view["record"])
            elif view["kind"] == "filter":
                filters.add(view["record"])
            elif view["kind"] == "fitting":
                filters.update(_values(view, "filter"))
            else:
                field, there = ("owner", jobs) if view["kind"] == "owner" else ("model", filters)
                newest = self._newest(view["record"], field, MOST_READ + 1 - len(there))
                there.update(newest)
                is_more |= len(there) > MOST_READ
        return _Reached(filters, jobs, named, is_more)

    def _newest(self, target: str, field: str, most: int) -> list[str]:
        """The newest records whose field names the target; a record's name begins with the time when it was made."""
        if most <= 0:
            return []
        with self.store.working():
            return [str(row[0]) for row in self.store.rows("SELECT record FROM ref WHERE target = ? AND field = ? "
                                                           "ORDER BY record DESC LIMIT ?", (target, field, most))]

    def _of_report(self, number: str) -> set[str]:
        """The job of an issued report; number: folded, with or without the mark of its series."""
        found = set()
        if number[:4].isdecimal() and number.isascii():
            for end in range(4 + REPORT_DIGITS, len(number) + 1):
                if number[4:end].isdecimal() and len(number) - end in (0, 4) and end < 14:
                    with self.store.working():
                        rows = self.store.rows("SELECT number, job FROM issued_report WHERE year = ? AND count = ?",
                                               (int(number[:4]), int(number[4:end])))
                    found |= {str(job) for full, job in rows if "".join(words_of(full)).startswith(number)}
        return found

    def _with_all(self, reached: _Reached, sought: list[list[Pattern]]) -> _Reached:
        """Only the filters of which some record fits for each of the texts."""
        kept: set[str] = set()
        jobs: set[str] = set()
        for filters, of_group in self._groups(reached).items():
            views = lookup.views(self.store, {*filters, *of_group})
            more = [name for view in views.values() for field in ("owner", "model") for name in _values(view, field)]
            fittings = [name for one in filters for name in lookup.find(self.store, "fitting", "filter", one)]
            views.update(lookup.views(self.store, {*more, *fittings}))
            keys = set().union(*(keys_of(view) for view in views.values()))
            if all(fits(keys, patterns) for patterns in sought):
                kept.update(filters)
                jobs.update(reached.jobs & set(of_group))
        return reached._replace(filters=kept, jobs=jobs, named=reached.named & jobs)

    def _groups(self, reached: _Reached) -> dict[tuple[str, ...], list[str]]:
        """The filters that are one → all their jobs; a job without a filter stands under no filter, alone."""
        views = lookup.views(self.store, reached.jobs)
        of_job = {job: _values(view, "filter") for job, view in views.items()}
        wanted = reached.filters.union(*of_job.values())
        with self.store.working():
            around = list(self.store.rows_of("SELECT target, field, record FROM ref", "target", sorted(wanted)))
        linked = {target for target, field, _record in around if field in ("one", "other")}
        found: dict[tuple[str, ...], list[str]] = {}
        for one in sorted(wanted):
            if one in linked:
                group = tuple(self.shop.group(one)[0])
                found[group] = sorted({job for name in group for job in lookup.find(self.store, "job", "filter", name)})
            else:
                found[(one,)] = sorted(record for target, field, record in around
                                       if target == one and field == "filter" and record.startswith("job:"))
        loose = sorted(job for job, filters in of_job.items() if not filters)
        return {**found, **{("", job): [job] for job in loose}}

    def _finds(self, reached: _Reached) -> list[Find]:
        groups = self._groups(reached)
        views = lookup.views(self.store, [job for jobs in groups.values() for job in jobs])
        found: dict[Any, Find] = {}  # a job under two filters, which a person has to settle, is one find
        for filters, jobs in groups.items():
            job = _newest_of(views, reached.named & set(jobs)) or _newest_of(views, jobs)
            found.setdefault(job or filters, Find(tuple(one for one in filters if one.startswith("filter:")), job))
        return sorted(found.values(), key=lambda find: (first_lamport(views[find.job]) if find.job else -1, find.job or "",
                                               find.filters), reverse=True)


def _newest_of(views: Views, jobs: Iterable[str]) -> str | None:
    """The job that was opened last."""
    return max((job for job in jobs if job in views), key=lambda job: (first_lamport(views[job]), job), default=None)


def _values(view: dict[str, Any], field: str) -> list[str]:
    """The records that any standing answer of a field names."""
    answers = view["fields"].get(field, {"answers": []})["answers"]
    return sorted({answer["value"] for answer in answers if isinstance(answer["value"], str)})
