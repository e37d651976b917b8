"""The shop's books on the server: records read, jobs judged, and the desk's own writing.

Judges with the same files as the phone (webform/checklist, webform/trade); what was judged is kept in webform/verdicts.py.
"""

import os
import secrets
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from sync import exchange, lookup
from sync.change import Pen
from sync.held import retry_held
from sync.log import Store
from sync.photos import Photos

from . import acceptance
from .checklist import calls, declaration
from .checklist.book import first_lamport
from .checklist.links import group_of
from .checklist.lookup import policy_of, ref_fields, step_of
from .checklist.units_shown import in_units_of
from .erasing import Erasures
from .find_index import FindIndex
from .finding import Finding
from .issued import Issued, now
from .judging import Judging
from .lasting import Lasting
from .open_fields import OpenFields
from .phone.bundle import calculation
from .pushing import Pushing
from .verdicts import Verdicts, Views
from .words import catalogue

TODAY = 100
SEEN = "held"  # kind of the records that say what came of a held change, each named by its hash
SETTINGS = "shop:rules"  # the one record of the shop itself: name, thresholds, units shown
MOST_ASKING = 200


class Shop:
    """One shop: its store, and what is derived from it."""

    def __init__(self, data: Path, url: str | None = None) -> None:
        data.mkdir(parents=True, exist_ok=True)
        self.data = data
        self.store = open_store(data, url)
        self.open_fields = OpenFields(self.store)
        self.index = FindIndex(self.store)
        self.finding = Finding(self)
        self.photos = Photos(data / "photos")
        self.pen = Pen("desk")
        self.calculation = calculation()
        self.issued = Issued(self.store, Lasting(data))
        self.issued.learn(now())
        self.issued.links.withdraw_again(now())  # where an older database file was copied back
        self.erasures = Erasures(self.store, self.issued)
        self.erasures.came_in(None, has_held=True)
        self.verdicts = Verdicts(self.store, self.calculation, self.issued.judged)
        self.judging, self.pushing = Judging(self), Pushing(self.store)

    def secret(self) -> bytes:
        """The key that signs the desk's sessions; made once, readable by the server's user only."""
        path = self.data / "session.key"
        if not path.exists():
            with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
                file.write(secrets.token_bytes(32))
        return path.read_bytes()

    def people(self) -> dict[str, dict[str, Any]]:
        """The views of everybody who works here."""
        return lookup.views(self.store, [entry["record"] for entry in lookup.records(self.store, "person")])

    def views_of_job(self, job: str, people: Views | None = None) -> Views:
        """The views that the state of a job is made of, by record id; none where there is no such job.

        people: where many jobs are read at once, those of people().
        """
        found = lookup.views(self.store, [job])
        if job not in found:
            return {}
        linked = [value(found[job], "filter"), value(found[job], "owner")]
        more = lookup.views(self.store, [entry for entry in linked if entry])
        found.update(more)
        filter_id = value(found[job], "filter")
        model = value(found[filter_id], "model") if filter_id in found else None
        wanted = lookup.find(self.store, "round", "job", job) + ([model] if model else [])
        if filter_id:
            filters, links = self.group(filter_id)
            found.update(links)
            for one in filters:
                wanted += lookup.find(self.store, "job", "filter", one) + lookup.find(self.store, "tag", "filter", one)
                wanted += lookup.find(self.store, "fitting", "filter", one)
        found.update(lookup.views(self.store, [*wanted, SETTINGS]))
        for field in ("check", "instrument"):  # what readings name, then what those checks name
            found.update(lookup.views(self.store, sorted(_named(found.values(), field) - set(found))))
        found.update(self.people() if people is None else people)
        if filter_id in found and value(found[filter_id], "unit_kind") == "one_box":
            for brick in lookup.find(self.store, "filter", "box", filter_id):
                found.update(lookup.views(self.store, [brick]))
                for brick_job in lookup.find(self.store, "job", "filter", brick):
                    found.update({**self.views_of_job(brick_job, people), **found})
        return found

    def group(self, filter_id: str) -> tuple[list[str], dict[str, dict[str, Any]]]:
        """(the filters that are one with this one, itself among them; the views of all links that touch them)."""
        links: dict[str, dict[str, Any]] = {}
        found: list[str] = []
        while (filters := group_of(filter_id, links)) != found:
            found = filters
            links = lookup.views(self.store, [link for one in found for field in ("one", "other")
                                              for link in lookup.find(self.store, "link", field, one)])
        return found, links

    def job_state(self, job: str) -> dict[str, Any]:
        """The state of a job with its sentences."""
        return self.read_job(job)[1]

    def read_job(self, job: str) -> tuple[Views, dict[str, Any]]:
        """(views, state with its sentences) of a job; no views where there is no such job."""
        seen = self._position()
        views = self.views_of_job(job)
        words = in_units_of(views.get(SETTINGS), catalogue())
        return views, calls.with_texts(self.verdicts.states({job: views}, seen)[job], words)

    def words(self) -> dict[str, str]:
        """The catalogue in the units in which this shop reads."""
        return in_units_of(lookup.view(self.store, SETTINGS), catalogue())

    def todays_jobs(self, limit: int = TODAY) -> list[dict[str, Any]]:
        """The jobs that changed last, newest first: {"job", "state", "views"}."""
        return self.listed([entry["record"] for entry in lookup.records(self.store, "job", limit)])

    def listed(self, jobs: list[str]) -> list[dict[str, Any]]:
        """These jobs in their order, as todays_jobs() gives them."""
        views, states = self._read(jobs)
        words = self.words()
        return [{"job": job, "views": views[job], "state": calls.with_texts(states[job], words)} for job in views]

    def judge(self, jobs: list[str], between: Callable[[], None]) -> None:
        """Judges what is not kept of these jobs, without a sentence for anybody; between: called ahead of each step."""
        seen, people = self._position(), self.people()
        views = {}
        for job in jobs:
            between()
            views[job] = self.views_of_job(job, people)
        self.verdicts.states(views, seen, between)

    def _read(self, jobs: list[str]) -> tuple[dict[str, Views], dict[str, dict[str, Any]]]:
        seen, people = self._position(), self.people()
        views = {job: self.views_of_job(job, people) for job in jobs}
        return views, self.verdicts.states(views, seen)

    def _position(self) -> int:
        return int(self.store.counter()["position"])

    def two_answers(self) -> list[dict[str, Any]]:
        """Every field in which two answers stand: {"record", "kind", "field", "answers", "step", "holds"}, last moved first.

        holds: whether something waits for it; not so where the later answer is used meanwhile.
        """
        listed = self.open_fields.all()
        views = lookup.views(self.store, dict.fromkeys(record for record, _field in listed))
        found = []
        for record, field in listed:
            kind, held = views[record]["kind"], views[record]["fields"].get(field)
            if held and held["open"]:  # it may have been settled since the index was asked
                found.append({"record": record, "kind": kind, "field": field, "step": step_of(kind, field),
                              "answers": held["answers"], "holds": policy_of(kind, field) != "later"})
        return found

    def questions(self) -> int:
        """How many open fields hold something up, and how many jobs wait for a decision besides."""
        opened = sum(policy_of(record.partition(":")[0], field) != "later" for record, field in self.open_fields.all())
        return opened + len(self.verdicts.asking(MOST_ASKING))

    def job_of_tag(self, code: str) -> str | None:
        """The job that was opened last of the filter that a tag leads to; None where there is none."""
        tag = lookup.view(self.store, "tag:" + code)
        targets = {answer["value"] for answer in tag["fields"].get("filter", {"answers": []})["answers"]} if tag else set()
        filters = {one for target in targets if isinstance(target, str) for one in self.group(target)[0]}
        jobs = lookup.views(self.store, [job for one in sorted(filters)
                                         for job in lookup.find(self.store, "job", "filter", one)])
        return max(jobs, key=lambda job: (first_lamport(jobs[job]), job), default=None)

    def join(self, one: str, other: str, by: str, reason: str) -> None:
        """Says that two filters are one."""
        self.write_all([joining(one, other, reason)], by)

    def write_all(self, entries: list[exchange.Entry], by: str) -> None:
        """Stores the changes of one decision at the desk, all of them or none; raises sync.change.Refused."""
        exchange.write_all(self.store, self.pen, entries, by, acceptance.refusal)
        self.judging.wake()

    def tell_of_report(self, state: dict[str, Any], number: str, at: str, by: str) -> None:
        """Writes into a job which report its owner was given, so that phones tell of a recall; within the issuing."""
        seen = standing_ids(lookup.view(self.store, state["job"]), "report")
        report = {"number": number, "at": at, "verdict": state["verdict"]}
        exchange.write_all(self.store, self.pen, [exchange.Entry(state["job"], {"report": report}, {"report": seen})], by,
                           acceptance.refusal)

    def write(self, record: str, answers: dict[str, Any], by: str, replaces: dict[str, list[str]],
              basis: dict[str, Any] | None = None) -> dict[str, Any]:
        """The receipt of a change made at the desk; replaces: the ids that the form showed."""
        receipt = exchange.write(self.store, self.pen, record, answers, by, replaces=replaces, basis=basis,
                                 accept=acceptance.refusal)
        self.judging.wake()
        return receipt

    def retry_held(self, reasons: Iterable[str] | None = None) -> None:
        """Tries held changes again (sync.held); what that tells of somebody who was erased meanwhile is erased too."""
        self.erasures.came_in(exchange.touched(retry_held(self.store, acceptance.refusal_of_phone, reasons)),
                                has_held=False)
        self.judging.wake()


