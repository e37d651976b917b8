"""The desk's pages, rendered on the server; no script is needed. Forms hand back the ids that they showed."""

import hashlib
import io
import json
import secrets
from typing import Any

import qrcode
import qrcode.image.svg
from flask import Blueprint, abort, current_app, redirect, render_template, request, session, url_for
from markupsafe import Markup

from sync import exchange, lookup

from ..checklist import check, show
from ..checklist.lookup import slots, step_named, step_of
from ..checklist.lookup import steps as all_steps
from ..shop import Shop, standing_ids, value
from ..trade.tag_code import ENROL, read
from ..trade.words import sentence
from ..words import catalogue

blueprint = Blueprint("office", __name__, template_folder="templates")

BY = "desk:office"
BOOKS = ("shop", "model", "person", "owner")
PIN_ROUNDS = 200_000
VERSION = "0.1.0"


def shop() -> Shop:
    """The books of this app."""
    found: Shop = current_app.extensions["shop"]
    return found


@blueprint.get("/")
def front() -> str:
    """Two doors: the phone and the desk."""
    return render_template("front.html", tag=None)


@blueprint.get("/t/<code>")
def tag(code: str) -> str:
    """Where the address on a label leads a camera app."""
    found = read(code)
    return render_template("front.html", tag=found["code"] if found["ok"] and found["kind"] == "tag" else "")


@blueprint.get("/health")
def health() -> dict[str, Any]:
    """200 once the shop's books are open."""
    place = shop().store.counter()
    return {"ok": True, "version": VERSION, "calculation": shop().calculation, "position": place["position"]}


@blueprint.route("/office/login", methods=["GET", "POST"])
def login() -> Any:
    """Signs the office in."""
    wrong = None
    if request.method == "POST":
        tries, who = current_app.extensions["tries"], f"login {request.remote_addr}"
        if tries.are_spent(who):
            abort(429)
        if current_app.extensions["doors"].is_office(request.form.get("name", ""), request.form.get("password", "")):
            session.clear()
            session["office"] = request.form["name"]
            wanted = request.form.get("next", "")
            return redirect(wanted if wanted.startswith("/office") and "//" not in wanted else url_for(".today"))
        tries.failed(who)
        wrong = "This name and password do not fit together. The password was shown when the server first started."
    return render_template("login.html", wrong=wrong, next=request.args.get("next", ""),
                           name=request.form.get("name", "office")), 403 if wrong else 200


@blueprint.post("/office/logout")
def logout() -> Any:
    """Signs the office out."""
    session.clear()
    return redirect(url_for(".login"))


@blueprint.get("/office/")
def today() -> str:
    """The jobs that changed last, with their verdicts, and what waits for the desk."""
    rows = [{**entry, **_about(entry["views"], entry["job"])} for entry in shop().todays_jobs()]
    return render_template("today.html", rows=rows, questions=len(shop().two_answers()),
                           held=lookup.held_count(shop().store))


@blueprint.get("/office/jobs/<job_id>")
def job(job_id: str) -> str:
    """One job with all its readings, its verdicts, and the history of every answer."""
    record = "job:" + job_id.removeprefix("job:")
    views = shop().views_of_job(record)
    if not views:
        abort(404)
    rounds = [view for view in views.values() if view["kind"] == "round" and value(view, "job") == record]
    shown = [_shown(step, views, record, rounds) for step in all_steps() if step.record in ("filter", "job", "round")]
    state = shop().state_of(record, views)
    signer = _name(state["signoff"]["person"]) if state["signoff"] else ""
    return render_template("job.html", job=record, state=state, signer=signer, words=catalogue(),
                           steps=[s for s in shown if s],
                           about=_about(views, record), history=_history(record, rounds))


@blueprint.get("/office/questions")
def questions() -> str:
    """Every field in which two answers stand, both shown side by side."""
    found = [{**entry, "lines": [_answer_lines(entry["step"], entry["field"], answer) for answer in entry["answers"]],
              "title": show.title_of(entry["step"]) if entry["step"] else entry["field"],
              "ids": [answer["id"] for answer in entry["answers"]]} for entry in shop().two_answers()]
    return render_template("questions.html", questions=found)


