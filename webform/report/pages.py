"""The report's addresses at the desk as it is now: a page and a PDF, from one content. issuing.py has the frozen ones."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, Response, abort, current_app, render_template, request, url_for

from ..issued import now
from ..words import catalogue
from .made import Made, made_of
from .paper import report_pdf

blueprint = Blueprint("report", __name__, template_folder="templates")


@blueprint.get("/office/jobs/<job_id>/report")
def page(job_id: str) -> str:
    """The report as a page, with a way back to the job, to the PDF, and to issuing it."""
    made = _found(job_id)
    return shown(made.content, request.path + ".pdf", None, job_url=request.path.removesuffix("/report"),
                 answers=made.answers if made.content["may_issue"] else "",
                 issued=current_app.extensions["shop"].issued.of_job(made.state["job"]))


@blueprint.get("/office/jobs/<job_id>/report.pdf")
def pdf(job_id: str) -> Response:
    """The report as a PDF."""
    return drawn(_found(job_id).content, "filter-report.pdf")


def shown(content: dict[str, Any], pdf_url: str, picture_url: Callable[[str, str], str] | None, **more: Any) -> str:
    """The page of a content, as it is or frozen. picture_url: where a photo is, by hash and size; the desk's unless given."""
    return render_template("report.html", report=content, words=catalogue(), pdf_url=pdf_url,
                           picture_url=picture_url or _picture_url, **more)


def drawn(content: dict[str, Any], name: str) -> Response:
    """The PDF of a content, as it is or frozen."""
    photos = current_app.extensions["shop"].photos
    answer = Response(report_pdf(content, catalogue(), lambda sha256: photos.picture(sha256, "small")),
                      mimetype="application/pdf")
    answer.headers["Content-Disposition"] = f"inline; filename={name}"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _picture_url(sha256: str, size: str) -> str:
    return url_for("photos.shown", sha256=sha256, size=size)


def _found(job_id: str) -> Made:
    return made_of(current_app.extensions["shop"], job_id, now()) or abort(404)
