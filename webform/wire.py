"""The routes that phones speak to: enrolment, push, pull, fetch. The border itself is sync/wire.py."""

from typing import Any

from flask import Blueprint, Response, abort, current_app, g, jsonify, request

from sync import wire

from . import access
from .checklist import check
from .trade import tag_code

blueprint = Blueprint("wire", __name__, url_prefix="/sync")


@blueprint.post("/enrol")
def enrol() -> Any:
    """Redeems a one-time code: sets the device cookie, answers the device's name."""
    tries, who = current_app.extensions["tries"], f"enrol {request.remote_addr}"
    if tries.are_spent(who):
        abort(429)
    given = request.get_json(silent=True)
    if not isinstance(given, dict) or not isinstance(given.get("code"), str) or not isinstance(given.get("name"), str):
        abort(400)
    read = tag_code.read(tag_code.ENROL + given["code"].strip().upper().removeprefix(tag_code.ENROL))
    found = current_app.extensions["doors"].redeem(str(read["code"]), given["name"]) if read["ok"] else None
    if found is None:
        tries.failed(who)
        return jsonify({"error": {"code": "bad_code", "details": None, "text": "This code is not valid any more. It "
                                  "works once and for ten minutes. Ask the office for a new one."}}), 403
    device, token = found
    answer = jsonify({"device": device})
    access.set_cookie(answer, token)
    return answer


@blueprint.post("/push")
def push() -> Response:
    """Receipts for changes. A revoked phone's are held."""
    store = current_app.extensions["shop"].store
    status, answer, _touched = wire.push(store, g.device, request.get_data(), request.headers.get("Content-Encoding"),
                                         check.refusal, is_revoked=g.is_revoked)
    return _packed(status, answer)


@blueprint.post("/pull")
def pull() -> Response:
    """One page of what changed since the phone's cursor."""
    store = current_app.extensions["shop"].store
    return _packed(*wire.answer_pull(store, request.get_data(), request.headers.get("Content-Encoding")))


@blueprint.post("/fetch")
def fetch() -> Response:
    """Records that the phone does not carry."""
    store = current_app.extensions["shop"].store
    return _packed(*wire.answer_fetch(store, request.get_data(), request.headers.get("Content-Encoding")))


@blueprint.post("/changes")
def changes() -> Response:
    """The log as it is stored, for audit and rebuild; the office's, not a phone's."""
    store = current_app.extensions["shop"].store
    return _packed(*wire.answer_changes(store, request.get_data(), request.headers.get("Content-Encoding")))


def _packed(status: int, answer: dict[str, Any]) -> Response:
    body, headers = wire.packed(answer, request.headers.get("Accept-Encoding"))
    return Response(body, status, headers)
