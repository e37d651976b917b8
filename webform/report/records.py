"""The records that a report reads: the job with its filter, model, rounds, owner, people, and the shop's own name."""

from collections.abc import Iterable

from sync import lookup as log
from sync.log import Store

from ..checklist import show
from ..checklist.book import Book
from ..checklist.declaration import READINGS, STAGES
from ..checklist.lookup import field_of, step_named, step_of
from ..sealing import ERASED

NAMES = {"person": ("person", "name"), "owner": ("owner", "name"), "model": ("model", "number"),
         "filter": ("filter", "serial"), "shop": ("shop", "name")}
CHECKS = ("bench_check", "scale_check")


class Records:
    """Views by record id, asked in the words of the report. tags: the codes that lead to the filter."""

    def __init__(self, job_id: str, views: dict[str, dict], tags: Iterable[str] = ()) -> None:
        book = Book(job_id, views)
        self.views = views
        self.job, self.filter, self.model, self.rounds = book.job, book.filter, book.model, book.rounds
        self.tags = list(tags)

    def values(self, view: dict | None, stored: str) -> list:
        """The values that stand in a stored field: none, one, or several where two answers stand."""
        if view is None or stored not in view["fields"]:
            return []
        field = view["fields"][stored]
        if not field["open"] or field["used"] is not None:
            return [] if field["used"] is None else [field["used"]]
        return [answer["value"] for answer in field["answers"]]

    def text(self, view: dict | None, step_name: str, field_name: str, words: dict[str, str]) -> str:
        """A field of its own as text, references by name; "" where nobody answered."""
        step = step_named(step_name)
        field = field_of(step, field_name)
        texts = []
        for value in self.values(view, field_name):
            if value not in (None, "", []):
                texts.append(self.name(show.value_text(step, field, value, words)))
        return (" " + words["report.or"] + " ").join(dict.fromkeys(texts))

    def name(self, reference: str) -> str:
        """The name of the record where the text is a record's id, of a check its time; else the text."""
        kind = reference.partition(":")[0]
        view = self.views.get(reference)
        if kind in CHECKS and view is not None:
            return when(max(answer["at"] for field in view["fields"].values() for answer in field["answers"]))
        if kind not in NAMES or view is None:
            return reference
        names = [value for value in self.values(view, NAMES[kind][1]) if value]
        return str(names[0]) if names else ERASED if kind == "owner" else reference

    def readers(self) -> list[str]:
        """The names of those who took the readings, in the order of the steps."""
        found = []
        for stage in STAGES:
            for reading in READINGS:
                field = self.job["fields"].get(stage + "." + reading, {"answers": []})
                found += [self.name(answer["by"]) for answer in field["answers"]]
        return list(dict.fromkeys(found))

    def shop(self) -> dict[str, str]:
        """{"name", "address"} of the shop, "" where the office has not entered it."""
        for record in sorted(self.views):
            if self.views[record]["kind"] == "shop" and self.values(self.views[record], "name"):
                address = self.values(self.views[record], "address")
                return {"name": str(self.values(self.views[record], "name")[0]),
                        "address": str(address[0]) if address else ""}
        return {"name": "", "address": ""}


def records_of(store: Store, job_id: str) -> Records | None:
    """The records of one job, or None where there is no such job. Asks by reference; scans nothing."""
    views = log.views(store, [job_id])
    if job_id not in views or views[job_id]["kind"] != "job":
        return None
    wanted = set(log.children(store, job_id, "job", "round"))
    wanted |= {entry["record"] for entry in log.records(store, "shop", 5)}
    tags: list[str] = []
    for filter_id in _named(views[job_id], "filter"):
        wanted.add(filter_id)
        tags += [record.partition(":")[2] for record in log.children(store, filter_id, "filter", "tag")]
    views |= log.views(store, wanted)
    views |= log.views(store, _mentioned(views.values()) - set(views))
    views |= log.views(store, _mentioned(views.values()) - set(views))
    return Records(job_id, views, tags)


def _named(view: dict, stored: str) -> list[str]:
    """The record ids that stand in a reference field."""
    answers = view["fields"].get(stored, {"answers": []})["answers"]
    return sorted({answer["value"] for answer in answers if isinstance(answer["value"], str)})


def _mentioned(views: Iterable[dict]) -> set[str]:
    """The models, owners, people and checks that records name, in references and as authors of answers."""
    found = set()
    for view in views:
        for stored, field in view["fields"].items():
            step = step_of(view["kind"], stored)
            for answer in field["answers"]:
                found.add(answer["by"])
                values = [answer["value"]]
                if step is not None and step.slot is not None and isinstance(answer["value"], dict):
                    values = list(answer["value"].values())
                found |= {value for value in values if isinstance(value, str)}
    return {text for text in found if text.partition(":")[0] in (*NAMES, *CHECKS) and len(text) < 100}


def when(at: str) -> str:
    """A stored time for people: "25 Nov 2026, 17:40 UTC"; the text itself where it is no time."""
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    try:
        return f"{int(at[8:10])} {months[int(at[5:7]) - 1]} {int(at[:4])}, {int(at[11:13]):02}:{int(at[14:16]):02} UTC"
    except (ValueError, IndexError):
        return at
