"""The shop's books: shop, models, people, owners. One form a step of the declaration, checked like any answer."""

import hashlib
import secrets
from typing import Any

from flask import abort, g, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict

from sync import lookup
from sync.change import Refused, new_name

from ..checklist import check, show
from ..checklist.lookup import quantity_of, slots, step_named, steps
from ..shop import SETTINGS, standing_ids, value
from ..trade.words import sentence
from .pages import blueprint
from .settling import BY
from .wording import lines_of, say, shop, why_held, words

KINDS = ("model", "instrument", "person", "owner", "shop")
ONLY = {"shop": SETTINGS}  # kinds of which there is one record
PIN_ROUNDS = 200_000
MOST_LISTED = 500


@blueprint.get("/office/books")
def books() -> str:
    """The records of one kind, each with its forms."""
    kind = request.args.get("kind", KINDS[0])
    return _books(kind if kind in KINDS else KINDS[0], request.args.get("open", ""), None)


@blueprint.post("/office/books")
def write() -> Any:
    """Stores what was changed in one record, in one change; where an entry is wrong all comes back as it was typed.

    The forms of a record are sent together, so that no button loses what was typed beside it. A name in a form of several
    steps has its step in front: "spec:value.low".
    """
    sent = [step_named(name) for name in request.form.getlist("step")]
    record = request.form.get("record", "")
    kind = sent[0].record if sent and sent[0] is not None else ""
    if kind not in KINDS or any(step is None or step.record != kind for step in sent):
        abort(400)
    if not (record == "" or record.startswith(kind + ":")):
        abort(400)
    if record in _erased():
        abort(409)  # the record is closed; whatever is written into it would be erased again
    answers: dict[str, Any] = {}
    replaces: dict[str, list[str]] = {}
    problems: dict[str, list[dict[str, str]]] = {}
    for step in sent:
        part = _part(step)
        values, found = _pin(part) if step.name == "pin" else _typed(step, part)
        if values is None and len(sent) > 1:
            continue  # nothing was typed there
        problems[step.name] = found
        if values is not None and not found:
            answers.update({step.slot: values} if step.slot else values)
            replaces.update({field: part.getlist("ids." + field) for field in slots(step) if step.slot or field in values})
    if any(problems.values()):
        return _books(kind, record or "new", problems), 422
    record = record or ONLY.get(kind) or f"{kind}:{new_name()}"
    if answers:
        try:
            receipt = shop().write(record, answers, BY, replaces)
        except Refused:
            abort(400)
        if receipt["status"] != "stored":
            return _books(kind, record, {sent[0].name: [{"field": "", "text": why_held(receipt["reason"])}]}), 422
    return redirect(url_for(".books", kind=kind, open=record, saved=1 if answers else None) + "#" + record)


def _part(step: Any) -> MultiDict[str, str]:
    """What was sent of one step, by the names without the step; also of a form that holds that step alone."""
    front = step.name + ":"
    if len(request.form.getlist("step")) == 1 and not any(name.startswith(front) for name in request.form):
        return request.form
    return MultiDict([(name.removeprefix(front), text) for name, text in request.form.items(multi=True)
                      if name.startswith(front)])


def pin_value(pin: str) -> dict[str, Any]:
    """What is stored of a PIN: it names who signs on a shared phone; the phone's own credential is the device cookie."""
    salt = secrets.token_bytes(16)
    key = hashlib.pbkdf2_hmac("sha256", pin.encode(), salt, PIN_ROUNDS)
    return {"salt": salt.hex(), "rounds": {"n": str(PIN_ROUNDS), "u": ""}, "key": key.hex()}


def _pin(sent: MultiDict[str, str]) -> tuple[dict[str, Any] | None, list[dict[str, str]]]:
    """(value to store, problems); None where nothing was typed."""
    pin = sent.get("pin", "")
    if not pin:
        return None, [{"field": "pin", "text": say("pin_wrong")}]
    if not (pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 12):
        return {}, [{"field": "pin", "text": say("pin_wrong")}]
    return pin_value(pin), []


def _typed(step: Any, sent: MultiDict[str, str]) -> tuple[dict[str, Any] | None, list[dict[str, str]]]:
    """(values to store, problems); None where nothing was changed.

    Of a step without a slot only the fields that the person changed are stored.
    """
    values: dict[str, Any] = {}
    changed = False
    for field in step.fields:
        text, unit = (sent.get(f"{part}.{field.name}", "").strip() for part in ("value", "unit"))
        was, was_unit = (sent.get(f"{part}.{field.name}", "") for part in ("was", "was_unit"))
        is_same = text == was and (field.kind != "number" or not text or unit == was_unit)
        changed = changed or not is_same
        if text:
            values[field.name] = {"n": text, "u": unit} if field.kind == "number" else text
        elif not is_same and not step.slot:
            values[field.name] = None  # it was taken out
    problems = [{"field": problem["field"], "text": _told(problem)} for problem in check.problems(step, values)]
    if problems or step.slot:
        return (values if changed else None), problems
    return {name: held for name, held in values.items() if _is_changed(name, held, sent)} or None, []


