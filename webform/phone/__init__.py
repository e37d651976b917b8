"""The phone app: its shell, its service worker and its assets, all made by the build (build.py)."""

from pathlib import Path
from typing import Any

from flask import Blueprint, abort, current_app, request, send_from_directory

BUILD = Path(__file__).parent / "build"
PACKED = (("br", ".br"), ("gzip", ".gz"))
TYPES = {".js": "text/javascript", ".mjs": "text/javascript", ".wasm": "application/wasm", ".css": "text/css",
         ".json": "application/json", ".svg": "image/svg+xml", ".png": "image/png", ".html": "text/html",
         ".webmanifest": "application/manifest+json"}

blueprint = Blueprint("phone", __name__)


@blueprint.get("/phone/")
def shell() -> Any:
    """The one page of the app."""
    return _file("index.html", "no-cache")


@blueprint.get("/phone/sw.js")
def worker() -> Any:
    """The service worker."""
    return _file("sw.js", "no-cache")


@blueprint.get("/phone/a/<name>")
def asset(name: str) -> Any:
    """A file whose name carries its hash, so it may be kept for ever."""
    return _file("a/" + name, "public, max-age=31536000, immutable")


def _file(name: str, caching: str) -> Any:
    if not (BUILD / name).is_file():
        if not (BUILD / "index.html").is_file():
            current_app.logger.error("The phone app is not built. Run: ashbook build")
        abort(404)
    accepted = request.headers.get("Accept-Encoding", "")
    for encoding, ending in PACKED:
        if encoding in accepted and (BUILD / (name + ending)).is_file():
            answer = send_from_directory(BUILD, name + ending, conditional=False)
            answer.headers["Content-Encoding"] = encoding
            break
    else:
        answer = send_from_directory(BUILD, name, conditional=False)
    answer.headers["Content-Type"] = TYPES.get(Path(name).suffix, "application/octet-stream")
    answer.headers["Cache-Control"] = caching
    answer.headers["Vary"] = "Accept-Encoding"
    return answer
