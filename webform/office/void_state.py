"""What can be voided on the page of a job, and what stands about it."""

from typing import Any

from ..checklist import void
from ..checklist.book import Book, first_lamport
from ..checklist.evidence import digest_of
from ..checklist.fittings import fittings
from ..shop import standing_ids, value
from .wording import name_of, say


def voidable(views: dict[str, dict[str, Any]], job: str) -> list[dict[str, Any]]:
    """What can be voided on the page of a job, the job first: {"record", "title", "void", "seen", "ids"}."""
    found = [{"record": job, "title": say("this_job"), **state_of(views[job], rounds_of(views, job))}]
    for number, view in enumerate(rounds_of(views, job), 1):
        found.append({"record": view["record"], "title": say("round", n=number), **state_of(view, [])})
    for record in sorted(views):
        if views[record]["kind"] == "fitting":
            found.append({"record": record, "title": say("fitting_of", truck=value(views[record], "truck") or ""),
                          **state_of(views[record], [])})
        if views[record]["kind"] == "link":
            one, other = (name_of(value(views[record], field) or "") for field in ("one", "other"))
            found.append({"record": record, "title": say("link_of", one=one, other=other), **state_of(views[record], [])})
    return found


def trucks(views: dict[str, dict[str, Any]], job: str) -> list[dict[str, Any]]:
    """The dated assignments of a job's filter to trucks."""
    book = Book(job, views)
    return fittings(book.filters, views)


def state_of(view: dict[str, Any], children: list[dict[str, Any]]) -> dict[str, Any]:
    """What stands about being void, and what the page shows of it; seen: one digest over all that a void would stand on."""
    return {"void": void.void_of(view, children), "seen": digest_of(void.seen([view, *children])),
            "ids": standing_ids(view, void.FIELD)}


def rounds_of(views: dict[str, dict[str, Any]], job: str) -> list[dict[str, Any]]:
    """The rounds of a job, void ones too, always in the same order."""
    return sorted((view for view in views.values() if view["kind"] == "round" and value(view, "job") == job),
                  key=lambda view: (first_lamport(view), view["record"]))
