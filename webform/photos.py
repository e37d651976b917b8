"""Photos on the server: their addresses for phones and the desk, and how each named photo stands.

A photo that an answer names is "here", or it "waits" to arrive, or a person gave it up and it is "lost": then there is
a record photo:HASH with the reason. One that arrives after all is here again. Originals are never served.
"""

from collections.abc import Iterable
from typing import Any

from flask import Blueprint, Response, abort, current_app, g, jsonify, redirect, request, url_for

from sync import lookup
from sync.change import Refused
from sync.photos import error
from sync.pictures import PhotoRefused

from .checklist.declaration import STEPS
from .checklist.lookup import slots
from .checklist.photos import named_in
from .shop import Shop, standing_ids, value

blueprint = Blueprint("photos", __name__)

BY = "desk:office"
FOR_YEARS = "private, max-age=31536000, immutable"
PHOTO_STEPS = tuple(step for step in STEPS if any(field.kind == "photos" for field in step.fields))


@blueprint.get("/sync/photos/<sha256>")
def state(sha256: str) -> Any:
    """How far this phone has come with a photo; with ?size= the re-encoded picture of one that is here."""
    if "size" in request.args:
        return _picture(sha256)
    return jsonify(_photos().state(g.device, sha256))


@blueprint.put("/sync/photos/<sha256>")
def take(sha256: str) -> Any:
    """The next piece of a photo, as raw bytes."""
    if request.mimetype != "application/octet-stream" or request.headers.get("Content-Encoding", "identity") != "identity":
        raise PhotoRefused(415, "bad_type")
    return jsonify(_photos().take(g.device, sha256, request.headers.get("Content-Range"), request.get_data()))


@blueprint.get("/office/photos/<sha256>")
def shown(sha256: str) -> Response:
    """The re-encoded picture for the desk: ?size=small or large."""
    return _picture(sha256)


@blueprint.post("/office/photos/<sha256>")
def lost(sha256: str) -> Any:
    """A person gives up a photo that will not arrive, with a reason that the report prints."""
    shop, record = _shop(), "photo:" + sha256
    answer = {"reason": request.form.get("reason", "").strip()}
    job = request.form.get("job", "") or abort(400)
    if shop.photos.has(sha256):
        abort(409)
    if answer["reason"]:
        view = lookup.view(shop.store, record)
        try:
            receipt = shop.write(record, {"lost": answer}, BY, {"lost": standing_ids(view, "lost")})
        except Refused:
            abort(400)
        if receipt["status"] != "stored":
            abort(400)
    return redirect(url_for("office.job", job_id=job, missing="" if answer["reason"] else "reason") + "#photos")


@blueprint.app_errorhandler(PhotoRefused)
def _refused(problem: PhotoRefused) -> Any:
    return jsonify(error(problem)), problem.status


def standing(shop: Shop, hashes: Iterable[str]) -> dict[str, dict[str, str]]:
    """Hash → {"state": "here", "waits" or "lost", "reason", "by", "at"}, for each of the photos."""
    found = {name: {"state": "here" if shop.photos.has(name) else "waits", "reason": "", "by": "", "at": ""}
             for name in dict.fromkeys(hashes)}
    given_up = lookup.views(shop.store, ["photo:" + name for name in found if found[name]["state"] == "waits"])
    for record, view in given_up.items():
        told = value(view, "lost")
        if told:
            answer = max(view["fields"]["lost"]["answers"], key=lambda entry: (entry["lamport"], entry["id"]))
            found[record.removeprefix("photo:")] = {"state": "lost", "reason": told["reason"], "by": answer["by"],
                                                    "at": answer["at"]}
    return found


def named(views: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Every photo that a standing answer of these records names, each once: the photo with "kind", "field", "step"."""
    found: dict[str, dict[str, Any]] = {}
    for view in views:
        for step in PHOTO_STEPS:
            for stored in slots(step) if step.record == view["kind"] else ():
                for answer in view["fields"].get(stored, {"answers": []})["answers"]:
                    values = answer["value"] if step.slot is not None else {stored: answer["value"]}
                    for photo in named_in(step, values):
                        found.setdefault(photo["sha256"], {**photo, "kind": view["kind"], "field": stored,
                                                           "step": step, "change": answer["id"]})
    return list(found.values())


def _picture(sha256: str) -> Response:
    drawn = _photos().picture(sha256, request.args.get("size", "small"))
    if drawn is None:
        abort(404)
    answer = Response(drawn, mimetype="image/jpeg")
    answer.headers["Cache-Control"] = FOR_YEARS  # its name is its content
    answer.headers["Content-Disposition"] = "inline; filename=photo.jpg"
    answer.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    return answer


def _shop() -> Shop:
    found: Shop = current_app.extensions["shop"]
    return found


def _photos() -> Any:
    return _shop().photos
