"""A report as it is at this moment, with what it was made of: its content, the job's state, the hash of all answers."""

from typing import Any, NamedTuple

from ..checklist.calls import with_texts
from ..checklist.units_shown import in_units_of
from ..issued import now
from ..photos import named, standing
from ..shop import SETTINGS, Shop
from ..verdicts import Views, hashed, heads_of
from ..words import catalogue
from .content import content
from .records import records_of

TRIES = 5


class Made(NamedTuple):
    """answers: the hash of every standing answer that content and state were made of; owner: their record, "" without."""

    content: dict[str, Any]
    state: dict[str, Any]
    answers: str
    owner: str


def made_of(shop: Shop, job_id: str, at: str) -> Made | None:
    """The report of a job, None where there is no such job. at: when it is made, as changes hold it.

    The records of the report and those of the state are read one after the other; where something came in between, again.
    """
    job = job_id if job_id.startswith("job:") else "job:" + job_id
    tries = TRIES
    while True:
        records, tries = records_of(shop.store, job), tries - 1
        if records is None:
            return None
        views, state = shop.read_job(job)
        if tries == 0 or _are_of_one_moment(records.views, views):
            break
    photos = standing(shop, [photo["sha256"] for photo in named([records.job, *records.rounds])])
    heads = [head for head in heads_of({**views, **records.views}.values()) if head[1] != "report"]  # it tells of no filter
    answers = hashed([heads, state["calculation"], state["rules"]])
    owner = next(iter(records.values(records.job, "owner")), "")
    words = in_units_of(views.get(SETTINGS), catalogue())
    return Made(content(records, state, words, at, photos), with_texts(state, words), answers, owner)


def _are_of_one_moment(some: Views, others: Views) -> bool:
    both = [record for record in some if record in others]
    return heads_of(some[record] for record in both) == heads_of(others[record] for record in both)


def report_content(shop: Shop, job_id: str) -> dict[str, Any] | None:
    """What the report of a job says now, None where there is no such job."""
    made = made_of(shop, job_id, now())
    return made.content if made is not None else None
