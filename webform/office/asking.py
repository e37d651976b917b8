"""Jobs on hold until a person decides, beside two answers: a void beside an edit, a second open job, a sign-off to renew.

Each job is read anew, so what was settled meanwhile is asked no more; the buttons are those of the job's own page.
"""

from typing import Any

from ..checklist.book import Book, first_lamport
from ..checklist.lookup import step_of
from ..shop import MOST_ASKING
from ..verdicts import asks
from .readings import about
from .void_state import voidable
from .wording import answer_of, field_name, name_of, phone_of, say, shop, when

SECOND, VOIDED = "state.second_open_job", "state.void_beside_edit"


def asking() -> list[dict[str, Any]]:
    """What the page asks, a question of several jobs once.

    {"kind": "void", "about", "job", "record", "title", "void", "seen", "ids", "missed": [answers that the void did not see]}
    {"kind": "same_stay", "about", "jobs": [{"job", "about", "opened", "done", "void form"}]}
    {"kind": "sign", "about", "job", "text"}
    """
    found: list[dict[str, Any]] = []
    stays: set[tuple[str, ...]] = set()
    for job in shop().verdicts.asking(MOST_ASKING):
        views, state = shop().read_job(job)
        codes = asks(state) if views else []
        if VOIDED in codes:
            found += [_void(views, job, entry) for entry in voidable(views, job) if _is_asked(entry)]
        if SECOND in codes:
            jobs = tuple(sorted([job, *Book(job, views).other_open_jobs()]))
            if jobs not in stays:
                stays.add(jobs)
                found.append({"kind": "same_stay", "about": about(views, job), "jobs": [_stay(one) for one in jobs]})
        found += [{"kind": "sign", "about": about(views, job), "job": job, "text": why["text"]}
                  for why in state["why"] if why["code"] in codes and why["code"] not in (SECOND, VOIDED)]
    return found


def _is_asked(entry: dict[str, Any]) -> bool:
    kind = entry["record"].partition(":")[0]
    return kind in ("job", "round") and entry["void"] is not None and not entry["void"]["stands"]


def _void(views: dict[str, Any], job: str, entry: dict[str, Any]) -> dict[str, Any]:
    """A void beside answers that it did not see, which are shown."""
    missed = []
    for name in entry["void"]["changed"]:
        record, _, field = name.partition("/")
        view = views.get(record)
        step = step_of(view["kind"], field) if view else None
        if view is None:
            continue
        for answer in view["fields"].get(field, {"answers": []})["answers"]:
            missed.append({"name": field_name(view["kind"], step, field), **answer_of(step, field, answer)})
    void = entry["void"]
    return {"kind": "void", "about": about(views, job), "job": job, "missed": missed, **entry,
            "by": name_of(void["by"]), "when": when(void["at"]), "phone": phone_of(void["id"])}


def _stay(job: str) -> dict[str, Any]:
    """One of the open jobs of a filter: who opened it, what is in it, and what voiding it stands on."""
    views, state = shop().read_job(job)
    view = views[job]
    answers = [answer for held in view["fields"].values() for answer in held["answers"]]
    first = min(answers, key=lambda answer: (answer["lamport"], answer["id"]))
    done = [field_name("job", step_of("job", field), field) for field in sorted(view["fields"])
            if (step := step_of("job", field)) is not None and step.slot is not None and field != "void"]
    return {"job": job, "about": about(views, job), "opened": when(first["at"]), "at": first["at"], "done": done,
            "phone": phone_of(first["id"]), "order": first_lamport(view), "verdict": state["verdict"], "text": state["text"],
            **{name: value for name, value in voidable(views, job)[0].items() if name in ("record", "seen", "ids")},
            "signed": say("wait_sign_again") if state["signoff"] else ""}
