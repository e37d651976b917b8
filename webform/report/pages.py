"""The report's two addresses at the desk: a page and a PDF, from one content."""

from datetime import UTC, datetime

from flask import Blueprint, Response, abort, current_app, render_template, request, url_for

from ..photos import named, standing
from ..words import catalogue
from .content import content
from .paper import report_pdf
from .records import records_of

blueprint = Blueprint("report", __name__, template_folder="templates")


def report_content(shop, job_id: str) -> dict | None:
    """What the report of a job says, None where there is no such job. shop: the shop's books (webform.shop.Shop)."""
    record = job_id if job_id.startswith("job:") else "job:" + job_id
    records = records_of(shop.store, record)
    if records is None:
        return None
    photos = standing(shop, [photo["sha256"] for photo in named([records.job, *records.rounds])])
    return content(records, shop.job_state(record), catalogue(), now(), photos)


def now() -> str:
    """The time of this server as changes hold it."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")


@blueprint.get("/office/jobs/<job_id>/report")
def page(job_id: str) -> str:
    """The report as a page, with a way back to the job and to the PDF."""
    return render_template("report.html", report=_found(job_id), words=catalogue(), pdf_url=request.path + ".pdf",
                           job_url=request.path.removesuffix("/report"), picture_url=_picture_url)


@blueprint.get("/office/jobs/<job_id>/report.pdf")
def pdf(job_id: str) -> Response:
    """The report as a PDF."""
    photos = current_app.extensions["shop"].photos
    made = report_pdf(_found(job_id), catalogue(), lambda sha256: photos.picture(sha256, "small"))
    answer = Response(made, mimetype="application/pdf")
    answer.headers["Content-Disposition"] = "inline; filename=filter-report.pdf"
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _picture_url(sha256: str, size: str) -> str:
    return url_for("photos.shown", sha256=sha256, size=size)


def _found(job_id: str) -> dict:
    found = report_content(current_app.extensions["shop"], job_id)
    return found if found is not None else abort(404)