@blueprint.post("/office/questions")
def settle() -> Any:
    """Settles one question with the answer that was picked; replaces exactly the answers that the form showed."""
    record, field = request.form.get("record", ""), request.form.get("field", "")
    ids = request.form.getlist("ids")
    view = lookup.view(shop().store, record)
    answers = view["fields"].get(field, {"answers": []})["answers"] if view else []
    picked = [answer for answer in answers if answer["id"] == request.form.get("pick")]
    if not picked or picked[0]["id"] not in ids:
        abort(400)
    shop().write(record, {field: picked[0]["value"]}, BY, {field: ids})
    return redirect(url_for(".questions"))


@blueprint.get("/office/held")
def held() -> str:
    """Changes that were kept aside, with the reason, raw."""
    return render_template("held.html", held=[{**entry, "why": _why_held(entry["reason"])}
                                              for entry in lookup.held(shop().store)])


@blueprint.post("/office/held")
def retry() -> Any:
    """Tries all held changes again that can get better by waiting."""
    exchange.retry_held(shop().store, check.refusal)
    return redirect(url_for(".held"))


@blueprint.get("/office/phones")
def phones() -> str:
    """The enrolled phones."""
    doors = current_app.extensions["doors"].read()
    return render_template("phones.html", devices=sorted(doors["devices"].items()), code=None, qr=None)


@blueprint.post("/office/phones")
def enrol_code() -> str:
    """Shows a one-time code, as text and as QR."""
    code = current_app.extensions["doors"].new_code()
    doors = current_app.extensions["doors"].read()
    return render_template("phones.html", devices=sorted(doors["devices"].items()), code=code, qr=_qr(ENROL + code))


@blueprint.post("/office/phones/revoke")
def revoke() -> Any:
    """Shuts a phone out."""
    current_app.extensions["doors"].revoke(request.form.get("device", ""))
    return redirect(url_for(".phones"))


@blueprint.get("/office/books")
def books() -> str:
    """The shop, its models, people and owners: one form a step of the declaration."""
    return _books(None, {}, [])


@blueprint.post("/office/books")
def write() -> Any:
    """Stores one step of one record, checked like any answer; a wrong one comes back as it was typed."""
    step = step_named(request.form.get("step", ""))
    record = request.form.get("record", "")
    if step is None or step.record not in BOOKS or not (record == "" or record.startswith(step.record + ":")):
        abort(400)
    if step.name == "pin":
        pin = request.form.get("pin", "")
        if not (pin.isdigit() and 4 <= len(pin) <= 12):
            return _books(record, request.form, [{"field": "pin", "text": "A PIN is 4 to 12 digits."}]), 422
        values = pin_value(pin)
    else:
        values = _typed(step)
    found = check.problems(step, values)
    if found:
        texts = [{"field": problem["field"], "text": sentence(catalogue(), problem["code"], problem["values"])}
                 for problem in found]
        return _books(record, request.form, texts), 422
    record = record or f"{step.record}:{new_name()}"
    replaces = {field: request.form.getlist("ids." + field) for field in slots(step)}
    shop().write(record, {step.slot: values} if step.slot else values, BY, replaces)
    return redirect(url_for(".books") + "#" + record)


def new_name() -> str:
    """Sixteen random characters for the name of a new record."""
    return "".join(secrets.choice("0123456789abcdefghjkmnpqrstvwxyz") for _ in range(16))


def pin_value(pin: str) -> dict[str, Any]:
    """What is stored of a PIN: it names who signs on a shared phone; the phone's own credential is the device cookie."""
    salt = secrets.token_bytes(16)
    key = hashlib.pbkdf2_hmac("sha256", pin.encode(), salt, PIN_ROUNDS)
    return {"salt": salt.hex(), "rounds": {"n": str(PIN_ROUNDS), "u": ""}, "key": key.hex()}


