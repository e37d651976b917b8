"""An outbox that was brought by hand: the file that a phone saved, taken in with a receipt for each change."""

import json
from typing import Any

from flask import current_app, render_template, request

from sync import by_hand
from sync.json_text import Refused, strict_json

from .. import acceptance
from ..checklist.lookup import step_of
from .pages import blueprint
from .settling import why_held
from .wording import field_name, name_of, say, shop, when

MOST_SHOWN = 500


@blueprint.get("/office/phones/file")
def outbox_file() -> str:
    """Where the file is chosen."""
    return _page()


@blueprint.post("/office/phones/file")
def take_file() -> Any:
    """Takes the file in and shows what became of each change."""
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        return _page(problem=say("file_none")), 422
    try:
        device, texts, hashes = by_hand.read(sent.read())
    except by_hand.NotTaken as refused:
        return _page(problem=say("file_" + refused.code)), 422
    known = current_app.extensions["doors"].read()["devices"].get(device)
    shut = "device_unknown" if known is None else "device_revoked" if known["revoked"] else None
    receipts = by_hand.take(shop().store, device, texts, hashes, acceptance.refusal, shut)
    lines = [{**_told(text), "outcome": _outcome(receipt),
              "why": why_held(receipt["reason"]) if receipt["status"] == "held" else ""}
             for text, receipt in zip(texts[:MOST_SHOWN], receipts, strict=False)]
    counts = {name: sum(_outcome(receipt) == name for receipt in receipts) for name in ("stored", "already", "held")}
    return _page(phone=known["name"] or device if known else device, is_known=known is not None, lines=lines, counts=counts,
                 is_cut=len(texts) > MOST_SHOWN)


def _outcome(receipt: dict[str, Any]) -> str:
    """What became of one change: "stored" now, "already" there, or "held"."""
    if receipt["status"] == "held":
        return "held"
    return "stored" if receipt["is_new"] else "already"


def _told(text: str) -> dict[str, str]:
    """Who says to have written a change, when, and about what, as far as its text can be read."""
    try:
        change = strict_json(text)
        kind = str(change["kind"])
        return {"by": name_of(str(change["by"])), "when": when(str(change["at"])),
                "about": "; ".join(field_name(kind, step_of(kind, field), field) for field in sorted(change["set"]))}
    except (Refused, KeyError, TypeError):
        return {"by": "", "when": "", "about": json.dumps(text[:80], ensure_ascii=False)}


def _page(problem: str | None = None, **found: Any) -> str:
    return render_template("outbox_file.html", problem=problem, **found)
