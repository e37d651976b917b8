"""JSON texts, read and written: strictly where readers disagree, and quickly where that cannot matter.

Promises: `strict_json` takes nothing that two readers could read in two ways, and `sure_json` gives the same, quickly for a
text that is written as programs write it. `quick_json` is quick for every text and takes more: it keeps the last of two equal
keys and makes a fraction of an integer beyond 64 bits, so it is for texts that have been through one of the others.
"""

import json
from typing import Any

import orjson


class Refused(ValueError):
    """A text or change that cannot be accepted; `code` says why, `where` names the key or field."""

    def __init__(self, code: str, where: str = "") -> None:
        super().__init__(f"{code} at {where}" if where else code)
        self.code = code
        self.where = where


def strict_json(text: str) -> Any:
    """The value of a JSON text; raises Refused for what JSON readers disagree about."""
    try:
        return _decoder.decode(text)
    except Refused:
        raise
    except RecursionError:
        raise Refused("too_deep") from None
    except ValueError:
        raise Refused("not_json") from None


def sure_json(text: bytes) -> Any:
    """As strict_json, of UTF-8.

    What was read quickly is written again: where the same bytes come out, no key came twice and no figure was bent. Else,
    where there are spaces, or a fraction that has two spellings, the strict reading says what is wrong or that nothing is.
    """
    try:
        found = quick_json(text)
        if quick_bytes(found) == text:
            return found
    except (ValueError, TypeError):  # no JSON, or nested deeper than it is written
        pass
    try:
        return strict_json(text.decode())
    except UnicodeDecodeError:
        raise Refused("not_json") from None


def quick_json(text: str | bytes) -> Any:
    """The value of a JSON text, read as described above; raises ValueError where it is none."""
    return orjson.loads(text)


def quick_bytes(value: Any) -> bytes:
    """The bytes of a value that came from JSON, compact, in UTF-8."""
    return orjson.dumps(value)


def written(value: Any) -> str:
    """The compact JSON text of any value; raises ValueError where it holds a figure that is not finite."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Refused("duplicate_key")
    return found


def _constant(name: str) -> Any:
    raise Refused("not_finite", name)


def _fraction(digits: str) -> float:
    number = float(digits)
    if number - number != 0:
        raise Refused("not_finite", digits[:40])
    return number


_decoder = json.JSONDecoder(object_pairs_hook=_object, parse_constant=_constant, parse_float=_fraction)
