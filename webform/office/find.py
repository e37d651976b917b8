"""The desk's one search field: a tag leads straight to its job, anything else to what finding.py finds for it."""

from typing import Any

from flask import redirect, render_template, request, url_for

from sync import lookup

from ..finding import Find
from ..shop import value
from ..trade.tag_code import read
from ..trade.words import sentence
from . import readings
from .pages import blueprint
from .wording import name_of, say, shop, words

LONGEST = 200  # characters that are looked at
MOST_SHOWN = 25
TRIES = ("tag", "serial", "truck", "owner", "paper")


@blueprint.get("/office/find")
def find() -> Any:
    """The one job that a typed text means, a list where it may mean several, and what to try where it means none."""
    typed = request.args.get("text", "")[:LONGEST].strip()
    tag = read(typed)
    job = shop().job_of_tag(str(tag["code"])) if tag["ok"] and tag["kind"] == "tag" else None
    if job is not None:
        return redirect(url_for(".job", job_id=job.removeprefix("job:")))
    found = shop().finding.find(typed)
    if len(found.finds) == 1 and found.finds[0].job and not found.is_more and not found.is_behind:
        return redirect(url_for(".job", job_id=found.finds[0].job.removeprefix("job:")))
    shown = found.finds[:MOST_SHOWN]
    more = ""
    if found.is_more or len(shown) < len(found.finds):
        more = say("found_many" if found.is_more else "found_more", shown=len(shown),
                   all=len(found.finds))
    page = render_template(
        "found.html", sought=typed, rows=_rows(shown), more=more, is_loose=found.is_loose, is_behind=found.is_behind,
        title=say("found" if shown or not typed else "found_none"), problem="" if shown else _problem(typed, tag),
        tries=[] if shown else [say("find_try_" + name) for name in TRIES])
    return page, 200 if shown or not typed else 404


def _problem(typed: str, tag: dict[str, Any]) -> str:
    """Why there is nothing: a tag that is not in use or was read wrongly says so itself."""
    if not typed:
        return ""
    if tag["ok"] and tag["kind"] == "tag":
        return say("find_nothing", code=tag["code"])
    if tag["kind"] == "broken_check":
        return sentence(words(), str(tag["code"]), tag.get("values", {}))
    return say("found_nothing", text=typed)


def _rows(finds: list[Find]) -> list[dict[str, Any]]:
    """A line each, those of jobs as in Today; of a filter that has no job yet what is known of it."""
    rows = {row["job"]: row for row in readings.ledger(shop().listed([find.job for find in finds if find.job]))}
    views = lookup.views(shop().store, [find.filters[0] for find in finds if not find.job])
    found = []
    for find in finds:
        view = views.get(find.filters[0]) if find.filters else None
        about = {"serial": value(view, "serial") or "", "model": name_of(value(view, "model") or "")} if view else {}
        found.append(rows.get(find.job or "") or {"job": None, "state": None, "about": about})
    return found