def _books(record: str | None, typed: Any, problems: list[dict[str, str]]) -> str:
    """The books page; typed and problems belong to the step and record that were just sent."""
    kinds = []
    for kind in BOOKS:
        listed = [entry["record"] for entry in lookup.records(shop().store, kind, 200)]
        views = lookup.views(shop().store, listed)
        blank: dict[str, Any] = {"record": "", "kind": kind, "fields": {}}
        kinds.append({"kind": kind, "steps": [step for step in all_steps() if step.record == kind],
                      "views": [*(views[name] for name in listed if name in views), blank]})
    return render_template("books.html", kinds=kinds, record=record, typed=typed, problems=problems, value=value,
                           ids=standing_ids, slots=slots)


def _typed(step: Any) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for field in step.fields:
        given = request.form.get("value." + field.name, "").strip()
        if not given:
            continue
        values[field.name] = {"n": given, "u": request.form.get("unit." + field.name, "")} \
            if field.kind == "number" else given
    return values


def _about(views: dict[str, Any], record: str) -> dict[str, str]:
    job_view = views[record]
    filter_view = views.get(value(job_view, "filter") or "")
    model = views.get(value(filter_view, "model") or "") if filter_view else None
    owner = views.get(value(job_view, "owner") or "")
    tags = [name.removeprefix("tag:") for name in views if name.startswith("tag:")]
    return {"serial": (value(filter_view, "serial") if filter_view else "") or "",
            "model": (value(model, "number") if model else "") or "", "owner": (value(owner, "name") if owner else "") or "",
            "truck": value(job_view, "truck") or "", "work_order": value(job_view, "work_order") or "",
            "tag": tags[0] if tags else ""}


def _shown(step: Any, views: dict[str, Any], record: str, rounds: list[Any]) -> dict[str, Any] | None:
    """A step's answers in this job: title and columns of lines, None where there are none."""
    view = views[record] if step.record == "job" else views.get(value(views[record], "filter") or "")
    sources = rounds if step.record == "round" else [view]
    columns = []
    for number, source in enumerate(sources, 1):
        if source is None:
            continue
        stored = slots(step) if step.slot else [None]
        for slot in stored:
            held = value(source, slot) if slot else {f.name: value(source, f.name) for f in step.fields if f.kind != "ref"}
            lines = show.lines(step, held, catalogue()) if held else []
            if lines:
                name = slot.split(".")[0] if slot and step.is_staged else f"round {number}" if step.record == "round" else ""
                columns.append({"name": name, "lines": lines})
    return {"title": show.title_of(step, catalogue()), "columns": columns} if columns else None


def _history(record: str, rounds: list[Any]) -> list[dict[str, Any]]:
    """Every change of the job and its rounds: who, when, which phone, what; the newest first."""
    found = []
    for name in [record, *(view["record"] for view in rounds)]:
        for entry in lookup.history(shop().store, name):
            change = entry["change"] or {"set": {}, "by": "", "at": ""}
            for field in sorted(change["set"]):
                found.append({"position": entry["position"], "device": entry["device"], "by": _name(change["by"]),
                              "at": change["at"], "field": field,
                              "text": _text(step_of(name.split(":")[0], field), field, change["set"][field])})
    return sorted(found, key=lambda line: -line["position"])


def _answer_lines(step: Any, field: str, answer: dict[str, Any]) -> dict[str, Any]:
    return {"id": answer["id"], "at": answer["at"], "by": _name(answer["by"]), "device": answer["id"].split(".")[0],
            "text": _text(step, field, answer["value"])}


def _text(step: Any, field: str, held_value: Any) -> str:
    if step is None:
        return json.dumps(held_value, ensure_ascii=False)
    values = held_value if step.slot else {field: held_value}
    return "; ".join(f"{line['label']}: {line['text']}" for line in show.lines(step, values, catalogue())) or "—"


def _name(by: str) -> str:
    view = lookup.view(shop().store, by) if by.startswith("person:") else None
    return (value(view, "name") if view else None) or by


def _why_held(reason: str) -> str:
    return sentence(catalogue(), "held." + reason, {}) if "held." + reason in catalogue() \
        else sentence(catalogue(), reason, {}) if reason in catalogue() else reason


def _qr(text: str) -> Markup:
    """The code as an SVG picture."""
    out = io.BytesIO()
    qrcode.make(text, image_factory=qrcode.image.svg.SvgPathImage, box_size=12).save(out)
    picture = out.getvalue().decode()
    return Markup(picture[picture.index("<svg"):])
