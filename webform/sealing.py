"""A report's seal: one hash over everything that it says, which still proves the rest when a part was erased.

Each single text, figure or empty place of the content (a leaf) gets a mark, the hash of a salt of its own with its path and
its value; the seal is the hash over all paths and marks. The salts come from one random key. To erase a leaf its text and
its salt are dropped and only its mark is kept: whoever guesses the text (names are easily guessed) cannot prove the guess,
for 128 random bits are gone. So the key goes too, and the salts of the leaves that stay are written down.
Promises: who has the seal finds every altered, added or missing leaf; an erased leaf can say nothing but ERASED.
"""

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable
from typing import Any

ERASED = "erased on request"
KEY_BYTES = 16

Opening = dict[str, Any]  # {"key": hex}, or once something was erased {"salts": {path: hex}, "marks": {path: hex}}


def leaves(content: Any, path: str = "") -> dict[str, str]:
    """Path → JSON text of every leaf; an empty list or dict is one too."""
    if isinstance(content, dict) and content:
        pairs: Iterable[tuple[Any, Any]] = content.items()
    elif isinstance(content, list) and content:
        pairs = enumerate(content)
    else:
        return {path: json.dumps(content, ensure_ascii=False)}
    found: dict[str, str] = {}
    for name, held in pairs:
        step = str(name).replace("~", "~0").replace("/", "~1")  # as in a JSON pointer, RFC 6901, from memory
        found.update(leaves(held, f"{path}/{step}"))
    return found


def seal(content: Any) -> tuple[str, Opening]:
    """(the seal of a content, 32 hex digits; what proves it)."""
    opening = {"key": secrets.token_hex(KEY_BYTES)}
    return _total(_marks(content, opening)), opening


def is_sealed(content: Any, opening: Opening, expected: str) -> bool:
    """Whether a content is the one that was sealed, but for what was erased of it."""
    try:
        return hmac.compare_digest(_total(_marks(content, opening)), expected)
    except (KeyError, TypeError, ValueError, AttributeError):
        return False


def erase(content: Any, opening: Opening, paths: Iterable[str]) -> tuple[Any, Opening]:
    """(the content without these leaves, what proves it now): neither text nor salt of them is left."""
    marks, doomed = _marks(content, opening), set(paths)
    gone = set(opening.get("marks", {})) | doomed
    salts = {path: _salt(opening, path) for path in marks if path not in gone}
    return _without(content, doomed, ""), {"salts": salts, "marks": {path: marks[path] for path in sorted(gone)}}


def _marks(content: Any, opening: Opening) -> dict[str, str]:
    """Path → mark of every leaf."""
    kept = opening.get("marks", {})
    found = {}
    for path, text in leaves(content).items():
        if path not in kept:
            found[path] = hashlib.sha256(f"{_salt(opening, path)} {path} {text}".encode()).hexdigest()[:32]
        elif text == json.dumps(ERASED):
            found[path] = str(kept[path])
        else:
            raise ValueError(f"{path} was erased and says something")
    return found


def _salt(opening: Opening, path: str) -> str:
    if "key" in opening:
        return hmac.new(bytes.fromhex(opening["key"]), path.encode(), hashlib.sha256).hexdigest()[:32]
    return str(opening["salts"][path])


def _total(marks: dict[str, str]) -> str:
    lines = "\n".join(f"{path} {marks[path]}" for path in sorted(marks))
    return hashlib.sha256(lines.encode()).hexdigest()[:32]


def _without(content: Any, doomed: set[str], path: str) -> Any:
    if path in doomed:
        return ERASED
    if isinstance(content, dict):
        return {name: _without(held, doomed, f"{path}/" + str(name).replace("~", "~0").replace("/", "~1"))
                for name, held in content.items()}
    if isinstance(content, list):
        return [_without(held, doomed, f"{path}/{place}") for place, held in enumerate(content)]
    return content
