"""Job states kept in a table beside the books, so that nobody judges twice what did not change, in whatever process.

A state is kept under (job, the standing answers that it is made of, calculation, rule revision). Whoever asks with another
key gets no kept state, so one can never be stale; of each job and calculation only the last is kept. The table is derived:
no backup in lines has it, a restore drops it, and what is missing is judged when it is asked for. Sentences are not kept,
for the catalogue is no part of the key. Two processes never clash: of two rows the one that saw more of the log stays.
"""

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterable
from typing import Any

from sync.log import Store, Unavailable

from .checklist import case
from .checklist.book import Book
from .checklist.given import rules_of

Views = dict[str, dict[str, Any]]
Kept = Callable[[list[dict[str, Any]], int], None]

TABLES = ("verdict", "verdict_place", "verdict_asks")
# What holds a job up until a person decides, beside the fields in which two answers stand (open_fields.py).
ASKING = ("state.second_open_job", "state.void_beside_edit", "state.may_not_sign", "state.evidence_changed",
          "state.calculation_changed", "state.signed_over")
SIGNED_EARLIER = "state.signed_earlier"
_MADE = (
    "CREATE TABLE IF NOT EXISTS verdict (job TEXT NOT NULL, calculation TEXT NOT NULL, answers TEXT NOT NULL, "
    "rules TEXT NOT NULL, is_open INTEGER NOT NULL, moved BIGINT NOT NULL, seen BIGINT NOT NULL, state TEXT NOT NULL, "
    "PRIMARY KEY (calculation, job))",
    "CREATE INDEX IF NOT EXISTS verdict_job ON verdict (job)",  # a page asks by job alone
    "CREATE TABLE IF NOT EXISTS verdict_asks (job TEXT NOT NULL, calculation TEXT NOT NULL, seen BIGINT NOT NULL, "
    "is_asking INTEGER NOT NULL, PRIMARY KEY (calculation, job))",
    "CREATE INDEX IF NOT EXISTS verdict_asking ON verdict_asks (calculation, seen) WHERE is_asking = 1",
    "CREATE TABLE IF NOT EXISTS verdict_place (calculation TEXT PRIMARY KEY, position BIGINT NOT NULL, "
    "target BIGINT NOT NULL)",
)
COLUMNS = "job, calculation, answers, rules, is_open, moved, seen, state"


