"""Held changes: what they say and why they were kept aside, tried again, or looked at by a person who is done with them."""

from typing import Any

from flask import abort, redirect, render_template, request, url_for

from sync import lookup
from sync.change import Refused, is_hash
from sync.exchange import SHUT
from sync.held import NOT_RETRIED

from ..checklist import check
from ..checklist.lookup import step_named
from ..shop import SEEN
from ..trade.words import sentence
from .pages import blueprint
from .settling import BY
from .told import told
from .wording import answer_of, phone_of, shop, when, why_held, words


@blueprint.get("/office/held")
def held() -> str:
    """Changes that were kept aside, with the reason, raw; below, those that somebody has looked at."""
    return _held("", [])


def _held(tried: str, problems: list[str]) -> str:
    """The page; tried: the hash of the one whose form came back with problems."""
    left, done = lookup.held(shop().store, but=SEEN), lookup.held(shop().store, only=SEEN)
    found = left + done
    marks = lookup.views(shop().store, [f"{SEEN}:{entry['hash']}" for entry in done])

    def drawn(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
        return [{**entry, **told(entry["text"]), "why": why_held(entry["reason"]), "phone": phone_of(entry["device"]),
                 "received": when(entry["received_at"]), "seen": _seen(marks.get(f"{SEEN}:{entry['hash']}")),
                 "problems": problems if entry["hash"] == tried else []} for entry in entries]

    return render_template("held.html", typed=request.form.get("reason", ""), held=drawn(left), seen=drawn(done),
                           shut=[reason for reason in SHUT if any(entry["reason"] == reason for entry in found)],
                           is_hopeful=any(entry["reason"] not in NOT_RETRIED for entry in found))


def _seen(mark: dict[str, Any] | None) -> list[dict[str, Any]]:
    """Who looked at it, when, and what came of it; [] where nobody has."""
    answers = mark["fields"].get("seen", {"answers": []})["answers"] if mark else []
    return [answer_of(step_named("held_seen"), "seen", answer) for answer in answers]


@blueprint.post("/office/held")
def retry() -> Any:
    """Tries all held changes again that can get better by waiting, or lets in those that a shut-out device sent."""
    reason = request.form.get("reason", "")
    if reason and reason not in SHUT:
        abort(400)
    shop().retry_held([reason] if reason else None)
    return redirect(url_for(".held"))


@blueprint.post("/office/held/<raw_hash>")
def look(raw_hash: str) -> Any:
    """The office is done with a held change and says what came of it: it stays held, and is counted no more."""
    reason, record = request.form.get("reason", "").strip(), f"{SEEN}:{raw_hash}"
    if not is_hash(raw_hash):
        abort(409)
    view = lookup.view(shop().store, record)
    if view and reason in [answer["value"]["reason"] for answer in view["fields"]["seen"]["answers"]]:
        return redirect(url_for(".held"))  # tapped twice
    if view or not lookup.is_held(shop().store, raw_hash):
        abort(409)
    wrong = check.problems(step_named("held_seen"), {"reason": reason} if reason else {})
    if wrong:
        return _held(raw_hash, [sentence(words(), problem["code"], problem["values"]) for problem in wrong]), 422
    try:
        receipt = shop().write(record, {"seen": {"reason": reason}}, BY, {})
    except Refused:
        abort(400)
    if receipt["status"] != "stored":
        return _held(raw_hash, [why_held(receipt["reason"])]), 422
    return redirect(url_for(".held"))
