"""The routes that phones speak to: enrolment, push, pull, fetch; the raw log; and the description of them all.

The border itself is sync/wire.py, its shapes are sync/shapes.py.
"""

from typing import Any

from flask import Blueprint, Response, abort, current_app, g, jsonify, request

from sync import openapi, shapes, wire

from . import acceptance, access
from .carrying import carried
from .checklist import declaration
from .trade import tag_code

blueprint = Blueprint("wire", __name__, url_prefix="/sync")


class EnrolRequest(shapes.Shape):
    """A one-time code that the office has shown, and what this device is to be called."""

    code = shapes.text()
    name = shapes.text()


class EnrolAnswer(shapes.Shape):
    """The device's name, the first part of the ids of its changes. Its credential is set as a cookie."""

    device = shapes.text()


# What the door in front of every route refuses (access.py), whatever is asked.
DOOR = ((403, "forbidden"), (415, "not_json"), (500, "failed"))
ENROL = shapes.Route("enrol", "A device's name and credential for a one-time code", EnrolRequest(), EnrolAnswer(),
                     (*shapes.READING, (403, "bad_code"), (429, "too_many_tries"), (503, "unavailable")))
# Each route of the wire: its endpoint, and what the door in front of it refuses besides.
ROUTES = {**{"wire." + route.name: (route, DOOR) for route in (ENROL, *shapes.ROUTES)},
          "photos.state": (shapes.PHOTO_STATE, ((500, "failed"),)),
          "photos.take": (shapes.PHOTO_PIECE, ((403, "forbidden"), (413, "too_large"), (500, "failed")))}
SCHEMES = {
    "device": {"type": "apiKey", "in": "cookie", "name": "__Host-ashbook_phone",
               "description": "Set by enrol. Without TLS its name is ashbook_phone."},
    "office": {"type": "apiKey", "in": "cookie", "name": "__Host-ashbook_office", "description": "A signed-in desk."},
    "program": {"type": "http", "scheme": "basic", "description": "Name and password of the office's account."},
}
ASKS: dict[str, list[dict[str, Any]]] = {"anyone": [], "phone": [{"device": []}], "pushing": [{"device": []}],
                                         "auditing": [{"office": []}, {"program": []}]}


@blueprint.post("/enrol")
def enrol() -> Any:
    """Redeems a one-time code: sets the device cookie, answers the device's name."""
    tries, who = current_app.extensions["tries"], f"enrol {request.remote_addr}"
    if tries.are_spent(who):
        abort(429)
    try:
        given = wire.read(ENROL, request.get_data(), request.headers.get("Content-Encoding"))
    except wire.WireError as refused:
        return _packed(*refused.answer)
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
    shop = current_app.extensions["shop"]
    body, encoding, device, is_revoked = request.get_data(), request.headers.get("Content-Encoding"), g.device, g.is_revoked
    with shop.judging.giving_way():
        status, answer, touched = shop.pushing.do(
            lambda: wire.push(shop.store, device, body, encoding, acceptance.refusal_of_phone,
                              is_plain=acceptance.is_plainly_right_of_phone, is_revoked=is_revoked))
        sent = _packed(status, answer)
    shop.erasures.came_in(touched, any(receipt["status"] == "held" for receipt in answer.get("receipts", ())))
    shop.judging.wake()
    return sent


@blueprint.post("/pull")
def pull() -> Response:
    """One page of what changed since the phone's cursor."""
    shop = current_app.extensions["shop"]
    store = shop.store
    with shop.judging.giving_way():
        return _packed(*wire.answer_pull(store, request.get_data(), request.headers.get("Content-Encoding"), carried(store)))


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


@blueprint.get("/openapi.json")
def description() -> Any:
    """The wire in OpenAPI, made from the shapes that the server parses with."""
    return jsonify(described())


def described() -> dict[str, Any]:
    """The OpenAPI document of this deployment's wire."""
    rules = {route.name: access.RULES[endpoint] for endpoint, (route, _door) in ROUTES.items()}
    routes = [route._replace(errors=route.errors + door + _door_of(rules[route.name])) for route, door in ROUTES.values()]
    return openapi.describe(routes, title="Ashbook, the exchange of changes", version=str(declaration.SCHEMA), prefix="/sync",
                            schemes=SCHEMES, security={name: ASKS[rule] for name, rule in rules.items()})


def _door_of(rule: str) -> tuple[tuple[int, str], ...]:
    """What the door refuses where a credential is asked for."""
    wrong = () if rule == "anyone" else ((401, "not_enrolled"),)
    return (*wrong, (429, "too_many_tries")) if rule == "auditing" else wrong


def _packed(status: int, answer: dict[str, Any]) -> Response:
    body, headers = wire.packed(answer, request.headers.get("Accept-Encoding"))
    return Response(body, status, headers)
