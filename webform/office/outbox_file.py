"""An outbox that was brought by hand: the file that a phone saved, taken in with a receipt for each change and each photo."""

import json
from typing import Any

from flask import current_app, render_template, request

from sync import by_hand, exchange, photos_by_hand
from sync.json_text import Refused, strict_json

from .. import acceptance
from .pages import blueprint
from .told import told
from .wording import say, shop, when, why_held

MOST_SHOWN = 500
DAMAGED = ("body_cut", "wrong_hash")


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
        device, texts, hashes, listed = by_hand.read(sent.stream)
    except by_hand.NotTaken as refused:
        return _page(problem=say("file_" + refused.code)), 422
    known = current_app.extensions["doors"].read()["devices"].get(device)
    shut = "device_unknown" if known is None else "device_revoked" if known["revoked"] else None
    receipts = by_hand.take(shop().store, device, texts, hashes, acceptance.refusal_of_phone, shut)
    shop().erasures.came_in(exchange.touched(receipts), any(receipt["status"] == "held" for receipt in receipts))
    shop().judging.wake()
    # as a change of a phone that was shut out is kept, so is what it shows: nobody sees it until a person lets the change in
    photos = photos_by_hand.take(shop().photos, device, listed, sent.stream)
    lines = [{**_told(text), "outcome": _outcome(receipt),
              "why": why_held(receipt["reason"]) if receipt["status"] == "held" else ""}
             for text, receipt in zip(texts[:MOST_SHOWN], receipts, strict=False)]
    counts = {name: sum(_outcome(receipt) == name for receipt in receipts) for name in ("stored", "already", "held")}
    return _page(phone=known["name"] or device if known else device, is_known=known is not None, lines=lines, counts=counts,
                 is_cut=len(texts) > MOST_SHOWN, **_photos(photos, texts))


def _outcome(receipt: dict[str, Any]) -> str:
    """What became of a change or a photo: "stored" now, "already" there, "held", or "refused"."""
    if receipt["status"] != "stored":
        return str(receipt["status"])
    return "stored" if receipt["is_new"] else "already"


def _photos(receipts: list[dict[str, Any]], texts: list[str]) -> dict[str, Any]:
    """What the page shows of the photos of a file: those that were not taken come first."""
    shown = {photo["sha256"]: photo for text in texts for photo in _named(text)} if receipts else {}
    lines = [{**receipt, "outcome": _outcome(receipt), "taken": when(shown.get(receipt["sha256"], {}).get("taken_at", "")),
              "why": say("file_photo_" + receipt["reason"]) if receipt["reason"] else ""} for receipt in receipts]
    lines.sort(key=lambda line: line["outcome"] != "refused")
    counts = {name: sum(line["outcome"] == name for line in lines) for name in ("stored", "already", "refused")}
    return {"photos": lines[:MOST_SHOWN], "photo_counts": counts,
            "has_lost": any(line["reason"] in DAMAGED for line in lines)}


def _named(text: str) -> list[dict[str, Any]]:
    """The photos that a change names, as far as its text can be read."""
    try:
        found = [strict_json(text)["set"]]
    except (Refused, KeyError, TypeError):
        return []
    photos = []
    while found:
        entry = found.pop()
        if isinstance(entry, dict) and isinstance(entry.get("sha256"), str) and isinstance(entry.get("taken_at"), str):
            photos.append(entry)
        found += list(entry.values()) if isinstance(entry, dict) else entry if isinstance(entry, list) else []
    return photos


def _told(text: str) -> dict[str, Any]:
    """What a change says; of one that cannot be read, how its text begins."""
    found = told(text)
    return found if found["about"] else {**found, "about": json.dumps(text[:80], ensure_ascii=False)}


def _page(problem: str | None = None, **found: Any) -> str:
    return render_template("outbox_file.html", problem=problem, **found)
