"""The border of the exchange: bytes in, (status, answer) out, for any web framework.

Promises: a body that was cut, is too large or has another shape is refused whole with a code and a sentence, and
nothing of it is stored; what is inside the shape is never refused here but held, change by change.
"""

import gzip
import json
import zlib
from collections.abc import Mapping
from typing import Any

from marshmallow import EXCLUDE, Schema, ValidationError, fields, validate

from . import exchange, lookup
from .change import Refused, strict_json
from .log import Store, Unavailable

LARGEST_BODY = 16 * 2**20
MOST_CHANGES = 5_000
MOST_FETCHED = 1_000
MOST_HELD = 10_000
COMPRESS_FROM = 1_000

Answer = tuple[int, dict[str, Any]]

SENTENCES = {
    "too_large": f"The request is larger than {LARGEST_BODY} bytes unpacked. Send fewer changes at a time.",
    "body_cut": "The packed request ends too early or is damaged. Send it again.",
    "bad_encoding": "This content encoding is not known. Send the request plain or as gzip.",
    "not_json": "The request is not JSON in UTF-8. Send one JSON object.",
    "bad_request": "The request does not have the expected shape; see details.",
    "held_quota": f"This device already has {MOST_HELD} changes held. Settle those at the desk first.",
    "unavailable": "The store did not take this. Nothing of the request is stored. Send it again later.",
}


_encoder = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), check_circular=False)


class Texts(fields.Field[list[str]]):
    """A list of texts, checked in one go: a push has thousands."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **more: Any) -> list[str]:
        if not isinstance(value, list) or not all(type(item) is str for item in value):
            raise ValidationError("Must be a list of texts.")
        return value


class PlaceShape(Schema):
    """A place in the log."""

    class Meta:
        unknown = EXCLUDE

    epoch = fields.String(required=True, validate=validate.Length(max=64))
    position = fields.Integer(strict=True, required=True, validate=validate.Range(min=0, max=2**53 - 1))
    chain = fields.String(required=True, validate=validate.Length(max=64))
    held = fields.String(allow_none=True, load_default=None, validate=validate.Length(max=64))
    since = fields.Integer(strict=True, allow_none=True, load_default=None, validate=validate.Range(min=0, max=2**53 - 1))


class PushShape(Schema):
    """Changes as texts, with their hashes."""

    class Meta:
        unknown = EXCLUDE

    schema = fields.Integer(strict=True, required=True, validate=validate.Range(min=1))
    changes = Texts(required=True, validate=validate.Length(max=MOST_CHANGES))
    hashes = Texts(required=True, validate=validate.Length(max=MOST_CHANGES))
    witness = fields.Nested(PlaceShape, allow_none=True, load_default=None)


class PullShape(Schema):
    """A cursor, or null for everything."""

    class Meta:
        unknown = EXCLUDE

    cursor = fields.Nested(PlaceShape, allow_none=True, required=True)
    next = fields.String(allow_none=True, load_default=None)
    witness = fields.Nested(PlaceShape, allow_none=True, load_default=None)


class FetchShape(Schema):
    """Record ids."""

    class Meta:
        unknown = EXCLUDE

    records = Texts(required=True, validate=validate.Length(max=MOST_FETCHED))


class WireError(Exception):
    """A request that is refused whole."""

    def __init__(self, status: int, code: str, details: Any = None) -> None:
        super().__init__(code)
        self.answer: Answer = (status, {"error": {"code": code, "text": SENTENCES[code], "details": details}})


def answer_push(store: Store, device: str, body: bytes, encoding: str | None = None,
                accept: exchange.Accept | None = None, *, is_revoked: bool = False) -> Answer:
    """(status, {"epoch", "receipts", "end", "reset"}), or an error's status and shape."""
    status, answer, _touched = push(store, device, body, encoding, accept, is_revoked=is_revoked)
    return status, answer


