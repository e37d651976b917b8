"""Voiding at the desk, and saying that two filters are one. Nothing is deleted; a void stands on what its page showed."""

from typing import Any

from flask import abort, redirect, render_template, request, url_for

from sync import lookup
from sync.change import Refused, new_name

from ..checklist import check, void
from ..checklist.lookup import step_named
from ..shop import value
from ..trade.tag_code import read
from ..trade.words import sentence
from .pages import blueprint
from .settling import BY
from .void_state import rounds_of, state_of
from .wording import say, shop, words

KINDS = {"job": "void_job", "round": "void_round", "link": "void_link", "fitting": "void_fitting"}


@blueprint.post("/office/void")
def void_record() -> Any:
    """Voids a record, or takes that back; refused where something moved since the page was shown."""
    record, state, reason = (request.form.get(name, "") for name in ("record", "state", "reason"))
    kind = record.partition(":")[0]
    view = lookup.view(shop().store, record) if kind in KINDS else None
    if view is None:
        abort(400)
    children = rounds_of(lookup.views(shop().store, lookup.find(shop().store, "round", "job", record)), record)
    now = state_of(view, children)
    if request.form.get("seen") != now["seen"] or request.form.getlist("ids") != now["ids"]:
        abort(409)
    answer = {"state": state, "reason": reason.strip()}
    if check.problems(step_named(KINDS[kind]), answer):
        abort(400)
    basis = {"evidence": void.seen([view, *children])}
    try:
        shop().write(record, {void.FIELD: answer}, BY, {void.FIELD: now["ids"]}, basis)
    except Refused:  # more has been answered in it than one change may stand on
        abort(400)
    return _back()


@blueprint.post("/office/link")
def link() -> Any:
    """Says that the filter of this page and the one that a tag leads to are one and the same."""
    one = request.form.get("filter", "")
    found = read(request.form.get("tag", ""))
    tag = lookup.view(shop().store, "tag:" + str(found["code"])) if found["ok"] and found["kind"] == "tag" else None
    other = value(tag, "filter") if tag else None
    if not one.startswith("filter:") or lookup.view(shop().store, one) is None:
        abort(400)
    if not isinstance(other, str) or other in shop().group(one)[0]:
        return render_template("problem.html", text=say("link_nothing"), code="link_nothing"), 422
    shop().join(one, other, BY, request.form.get("reason", "").strip()[:200])
    return _back()


@blueprint.post("/office/fitting")
def fit() -> Any:
    """Says which truck a filter was on, and when."""
    of, truck = (request.form.get(name, "").strip() for name in ("filter", "truck"))
    span = {name: text for name in ("since", "until") if (text := request.form.get(name, "").strip())}
    if not of.startswith("filter:") or lookup.view(shop().store, of) is None:
        abort(400)
    problems = check.problems(step_named("fitting"), {"filter": of, "truck": truck})
    problems += check.problems(step_named("span"), span)
    if problems:
        text = sentence(words(), problems[0]["code"], problems[0]["values"])
        return render_template("problem.html", text=text, code=problems[0]["code"]), 422
    shop().write(f"fitting:{new_name()}", {"filter": of, "truck": truck, "span": span}, BY, {})
    return _back()


def _back() -> Any:
    job = request.form.get("job", "")
    return redirect(url_for(".job", job_id=job) if job else url_for(".questions"))
