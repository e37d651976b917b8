"""Issued reports at the desk and in the owner's hands: their addresses, and the marks of those that no longer stand.

A report is issued from exactly what the page showed, or not at all. What is drawn afterwards is what was frozen then; only
the marks above it are of today. An owner's link opens one frozen report and nothing else, is kept by nobody on the way
(no-store, noindex, no-referrer), and ends after a time with a page that says so; once withdrawn it is not found, and the
page is the one that any guess gets.
"""

from typing import Any

from flask import Response, abort, current_app, make_response, redirect, render_template, request, url_for

from ..checklist.calls import first_reason
from ..checklist.case import is_worse
from ..issued import now, paper_line
from ..owner_links import LINK_DAYS
from ..photos import BY
from ..shop import Shop
from ..trade.words import sentence
from ..words import catalogue
from .content import when
from .made import made_of
from .pages import blueprint, drawn, shown

SMALL, LARGE = "small", "large"
PRIVATE = {"Cache-Control": "no-store", "X-Robots-Tag": "noindex, nofollow, noarchive", "Referrer-Policy": "no-referrer"}


@blueprint.post("/office/jobs/<job_id>/report")
def issue(job_id: str) -> Any:
    """Freezes what the page showed under a new number; refused where something has changed since, or is missing."""
    shop, words, at = _shop(), catalogue(), now()
    made = made_of(shop, job_id, at) or abort(404)
    if made.answers != request.form.get("answers") or not made.content["may_issue"]:
        abort(409)
    number = shop.issued.issue(
        lambda number: {**made.content, "issue": sentence(words, "report.issued", {"number": number, "when": when(at)})},
        made.state, made.answers, BY, at, made.owner,
        lambda number: shop.tell_of_report(made.state, number, at, BY))
    shop.judging.wake()
    return redirect(url_for(".issued", number=number))


@blueprint.get("/office/issued/<number>")
def issued(number: str) -> str:
    """An issued report with its marks and its owner's links."""
    return _desk_page(_found(number))


@blueprint.get("/office/issued/<number>.pdf")
def issued_pdf(number: str) -> Response:
    """The same as a PDF."""
    report = _found(number)
    return drawn(_marked(report), f"report-{number}.pdf")


@blueprint.post("/office/issued/<number>/link")
def make_link(number: str) -> str:
    """A new link for the owner, shown once."""
    report = _found(number)
    return _desk_page(report, _shop().issued.links.make(number, now()))


@blueprint.post("/office/issued/<number>/withdraw")
def withdraw(number: str) -> Any:
    """Ends every link to this report, at once."""
    _found(number)
    _shop().issued.links.withdraw([number], now())
    return redirect(url_for(".issued", number=number))


@blueprint.get("/r/<secret>")
def owner_page(secret: str) -> Response:
    """The frozen report for its owner."""
    def picture_url(sha256: str, size: str) -> str:
        return url_for(".owner_photo", secret=secret, sha256=sha256, size=size)

    report = _opened(secret)
    return _private(make_response(shown(_marked(report, is_owner=True), url_for(".owner_pdf", secret=secret), picture_url)))


@blueprint.get("/r/<secret>/pdf")
def owner_pdf(secret: str) -> Response:
    """The same as a PDF."""
    report = _opened(secret)
    return _private(drawn(_marked(report, is_owner=True), f"report-{report['number']}.pdf"))


@blueprint.get("/r/<secret>/photos/<sha256>")
def owner_photo(secret: str, sha256: str) -> Response:
    """A re-encoded photo that this report names; no other."""
    report = _opened(secret)
    size = request.args.get("size", SMALL)
    named = {photo["sha256"] for photo in report["content"]["photos"] if photo["state"] == "here"}
    if sha256 not in named or size not in (SMALL, LARGE):
        abort(404)
    picture = _shop().photos.picture(sha256, size) or abort(404)
    return _private(Response(picture, mimetype="image/jpeg"))


def recall(report: dict[str, Any], state: dict[str, Any], words: dict[str, str], key: str) -> str:
    """The sentence that says why a report no longer stands, "" while it does. key: of the catalogue."""
    if not is_worse(state["verdict"], report["verdict"]):
        return ""
    values = {"number": report["number"], "verdict": state["text"], "why": first_reason(state)}
    return sentence(words, key, values).strip()


def _marked(report: dict[str, Any], is_owner: bool = False) -> dict[str, Any]:
    """What was frozen, with the marks of today above it. An owner is told that a report was recalled, not how."""
    words, state = catalogue(), _shop().job_state(report["job"])
    marks = [recall(report, state, words, "report.recalled_owner" if is_owner else "report.recalled")]
    if report["replaced_by"]:
        marks.append(sentence(words, "report.replaced", {"number": report["replaced_by"]}))
    return {**report["content"], "marks": [mark for mark in marks if mark], "paper_line": paper_line(report)}


def _desk_page(report: dict[str, Any], secret: str = "") -> str:
    links, at = _shop().issued.links.of(report["number"]), now()
    return shown(
        _marked(report), url_for(".issued_pdf", number=report["number"]), None,
        job_url=url_for("office.job", job_id=report["job"].removeprefix("job:")), number=report["number"],
        link=url_for(".owner_page", secret=secret, _external=True) if secret else "",
        open_links=sum(not entry["withdrawn_at"] and at < entry["until"] for entry in links),
        link_days=LINK_DAYS, links=[sentence(catalogue(), "report.link_" + _stands(entry, at), {
            name: when(entry[name + "_at"] if name != "until" else entry[name]) for name in ("made", "until", "withdrawn")
        }) for entry in links])


def _stands(link: dict[str, str], at: str) -> str:
    return "withdrawn" if link["withdrawn_at"] else "open" if at < link["until"] else "over"


def _found(number: str) -> dict[str, Any]:
    return _shop().issued.find(number) or abort(404)


def _opened(secret: str) -> dict[str, Any]:
    """The report of a link; where it opens none, a page that says what to do: 410 once its time is over, else 404."""
    link = _shop().issued.links.opened(secret, now())
    report: dict[str, Any] | None = _shop().issued.find(link.number)
    if report is None or link.is_over:
        page = render_template("link_over.html", words=catalogue(), days=LINK_DAYS, is_over=report is not None,
                               shop=report["content"]["shop"] if report else {"name": "", "address": ""})
        abort(_private(make_response(page, 410 if report else 404)))
    return report


def _private(response: Response) -> Response:
    response.headers.update(PRIVATE)
    return response


def _shop() -> Shop:
    found: Shop = current_app.extensions["shop"]
    return found
