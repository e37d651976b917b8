"""The wire, declared once: what each route takes and gives, and every error that it knows.

The server parses with these shapes (wire.py), and its description for other people's programs is made from them
(openapi.py). Unknown keys are let through everywhere, so that a newer side may say more.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from marshmallow import EXCLUDE, Schema, ValidationError, fields, validate

LARGEST_BODY = 16 * 2**20
MOST_CHANGES = 5_000
MOST_FETCHED = 1_000
MOST_AROUND = 20
MOST_CARRIED = 2_000  # photos in one file
MOST_HELD = 10_000
LARGEST_POSITION = 2**53 - 1

# code: (status, sentence). Whatever the code, nothing of the request is stored.
ERRORS = {
    "body_cut": (400, "The packed request ends too early or is damaged. Send it again."),
    "not_json": (400, "The request is not JSON in UTF-8. Send one JSON object."),
    "bad_request": (400, "The request does not have the expected shape; see details."),
    "too_large": (413, f"The request is larger than {LARGEST_BODY} bytes unpacked. Send fewer changes at a time."),
    "bad_encoding": (415, "This content encoding is not known. Send the request plain or as gzip."),
    "held_quota": (429, f"This device already has {MOST_HELD} changes held. Settle those at the desk first."),
    "unavailable": (503, "The store did not take this. Nothing of the request is stored. Send it again later."),
}

# (status, code) of what any request may be refused with.
READING = tuple((ERRORS[code][0], code) for code in ("body_cut", "not_json", "bad_request", "too_large", "bad_encoding"))
STORING = (*READING, (503, "unavailable"))


class Texts(fields.Field[list[str]]):
    """A list of texts, checked in one go: a push has thousands."""

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **more: Any) -> list[str]:
        if not isinstance(value, list) or not all(type(item) is str for item in value):
            raise ValidationError("Must be a list of texts.")
        return value


class Shape(Schema):
    """One JSON object."""

    class Meta:
        unknown = EXCLUDE


def count(least: int = 0, *, is_optional: bool = False) -> fields.Integer:
    """An integer that every JSON reader holds exactly; optional: may be missing or null."""
    span = validate.Range(min=least, max=LARGEST_POSITION)
    if is_optional:
        return fields.Integer(strict=True, allow_none=True, load_default=None, validate=span)
    return fields.Integer(strict=True, required=True, validate=span)


def text(longest: int | None = None, *, is_nullable: bool = False) -> fields.String:
    """A text that is always there, or null where it may be."""
    return fields.String(required=True, allow_none=is_nullable,
                         validate=validate.Length(max=longest) if longest is not None else None)


class Place(Shape):
    """A place in the log, to be given back unchanged.

    held: the last hold. Within a pull, since: from where it began; until: where the log ended then.
    """

    epoch = text(64)
    position = count()
    chain = text(64)
    held = fields.String(allow_none=True, load_default=None, validate=validate.Length(max=64))
    since = count(is_optional=True)
    until = count(is_optional=True)


class PushRequest(Shape):
    """Changes as texts, and the hash of each."""

    schema = fields.Integer(strict=True, required=True, validate=validate.Range(min=1))
    changes = Texts(required=True, validate=validate.Length(max=MOST_CHANGES))
    hashes = Texts(required=True, validate=validate.Length(max=MOST_CHANGES))
    witness = fields.Nested(Place, allow_none=True, load_default=None)


class PullRequest(Shape):
    """Where this reader has come to, or null for everything. next: the text of the last page, or null.

    most: how many records this page may hold, or null for as many as the server gives.
    """

    cursor = fields.Nested(Place, allow_none=True, required=True)
    next = fields.String(allow_none=True, load_default=None)
    witness = fields.Nested(Place, allow_none=True, load_default=None)
    most = count(1, is_optional=True)


class FetchRequest(Shape):
    """Ids of records. around: ids whose records are wanted with those that refer to them, and those that refer to these."""

    records = Texts(required=True, validate=validate.Length(max=MOST_FETCHED))
    around = Texts(load_default=(), validate=validate.Length(max=MOST_AROUND))


class ChangesRequest(Shape):
    """Where this reader of the log has come to, or null for the whole log."""

    cursor = fields.Nested(Place, allow_none=True, required=True)


class CarriedPhoto(Shape):
    """A photo that follows in the file."""

    sha256 = text(64)
    bytes = count(1)


class OutboxFile(Shape):
    """A file that carries an outbox by hand: the texts and hashes that a push would have. photos: from version 2 on."""

    ashbook_outbox = fields.Integer(strict=True, required=True, validate=validate.Range(min=1))
    device = fields.String(required=True, validate=validate.Regexp(r"[A-Za-z0-9_-]{1,64}\Z"))
    changes = Texts(required=True)
    hashes = Texts(required=True)
    photos = fields.List(fields.Nested(CarriedPhoto), load_default=list, validate=validate.Length(max=MOST_CARRIED))


class Receipt(Shape):
    """What became of one change. Only stored, with the id and the hash sent, takes it out of an outbox."""

    id = text(is_nullable=True)
    hash = text()
    status = fields.String(required=True, validate=validate.OneOf(("stored", "held")))
    position = fields.Integer(strict=True, required=True, allow_none=True, validate=validate.Range(min=1))
    reason = text(is_nullable=True)


class PushAnswer(Shape):
    """One receipt for each change, in the order sent."""

    epoch = text()
    receipts = fields.List(fields.Nested(Receipt), required=True)
    end = fields.Nested(Place, required=True)
    reset = fields.Boolean(required=True)


class Answer(Shape):
    """One standing answer; its id is the id of its change."""

    id = text()
    value = fields.Raw(required=True, allow_none=True)
    by = text()
    at = text()
    lamport = count()
    basis = fields.Dict()


class Record(Shape):
    """Fields of a record whose standing answers have changed. whole: whether these are all of its fields."""

    record = text()
    kind = text()
    heads = fields.Dict(keys=fields.String(), values=fields.List(fields.Nested(Answer)), required=True)
    whole = fields.Boolean()


class PullAnswer(Shape):
    """One page of what changed. While next is not null there is more, from cursor on."""

    epoch = text()
    cursor = fields.Nested(Place, required=True)
    next = text(is_nullable=True)
    reset = fields.Boolean(required=True)
    records = fields.List(fields.Nested(Record), required=True)


class FetchAnswer(Shape):
    """Whole records; those that do not exist are left out."""

    records = fields.List(fields.Nested(Record), required=True)


class LogEntry(Shape):
    """One accepted change as stored. text: verbatim; null where it was erased, its id and hash stay."""

    position = count(1)
    id = text()
    hash = text()
    chain = text()
    record = text()
    device = text()
    received_at = text()
    text = fields.String(required=True, allow_none=True)


class ChangesAnswer(Shape):
    """One page of the log itself. lamport: the highest in the log."""

    epoch = fields.String(required=True)
    cursor = fields.Nested(Place, required=True)
    next = fields.String(required=True, allow_none=True)
    reset = fields.Boolean(required=True)
    lamport = count()
    changes = fields.List(fields.Nested(LogEntry), required=True)


class PhotoState(Shape):
    """How far a photo has come from this device."""

    sha256 = text()
    offset = count()
    complete = fields.Boolean(required=True)


class Route(NamedTuple):
    """One address of the wire. errors: (status, code), those of the deployment's own doors too.

    path: where it lies, its name unless told. request: None where the body is raw bytes or there is none. parameters: more
    than the body, as OpenAPI says it. drawn: the other type of answer that it may give.
    """

    name: str
    about: str
    request: Shape | None
    answer: Shape
    errors: tuple[tuple[int, str], ...] = STORING
    method: str = "post"
    path: str = ""
    parameters: tuple[Mapping[str, Any], ...] = ()
    drawn: str = ""


PUSH = Route("push", "Receipts for changes", PushRequest(), PushAnswer(), (*STORING, (429, "held_quota")))
PULL = Route("pull", "One page of what changed since the cursor", PullRequest(), PullAnswer())
FETCH = Route("fetch", "Whole records that a device does not carry", FetchRequest(), FetchAnswer())
CHANGES = Route("changes", "The log itself, for audit and rebuild", ChangesRequest(), ChangesAnswer())
HASH = {"name": "sha256", "in": "path", "required": True, "schema": {"type": "string", "pattern": "^[0-9a-f]{64}$"}}
PHOTO_STATE = Route(
    "photo_state", "How far a photo has come, or the picture that was drawn from it", None, PhotoState(),
    ((400, "bad_photo"), (404, "not_found"), (503, "unavailable")), "get", "photos/{sha256}",
    (HASH, {"name": "size", "in": "query", "required": False, "schema": {"enum": ["small", "large"]}}), "image/jpeg")
PHOTO_PIECE = Route(
    "photo_piece", "The next piece of a photo, as raw bytes", None, PhotoState(),
    ((400, "bad_photo"), (400, "bad_range"), (400, "body_cut"), (409, "wrong_offset"), (413, "photo_too_large"),
     (413, "piece_too_large"), (413, "too_many_pixels"), (415, "bad_type"), (415, "not_a_photo"), (422, "wrong_hash"),
     (429, "photo_quota"), (503, "unavailable")), "put", "photos/{sha256}",
    (HASH, {"name": "Content-Range", "in": "header", "required": True,
            "schema": {"type": "string", "pattern": "^bytes [0-9]{1,12}-[0-9]{1,12}/[0-9]{1,12}$"}}))
ROUTES = (PUSH, PULL, FETCH, CHANGES)
