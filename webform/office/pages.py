"""The desk's reading pages: front doors, sign-in, today's jobs, one job."""

import contextlib
from typing import Any

from flask import Blueprint, abort, current_app, redirect, render_template, request, session, url_for

from sync import lookup
from sync.log import Unavailable

from .. import access
from ..checklist.declaration import STAGES
from ..shop import SEEN, value
from ..trade.tag_code import read
from . import readings
from .beginning import beginning
from .void_state import trucks, voidable
from .wording import name_of, say, shop, when, words

blueprint = Blueprint("office", __name__, template_folder="templates")

VERSION = "0.1.0"


@blueprint.app_context_processor
def _desk() -> dict[str, Any]:
    """What every desk page needs: its words, its times, and the two counts beside the menu."""
    found = {"say": say, "when": when, "words": words(), "question_count": 0, "held_count": 0}
    if "office" in session:
        with contextlib.suppress(Unavailable):  # the page that says so is drawn with these too
            found.update(question_count=shop().questions(), held_count=lookup.held_count(shop().store, but=SEEN))
    return found


@blueprint.get("/")
def front() -> str:
    """Two doors: the phone and the desk."""
    return render_template("front.html", tag=None, problem=None)


@blueprint.get("/t/<code>")
def tag(code: str) -> str:
    """Where the address on a label leads a camera app."""
    found = read(code)
    is_tag = found["ok"] and found["kind"] == "tag"
    return render_template("front.html", tag=found["code"] if is_tag else None,
                           problem=None if is_tag else say("tag_foreign"))


@blueprint.get("/health")
def health() -> dict[str, Any]:
    """200 once the shop's books are open."""
    place = shop().store.counter()
    return {"ok": True, "version": VERSION, "calculation": shop().calculation, "position": place["position"],
            "verdicts": {"left": shop().judging.left()}}


@blueprint.route("/office/login", methods=["GET", "POST"])
def login() -> Any:
    """Signs the office in."""
    wrong = None
    wanted = request.values.get("next", "")
    if request.method == "POST":
        tries, who = current_app.extensions["tries"], f"login {request.remote_addr}"
        if tries.are_spent(who):
            abort(429)
        if current_app.extensions["doors"].is_office(request.form.get("name", ""), request.form.get("password", "")):
            access.sign_in(request.form["name"])
            return redirect(wanted if wanted.startswith("/office") and "//" not in wanted else url_for(".today"))
        tries.failed(who)
        wrong = say("login_wrong")
    return render_template("login.html", wrong=wrong, next=wanted, name=request.form.get("name", "office")), \
        403 if wrong else 200


@blueprint.post("/office/logout")
def logout() -> Any:
    """Signs the office out."""
    session.clear()
    return redirect(url_for(".login"))


@blueprint.get("/office/")
def today() -> str:
    """The jobs that changed last, with their verdicts and what each waits for."""
    rows = readings.ledger(shop().todays_jobs())
    recalls = [{"job": report["job"], "text": readings.recall(report, shop().job_state(report["job"])),
                "of": readings.whose(report["job"])} for report in shop().issued.recalled()]
    return render_template("today.html", rows=rows, beginning=[] if rows else beginning(),
                           recalls=[entry for entry in recalls if entry["text"]])


@blueprint.get("/office/jobs/<job_id>")
def job(job_id: str) -> str:
    """One job with all its readings, its verdicts, and the history of every answer."""
    record = "job:" + job_id.removeprefix("job:")
    views, state = shop().read_job(record)
    if not views:
        abort(404)
    return render_template(
        "job.html", job=record, state=state, about=readings.about(views, record), facts=readings.facts(views, record),
        table=readings.table(views, record), decisions=readings.decisions(views[record]), name_of=name_of,
        told={stage: readings.told(state, stage) for stage in STAGES if state[stage]},
        waits=readings.waits(state, views[record]), arithmetic=readings.arithmetic(state),
        reports=readings.reports(record, state), history=readings.history(views, record),
        absent=readings.absent_photos(views, record),
        is_reason_missing=request.args.get("missing") == "reason", voidable=voidable(views, record),
        filter=value(views[record], "filter"), trucks=trucks(views, record), truck=value(views[record], "truck") or "")