def joining(one: str, other: str, reason: str) -> exchange.Entry:
    """The change that says that two filters are one."""
    answers = {"one": one, "other": other, **({"reason": reason} if reason else {})}
    return exchange.Entry("link:" + secrets.token_hex(8), answers, {})


def _named(views: Iterable[dict[str, Any]], field: str) -> set[str]:
    """The records that whole answers name in that field."""
    answers = [answer["value"] for view in views for held in view["fields"].values() for answer in held["answers"]]
    named = {answer.get(field) for answer in answers if isinstance(answer, dict)}
    return {name for name in named if isinstance(name, str) and name}


def open_store(data: Path, url: str | None = None, **how: Any) -> Store:
    """The store of the books below this folder, or at this address, under the declaration; how: as Store takes it."""
    return Store(url or f"sqlite:///{data / 'shop.db'}", policy_of=policy_of, ref_fields=ref_fields,
                 personal=declaration.PERSONAL, newest_schema=declaration.SCHEMA, **how)


def value(view: dict[str, Any], field: str) -> Any:
    """The value in use of a field, None where there is none."""
    held = view["fields"].get(field)
    return held["used"] if held else None


def standing_ids(view: dict[str, Any] | None, field: str) -> list[str]:
    """The ids of the answers that stand in a field."""
    held = view["fields"].get(field) if view else None
    return [answer["id"] for answer in held["answers"]] if held else []
