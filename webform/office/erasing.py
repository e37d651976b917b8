"""Erasing an owner at the desk: what goes, what stays and why, a reason, and afterwards what is left elsewhere."""

import datetime
from pathlib import Path
from typing import Any

from flask import abort, render_template, request

from sync import lookup
from sync.erasing import texts_of
from sync.log import Unavailable

from .. import archive
from ..erasing import names_in, tells
from ..issued import now
from ..keeping import ASIDE, READY
from ..shop import value
from .pages import blueprint
from .settling import BY
from .wording import say, shop, when

LONGEST_REASON = 300
# Where an owner's text may still lie beside the books, in files that nobody changes.
LEFT = ("backups/*", "before-upgrade-*.backup", ASIDE + "*", READY + "*", archive.UNFINISHED + "*")


@blueprint.get("/office/owners/<name>/erase")
def erasing(name: str) -> str:
    """What erasing this owner would do, or what it has done."""
    return _page(_record(name))


@blueprint.post("/office/owners/<name>/erase")
def erase(name: str) -> Any:
    """Erases the owner, for the reason given."""
    record, reason = _record(name), request.form.get("reason", "").strip()
    if not reason or len(reason) > LONGEST_REASON:
        return _page(record, say("erase_reason_missing", longest=LONGEST_REASON), reason), 422
    if tells(reason, names_in(texts_of(shop().store, record))):
        return _page(record, say("erase_reason_names"), reason), 422
    try:
        shop().erasures.erase(record, BY, reason, now())
    except Unavailable:
        return _page(record, say("erase_unfinished")), 503
    return _page(record)


def left(data: Path, before: str = "") -> list[str]:
    """The files and folders beside the books in which an owner's text may still stand, older than a time if one is given."""
    found = [path for pattern in LEFT for path in sorted(data.glob(pattern))]
    return [path.relative_to(data).as_posix() for path in found if not before or _made(path)[:19] <= before[:19]]


def _made(path: Path) -> str:
    made = datetime.datetime.fromtimestamp(path.stat().st_mtime, datetime.UTC)
    return made.isoformat(timespec="seconds").replace("+00:00", "Z")


def _record(name: str) -> str:
    record = "owner:" + name
    return record if lookup.view(shop().store, record) is not None else abort(404)


def _page(record: str, problem: str = "", reason: str = "") -> str:
    erasures, data = shop().erasures, shop().data
    done = next((entry for entry in erasures.all() if entry["record"] == record), None)
    view = lookup.view(shop().store, record) or {"fields": {}}
    reports = erasures.reports_of(record)
    links = [link for report in reports for link in shop().issued.links.of(report["number"])]
    at = now()
    jobs = lookup.find(shop().store, "job", "owner", record)
    return render_template(
        "erase.html", record=record, problem=problem, reason=reason, done=done, when=when,
        name=value(view, "name") or record.partition(":")[2], contact=value(view, "contact") or "",
        jobs=len(jobs), reports=[report["number"] for report in reports], naming=erasures.naming(record),
        links=sum(not link["withdrawn_at"] and at < link["until"] for link in links),
        left=left(data, done["erased_at"] if done else ""), schemas=_schemas())


def _schemas() -> list[str]:
    """The schemas of the database in which a restore has put older tables aside."""
    store = shop().store
    if not store.is_postgresql:
        return []
    with store.working():
        return [row[0] for row in store.rows("SELECT nspname FROM pg_namespace WHERE nspname LIKE ? ORDER BY nspname",
                                             (ASIDE.replace("-", "_") + "%",))]
