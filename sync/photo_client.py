"""How a Python client sends a photo: in pieces, going on where it was, until the whole of it is confirmed; or in a file."""

import hashlib
import json
import urllib.error
import urllib.request
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from .link import Offline

Send = Callable[[str, str, bytes | None, Mapping[str, str]], bytes]
PIECE_BYTES = 65_536


class Refusal(Exception):
    """The server has read the request and does not take it; `code` says why."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


def http_send(address: str, headers: Mapping[str, str] | None = None, timeout_s: float = 30.0) -> Send:
    """A way to send (method, route, body, headers) over HTTP; address as for http_post."""

    def send(method: str, route: str, body: bytes | None, more: Mapping[str, str]) -> bytes:
        request = urllib.request.Request(f"{address}/{route}", body, {**(headers or {}), **more}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=timeout_s) as answer:
                return bytes(answer.read())
        except urllib.error.HTTPError as answered:
            with answered:
                return bytes(answered.read())
        except (OSError, EOFError, ValueError) as trouble:
            raise Offline(f"{type(trouble).__name__}: {trouble}") from trouble

    return send


def push_photo(send: Send, photo: bytes, piece_bytes: int = PIECE_BYTES) -> str:
    """The SHA-256 of a photo that the server has confirmed whole. Called again after Offline it goes on where it was."""
    name = hashlib.sha256(photo).hexdigest()
    state = _photo_state(name, send("GET", f"photos/{name}", None, {}))
    while not state["complete"]:
        start = state["offset"] if state["offset"] < len(photo) else 0
        piece = photo[start:start + piece_bytes]
        state = _photo_state(name, send("PUT", f"photos/{name}", piece, {
            "Content-Type": "application/octet-stream",
            "Content-Range": f"bytes {start}-{start + len(piece) - 1}/{len(photo)}"}))
    return name


def with_photos(outbox_file: str, photos: Iterable[bytes]) -> bytes:
    """The file of Client.outbox_file that also carries these photos; it stays as it is where there are none."""
    listed = list(photos)
    if not listed:
        return outbox_file.encode()
    said = {**json.loads(outbox_file), "ashbook_outbox": 2,
            "photos": [{"sha256": hashlib.sha256(photo).hexdigest(), "bytes": len(photo)} for photo in listed]}
    return b"".join([json.dumps(said, ensure_ascii=False).encode(), b"\n", *listed])


def _photo_state(name: str, received: bytes) -> dict[str, Any]:
    try:
        found = json.loads(received)
        if "error" in found:
            raise Refusal(str(found["error"]["code"]))
        if found["sha256"] != name or type(found["offset"]) is not int or type(found["complete"]) is not bool:
            raise Offline("the answer is not the state of this photo")
    except (ValueError, KeyError, TypeError) as trouble:
        raise Offline("the answer is not the state of a photo") from trouble
    state: dict[str, Any] = found
    return state