def _told(problem: dict[str, Any]) -> str:
    """What is wrong; the desk has no steps to skip, so of an empty field it says so and no more."""
    if problem["code"] == "answer.missing":
        return say("field_missing", **problem["values"])
    return sentence(words(), problem["code"], problem["values"])


def _is_changed(name: str, held: Any, sent: MultiDict[str, str]) -> bool:
    text, unit = (held["n"], held["u"]) if isinstance(held, dict) else (held or "", "")
    return bool(text != sent.get("was." + name, "") or (unit and unit != sent.get("was_unit." + name, "")))


def _usual_unit(field: Any) -> str:
    """The unit that an empty number begins with: the one that the shop reads in, "" where it picked none."""
    if "usual_units" not in g:
        held = lookup.view(shop().store, SETTINGS)
        g.usual_units = (value(held, "units") if held else None) or {}
    return str(g.usual_units.get(quantity_of(field), ""))


def _books(kind: str, opened: str, problems: dict[str, list[dict[str, str]]] | None) -> str:
    """The page; problems: of each step of the opened record, where it was just sent and came back."""
    listed = [entry["record"] for entry in lookup.records(shop().store, kind, MOST_LISTED)]
    views = lookup.views(shop().store, listed)
    erased = _erased() if kind == "owner" else {}
    entries = [_entry(kind, record, views[record], opened, problems) for record in listed
               if record in views and record not in erased]
    entries.sort(key=lambda entry: (entry["name"].lower(), entry["record"]))
    if ONLY.get(kind) not in views:
        blank: dict[str, Any] = {"record": "", "kind": kind, "fields": {}}
        entries.append(_entry(kind, "", blank, opened, problems))
    return render_template("books.html", kinds=KINDS, saved="saved" in request.args, kind=kind, entries=entries,
                           is_cut=len(listed) == MOST_LISTED,
                           erased=[(record.partition(":")[2], at) for record, at in erased.items()])


def _erased() -> dict[str, str]:
    """Owner → when it was erased."""
    return {entry["record"]: entry["erased_at"] for entry in shop().erasures.all()}


def _entry(kind: str, record: str, view: dict[str, Any], opened: str,
           problems: dict[str, list[dict[str, str]]] | None) -> dict[str, Any]:
    is_open = opened == (record or "new")
    of_kind = [step for step in steps() if step.record == kind]
    forms = [_form(step, view, problems.get(step.name, []) if is_open and problems is not None else None)
             for step in of_kind if record or not step.slot]
    short = []
    for step in of_kind:
        if step.name == "pin":
            short.append(say("pin_set" if value(view, "pin") else "pin_none"))
            continue
        for field in slots(step):
            short += [line["text"] if not step.slot and field != "may_sign" else line["label"] + " " + line["text"]
                      for line in lines_of(step, field, value(view, field))]
    name = value(view, "name") or value(view, "number") or record.partition(":")[2]
    return {"record": record, "name": str(name), "forms": forms, "is_open": is_open,
            "short": " · ".join(text for text in short if text != name)}


def _form(step: Any, view: dict[str, Any], problems: list[dict[str, str]] | None) -> dict[str, Any]:
    """The form of one step: its fields with what stands, or with what was typed where it came back."""
    sent = _part(step) if problems is not None and step.name in request.form.getlist("step") else None
    held = (value(view, step.slot) or {}) if step.slot else {}
    fields = []
    for field in step.fields if step.name != "pin" else ():
        now = held.get(field.name) if step.slot else value(view, field.name)
        was, was_unit = (now["n"], now["u"]) if isinstance(now, dict) else (now or "", "")
        stored = step.slot or field.name
        fields.append({
            "field": field, "label": show.label_of(step, field, words()),
            "help": words().get(f"help.{step.name}.{field.name}", field.help),
            "text": sent.get("value." + field.name, "") if sent is not None else was,
            "unit": sent.get("unit." + field.name, "") if sent is not None else was_unit or _usual_unit(field),
            "was": sent.get("was." + field.name, "") if sent is not None else was,
            "was_unit": sent.get("was_unit." + field.name, "") if sent is not None else was_unit,
            "stand": [line["text"] for answer in view["fields"][stored]["answers"]
                      for line in lines_of(step, stored, answer["value"]) if line["field"] == field.name]
            if stored in view["fields"] and view["fields"][stored]["open"] else None,
            "problems": [problem["text"] for problem in problems or [] if problem["field"] == field.name]})
    ids = {stored: (sent.getlist("ids." + stored) if sent is not None else standing_ids(view, stored))
           for stored in slots(step)}
    named = {field.name for field in step.fields if step.name != "pin"}
    return {"step": step, "title": show.title_of(step, words()), "fields": fields, "ids": ids, "is_pin": step.name == "pin",
            "problems": [problem["text"] for problem in problems or [] if problem["field"] not in named]}
