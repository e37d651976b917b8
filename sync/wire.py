"""The border of the exchange: bytes in, (status, answer) out, for any web framework.

Promises: a body that was cut, is too large or has another shape is refused whole with a code and a sentence, and
nothing of it is stored; what is inside the shape is never refused here but held, change by change.
"""

import gzip
import zlib
from typing import Any

from marshmallow import ValidationError

from . import audit, exchange, lookup
from .change import IsPlain, is_record
from .json_text import Refused, quick_bytes, sure_json
from .log import Store, Unavailable
from .shapes import CHANGES, ERRORS, FETCH, LARGEST_BODY, MOST_FETCHED, MOST_HELD, PULL, PUSH, Route

COMPRESS_FROM = 1_000

Answer = tuple[int, dict[str, Any]]


class WireError(Exception):
    """A request that is refused whole."""

    def __init__(self, code: str, details: Any = None) -> None:
        super().__init__(code)
        status, sentence = ERRORS[code]
        self.answer: Answer = (status, {"error": {"code": code, "text": sentence, "details": details}})


def answer_push(store: Store, device: str, body: bytes, encoding: str | None = None,
                accept: exchange.Accept | None = None, *, is_revoked: bool = False) -> Answer:
    """(status, {"epoch", "receipts", "end", "reset"}), or an error's status and shape."""
    status, answer, _touched = push(store, device, body, encoding, accept, is_revoked=is_revoked)
    return status, answer


def push(store: Store, device: str, body: bytes, encoding: str | None = None, accept: exchange.Accept | None = None, *,
         is_plain: IsPlain | None = None, is_revoked: bool = False) -> tuple[int, dict[str, Any], list[str]]:
    """As answer_push, and with it the records that changed, whose verdicts are now to be computed again.

    is_plain: a quick yes to what accept would take, see change.check.
    """
    try:
        request = read(PUSH, body, encoding)
        if len(request["changes"]) != len(request["hashes"]):
            raise WireError("bad_request", {"hashes": ["There must be one hash for each change."]})
        if is_revoked and lookup.held_count(store, device) + len(request["changes"]) > MOST_HELD:
            raise WireError("held_quota")
        with store.working():
            is_reset = not exchange.fits(store, request["witness"])
        receipts = exchange.push(store, device, request["changes"], request["hashes"], accept, is_plain=is_plain,
                                 shut="device_revoked" if is_revoked else None)
        end = exchange.place_of(store.counter())
        answer = {"epoch": end["epoch"], "end": end, "reset": is_reset,
                  "receipts": [{key: receipt[key] for key in ("id", "hash", "status", "position", "reason")}
                               for receipt in receipts]}
    except WireError as error:
        return *error.answer, []
    except Unavailable:
        return *WireError("unavailable").answer, []
    return 200, answer, exchange.touched(receipts)


def answer_pull(store: Store, body: bytes, encoding: str | None = None, carried: exchange.Carried | None = None,
                limit: int = exchange.PAGE_RECORDS) -> Answer:
    """(status, page of records), or an error's status and shape."""
    try:
        request = read(PULL, body, encoding)
        limit = min(limit, request["most"] or limit)
        return 200, exchange.pull(store, request["cursor"], request["next"], limit, carried, request["witness"])
    except WireError as error:
        return error.answer
    except Unavailable:
        return WireError("unavailable").answer


def answer_fetch(store: Store, body: bytes, encoding: str | None = None) -> Answer:
    """(status, {"records": [...]}), or an error's status and shape."""
    try:
        request = read(FETCH, body, encoding)
        # what can be the id of no record is not asked for: a database refuses half a character
        records, near = (filter(is_record, request[key]) for key in ("records", "around"))
        return 200, exchange.fetch(store, [*records, *lookup.around(store, near, MOST_FETCHED)])
    except WireError as error:
        return error.answer
    except Unavailable:
        return WireError("unavailable").answer


def answer_changes(store: Store, body: bytes, encoding: str | None = None) -> Answer:
    """(status, page of the log as stored), or an error's status and shape. For whoever may read everything."""
    try:
        return 200, audit.changes(store, read(CHANGES, body, encoding)["cursor"])
    except WireError as error:
        return error.answer
    except Unavailable:
        return WireError("unavailable").answer


def packed(answer: dict[str, Any], accepted: str | None = None) -> tuple[bytes, dict[str, str]]:
    """The bytes of an answer and its headers; gzip where the Accept-Encoding header names it and it is worth it."""
    body = quick_bytes(answer)
    headers = {"Content-Type": "application/json", "Cache-Control": "no-store", "Vary": "Accept-Encoding"}
    if len(body) >= COMPRESS_FROM and _takes_gzip(accepted or ""):
        body = gzip.compress(body, 6, mtime=0)
        headers["Content-Encoding"] = "gzip"
    return body, headers


def _takes_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding header names gzip, and not with a weight of 0, which refuses it (RFC 9110, 12.4.2)."""
    named = {name.strip(): weight for name, _, weight in (one.partition(";") for one in accepted.lower().split(","))}
    weight = named.get("gzip", "q=0").replace(" ", "")
    return not weight.startswith("q=") or weight[2:].strip("0.") != ""


def unpacked(body: bytes, encoding: str | None = None) -> bytes:
    """The plain bytes of a request body; raises WireError where it is cut, damaged or too large."""
    name = (encoding or "identity").strip().lower()
    if name == "gzip":
        reader = zlib.decompressobj(31)
        try:
            plain = reader.decompress(body, LARGEST_BODY + 1)
        except zlib.error:
            raise WireError("body_cut") from None
        if len(plain) > LARGEST_BODY:
            raise WireError("too_large")
        if not reader.eof or reader.unused_data:
            raise WireError("body_cut")
        return plain
    if name != "identity":
        raise WireError("bad_encoding")
    if len(body) > LARGEST_BODY:
        raise WireError("too_large")
    return body


def read(route: Route, body: bytes, encoding: str | None = None) -> dict[str, Any]:
    """What a request says, in the route's shape; raises WireError."""
    try:
        found = sure_json(unpacked(body, encoding))
    except Refused:
        raise WireError("not_json") from None
    try:
        assert route.request is not None
        request: dict[str, Any] = route.request.load(found)
    except ValidationError as trouble:
        raise WireError("bad_request", trouble.messages) from None
    return request