def push(store: Store, device: str, body: bytes, encoding: str | None = None,
         accept: exchange.Accept | None = None, *, is_revoked: bool = False) -> tuple[int, dict[str, Any], list[str]]:
    """As answer_push, and with it the records that changed, whose verdicts are now to be computed again."""
    try:
        request = _read(PushShape(), body, encoding)
        if len(request["changes"]) != len(request["hashes"]):
            raise WireError(400, "bad_request", {"hashes": ["There must be one hash for each change."]})
        if is_revoked and lookup.held_count(store, device) + len(request["changes"]) > MOST_HELD:
            raise WireError(429, "held_quota")
        with store.working():
            is_reset = not exchange.fits(store, request["witness"])
        receipts = exchange.push(store, device, request["changes"], request["hashes"], accept, is_revoked=is_revoked)
        end = exchange.place_of(store.counter())
        answer = {"epoch": end["epoch"], "end": end, "reset": is_reset,
                  "receipts": [{key: receipt[key] for key in ("id", "hash", "status", "position", "reason")}
                               for receipt in receipts]}
    except WireError as error:
        return *error.answer, []
    except Unavailable:
        return *WireError(503, "unavailable").answer, []
    return 200, answer, exchange.touched(receipts)


def answer_pull(store: Store, body: bytes, encoding: str | None = None, carried: exchange.Carried | None = None,
                limit: int = exchange.PAGE_RECORDS) -> Answer:
    """(status, page of records), or an error's status and shape."""
    try:
        request = _read(PullShape(), body, encoding)
        return 200, exchange.pull(store, request["cursor"], request["next"], limit, carried, request["witness"])
    except WireError as error:
        return error.answer
    except Unavailable:
        return WireError(503, "unavailable").answer


def answer_fetch(store: Store, body: bytes, encoding: str | None = None) -> Answer:
    """(status, {"records": [...]}), or an error's status and shape."""
    try:
        return 200, exchange.fetch(store, _read(FetchShape(), body, encoding)["records"])
    except WireError as error:
        return error.answer
    except Unavailable:
        return WireError(503, "unavailable").answer


def packed(answer: dict[str, Any], accepted: str | None = None) -> tuple[bytes, dict[str, str]]:
    """The bytes of an answer and its headers; gzip where the Accept-Encoding header names it and it is worth it."""
    body = _encoder.encode(answer).encode()
    headers = {"Content-Type": "application/json", "Cache-Control": "no-store", "Vary": "Accept-Encoding"}
    if len(body) >= COMPRESS_FROM and "gzip" in (accepted or ""):
        body = gzip.compress(body, 5, mtime=0)
        headers["Content-Encoding"] = "gzip"
    return body, headers


def unpacked(body: bytes, encoding: str | None = None) -> bytes:
    """The plain bytes of a request body; raises WireError where it is cut, damaged or too large."""
    name = (encoding or "identity").strip().lower()
    if name == "gzip":
        reader = zlib.decompressobj(31)
        try:
            plain = reader.decompress(body, LARGEST_BODY + 1)
        except zlib.error:
            raise WireError(400, "body_cut") from None
        if len(plain) > LARGEST_BODY:
            raise WireError(413, "too_large")
        if not reader.eof or reader.unused_data:
            raise WireError(400, "body_cut")
        return plain
    if name != "identity":
        raise WireError(415, "bad_encoding")
    if len(body) > LARGEST_BODY:
        raise WireError(413, "too_large")
    return body


def _read(shape: Schema, body: bytes, encoding: str | None) -> dict[str, Any]:
    try:
        found = strict_json(unpacked(body, encoding).decode("utf-8"))
    except (UnicodeDecodeError, Refused):
        raise WireError(400, "not_json") from None
    try:
        request: dict[str, Any] = shape.load(found)
    except ValidationError as trouble:
        raise WireError(400, "bad_request", trouble.messages) from None
    return request
