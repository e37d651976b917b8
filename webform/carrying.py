"""What a phone carries when it begins from nothing: the work that is open, recent filters, and what every job leans on.

Tags, models, people, owners and the shop are carried whole, so that every tag leads to its filter without a network. Jobs
that are signed and long done stay on the server until somebody opens them: the phone fetches them then.
"""

from collections.abc import Callable
from functools import cache
from typing import Any

from sync import lookup
from sync.log import Store

RECENT_JOBS = 200
RECENT_FILTERS = 500


def carried(store: Store) -> Callable[[str, str, dict[str, Any]], bool]:
    """Says of a record whether a phone carries it, by its kind, id and standing answers."""
    known: dict[str, bool] = {}

    @cache
    def recent(kind: str) -> set[str]:  # asked only when a phone begins from nothing
        return {entry["record"] for entry in lookup.records(store, kind, RECENT_JOBS if kind == "job" else RECENT_FILTERS)}

    def is_carried(kind: str, record: str, heads: dict[str, Any]) -> bool:
        if kind == "job":
            known[record] = record in recent("job") or not is_signed(heads)
            return known[record]
        if kind == "round":
            return any(is_job_carried(answer["value"]) for answer in heads.get("job", []))
        if kind == "filter":
            return record in recent("filter") or any(
                is_job_carried(job) for job in lookup.find(store, "job", "filter", record))
        return True

    def is_job_carried(job: Any) -> bool:
        if job not in known:
            snapshot = store.snapshots([job]).get(job) if isinstance(job, str) else None
            known[job] = snapshot is None or is_carried("job", job, snapshot["heads"])
        return known[job]

    return is_carried


def is_signed(heads: dict[str, Any]) -> bool:
    """Whether one sign-off stands, and no other beside it."""
    decided = [answer["value"] for answer in heads.get("signoff", [])]
    return len(decided) == 1 and decided[0] is not None
