"""What a screen marks beside the verdict: rounds and links that are void, and the report that was given to the owner.

Portable Python.
"""

from .void import is_void


def marks(book):
    """{"void_rounds": [record], "links": [{"record", "one", "other", "is_void"}]} of a job, in the order of their ids.

    Links are those that touch its filter under any of its names, the ones that were taken apart too.
    """
    links = []
    for record in sorted(book.views):
        view = book.views[record]
        ends = [book.used(view, field) for field in ("one", "other")] if view["kind"] == "link" else []
        if [end for end in ends if end in book.filters]:
            links.append({"record": record, "one": ends[0], "other": ends[1], "is_void": is_void(view)})
    return {"void_rounds": [view["record"] for view in book.every_round if is_void(view)], "links": links}


def report_given(book, is_worse_now):
    """{"number", "at", "verdict", "is_recalled"} of the report that an owner was given last, None where there is none.

    Recalled is derived, never stored: is_worse_now(verdict) says whether the job reads worse now than that report said.
    """
    given = book.used(book.job, "report")
    if given is None:
        return None
    return {"number": given["number"], "at": given["at"], "verdict": given["verdict"],
            "is_recalled": is_worse_now(given["verdict"])}