class Verdicts:
    """The kept states of one store under one calculation; kept(states, position) is told inside the writing transaction."""

    def __init__(self, store: Store, calculation: str, kept: Kept | None = None) -> None:
        self.store, self.calculation, self.kept = store, calculation, kept
        with store.working(), alone(store):
            if store.is_postgresql:
                store.rows("SELECT pg_advisory_xact_lock(7224003)")  # two processes starting at once
            store.make(_MADE)

    def states(self, jobs: dict[str, Views], seen: int,
               between: Callable[[], None] = lambda: None) -> dict[str, dict[str, Any]]:
        """Job → its state, without sentences; judged where it is not kept. seen: the log's end before the jobs were read.

        between: called ahead of each judging and of the writing.
        """
        with self.store.working():
            rows = {row[0]: row[1:] for row in self.store.rows_of(
                "SELECT job, answers, rules, state, calculation FROM verdict", "job", jobs) if row[4] == self.calculation}
        found, fresh = {}, []
        for job, views in jobs.items():
            key = key_of(job, views)
            if job in rows and rows[job][:2] == key:
                found[job] = json.loads(rows[job][2])
            else:
                between()
                found[job] = case.job_state(job, views, None, self.calculation)
                if views:
                    fresh.append((key, found[job]))
        if fresh:
            between()
            self._keep(sorted(fresh, key=lambda entry: str(entry[1]["job"])), seen)  # one order: no two lock each other out
        return found

    def _keep(self, fresh: list[tuple[tuple[str, str], dict[str, Any]]], seen: int) -> None:
        """Keeps states that were just judged; whoever asked has them, whether or not they could be written."""
        if self.store.db.in_transaction():
            return  # judging never makes somebody else's transaction longer
        texts = [json.dumps(state, ensure_ascii=False) for _key, state in fresh]  # before others have to wait
        with contextlib.suppress(Unavailable), self.store.working(), alone(self.store):
            moved = dict(self.store.rows_of("SELECT record, position FROM snapshot", "record",
                                            (state["job"] for _key, state in fresh)))
            self.store.write_many(
                f"INSERT INTO verdict ({COLUMNS}) VALUES (?,?,?,?,?,?,?,?) ON CONFLICT (calculation, job) DO UPDATE SET "
                "answers = excluded.answers, rules = excluded.rules, is_open = excluded.is_open, moved = excluded.moved, "
                "seen = excluded.seen, state = excluded.state WHERE verdict.seen <= excluded.seen",
                [(state["job"], self.calculation, *key, int(is_open(state)), moved.get(state["job"], 0), seen,
                  text) for (key, state), text in zip(fresh, texts, strict=True)])
            self._note_asking([state for _key, state in fresh], seen)
            if self.kept is not None:
                self.kept([state for _key, state in fresh], seen)


    def asking(self, most: int) -> list[str]:
        """The jobs that wait for a person's decision, as they were judged last; those that moved last come first."""
        with self.store.working():
            return [row[0] for row in self.store.rows(
                "SELECT job FROM verdict_asks WHERE is_asking = 1 AND calculation = ? ORDER BY seen DESC, job LIMIT ?",
                (self.calculation, most))]

    def _note_asking(self, states: list[dict[str, Any]], seen: int) -> None:
        """Notes which of these jobs ask; of one that never asked there is no row. Who saw less of the log has no say."""
        asking = [(state["job"], self.calculation, seen) for state in states if asks(state)]
        quiet = [(seen, self.calculation, state["job"], seen) for state in states if not asks(state)]
        self.store.write_many("INSERT INTO verdict_asks (job, calculation, seen, is_asking) VALUES (?,?,?,1) "
                              "ON CONFLICT (calculation, job) DO UPDATE SET seen = excluded.seen, is_asking = 1 "
                              "WHERE verdict_asks.seen <= excluded.seen", asking)
        self.store.write_many("UPDATE verdict_asks SET is_asking = 0, seen = ? WHERE calculation = ? AND job = ? "
                              "AND seen <= ?", quiet)


def asks(state: dict[str, Any]) -> list[str]:
    """What a job asks a person beside two answers: codes in the order of its reasons; a job that is void asks nothing.

    A sign-off about earlier readings asks where it says replace, for it goes on holding the job at that. One that says clean
    or hold holds nothing up: the readings lead on, and the next sign-off is the next step of the work, as it is of a job
    that nobody has signed.
    """
    if state["void"] is not None and state["void"]["stands"]:
        return []
    asking = (*ASKING, SIGNED_EARLIER) if state["signoff"] and state["signoff"]["decision"] == "replace" else ASKING
    return [why["code"] for why in state["why"] if why["code"] in asking]


def key_of(job: str, views: Views) -> tuple[str, str]:
    """(hash of the standing answers that the state of a job is made of, rule revision).

    Of people only whether they may sign counts, of the shop only its thresholds, of owners nothing does: the calculation does
    not read the rest.
    """
    heads = []
    for record in sorted(views):
        view = views[record]
        if view["kind"] == "owner":
            continue
        for field in sorted(view["fields"]):
            if field == {"person": "may_sign", "shop": "rules"}.get(view["kind"], field):
                heads.append([record, field, [answer["id"] for answer in view["fields"][field]["answers"]]])
    return hashed(heads), str(rules_of(Book(job, views))["revision"])


def heads_of(views: Iterable[dict[str, Any]]) -> list[Any]:
    """Every standing answer of some records, by id, in an order of its own."""
    return sorted([view["record"], field, [answer["id"] for answer in view["fields"][field]["answers"]]]
                  for view in views for field in view["fields"])


def hashed(content: Any) -> str:
    """Thirty-two hex digits over JSON content."""
    return hashlib.sha256(json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()[:32]


def is_open(state: dict[str, Any]) -> bool:
    """Whether a job still waits for a sign-off that stands."""
    return state["signoff"] is None or not state["signoff"]["stands"]


def alone(store: Store) -> Any:
    """A transaction that writes."""
    return store.db.transaction() if store.is_postgresql else store.db.transaction("IMMEDIATE")
