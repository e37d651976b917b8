"""Two answers, to be settled by a person. Nothing is decided here by itself."""

from typing import Any

from flask import abort, redirect, render_template, request, url_for

from sync import lookup
from sync.change import Refused
from sync.exchange import Entry

from ..checklist import check, void
from ..checklist.lookup import field_of, policy_of, step_of
from ..shop import joining
from ..trade.words import sentence
from .asking import asking
from .pages import blueprint
from .told import record_of
from .wording import answer_of, field_name, name_of, say, shop, why_held, words

BY = "desk:office"
MOST_NAMED = 200


@blueprint.get("/office/questions")
def questions() -> str:
    """Jobs that wait for a decision; every field in which two answers stand, what holds something up first."""
    return _questions(None, "")


@blueprint.post("/office/questions")
def settle() -> Any:
    """Settles one question by an answer that was picked or typed; replaces exactly the answers that the form showed."""
    record, field, pick = (request.form.get(name, "") for name in ("record", "field", "pick"))
    view = lookup.view(shop().store, record)
    held = view["fields"].get(field) if view else None
    if view is None or held is None:
        abort(400)
    ids = request.form.getlist("ids")
    if not set(ids) <= {answer["id"] for answer in held["answers"]}:
        abort(409)
    basis = None
    if pick == "same":
        return _same_filter(record, view, ids)
    if pick == "another":
        chosen, problem = _typed(view["kind"], field)
        if problem:
            return _questions(f"{record}/{field}", problem), 422
    else:
        picked = [answer for answer in held["answers"] if answer["id"] == pick and pick in ids]
        if not picked:
            abort(400)
        chosen, basis = picked[0]["value"], picked[0].get("basis")  # a sign-off stands on what its author saw
    try:
        receipt = shop().write(record, {field: chosen}, BY, {field: ids}, basis)
    except Refused:
        abort(400)
    if receipt["status"] != "stored":
        return _questions(f"{record}/{field}", why_held(receipt["reason"])), 422
    return redirect(url_for(".questions"))


def _same_filter(record: str, view: dict[str, Any], ids: list[str]) -> Any:
    """The tag leads to one filter that was checked in twice: they are linked, and the tag leads to the first of them."""
    targets = sorted({answer["value"] for answer in view["fields"]["filter"]["answers"] if answer["id"] in ids})
    if view["kind"] != "tag" or len(targets) < 2:
        abort(400)
    known = shop().group(targets[0])[0]
    reason = say("link_by_tag", code=record.partition(":")[2])
    links = [joining(targets[0], other, reason) for other in targets[1:] if other not in known]
    try:  # a link without the tag's choice would leave the question, the choice without the link would part two histories
        shop().write_all([*links, Entry(record, {"filter": targets[0]}, {"filter": ids})], BY)
    except Refused:
        abort(400)
    return redirect(url_for(".questions"))


def _typed(kind: str, field: str) -> tuple[Any, str | None]:
    """(value, problem) of an answer that the desk types itself."""
    step = step_of(kind, field)
    if not can_type(step, field, kind):
        abort(400)
    typed = request.form.get("another", "").strip()
    if not typed:
        return None, say("another_empty")
    found = check.value_problems(field_of(step, field), typed)
    return typed, sentence(words(), found[0]["code"], found[0]["values"]) if found else None


def can_type(step: Any, field: str, kind: str) -> bool:
    """Whether another answer may be typed: texts and names of the identity policy, never a reading nobody took."""
    return step is not None and step.slot is None and policy_of(kind, field) == "identity" \
        and field_of(step, field).kind in ("text", "ref")


def _questions(tried: str | None, problem: str) -> str:
    found, asked = [], asking()
    shown = {entry["record"] for entry in asked if entry["kind"] == "void"}
    for entry in shop().two_answers():
        if entry["field"] == void.FIELD and entry["record"] in shown:
            continue  # it is asked together with what the void did not see
        step, field = entry["step"], entry["field"]
        answers = [answer_of(step, field, answer) for answer in entry["answers"]]
        another = field_of(step, field) if can_type(step, field, entry["kind"]) else None
        key = f"{entry['record']}/{field}"
        found.append({**entry, "key": key, "answers": answers, "title": field_name(entry["kind"], step, field),
                      "about": record_of(entry["record"]), "another": another,
                      "others": _others(another) if another is not None else [],
                      "differs": _different(answers), "problem": problem if key == tried else None})
    found.sort(key=lambda entry: not entry["holds"])
    return render_template("questions.html", questions=found, asking=asked, typed=request.form.get("another", ""))


def _others(field: Any) -> list[tuple[str, str]]:
    """(id, name) of the records that a reference can name instead."""
    if field.kind != "ref":
        return []
    listed = [entry["record"] for entry in lookup.records(shop().store, field.to, MOST_NAMED)]
    return sorted(((record, name_of(record)) for record in listed), key=lambda entry: (entry[1].lower(), entry[0]))


def _different(answers: list[dict[str, Any]]) -> list[str]:
    """The fields in which the answers differ: those a person has to look at."""
    texts: dict[str, list[str]] = {}
    for answer in answers:
        for line in answer["lines"]:
            texts.setdefault(line["field"], []).append(str(line.get("photos", line["text"])))
    return [field for field, listed in texts.items() if len(listed) < len(answers) or len(set(listed)) > 1]
