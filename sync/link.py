"""How a Python client reaches a server: HTTP with packed bodies and a time limit; whatever goes wrong is Offline."""

import base64
import gzip
import http.client
import json
import urllib.error
import urllib.request
import zlib
from collections.abc import Callable, Iterator, Mapping
from typing import Any

Post = Callable[[str, bytes], bytes]

COMPRESS_FROM = 500
# What an answer that nothing came of in time looks like, or one that broke off: cut short, or the connection was reset.
BROKEN_OFF = (TimeoutError, EOFError, http.client.IncompleteRead, ConnectionResetError, ConnectionAbortedError,
              BrokenPipeError)


class Offline(Exception):
    """The server was not reached, or what came back was not its answer. Nothing has changed here."""


class TooLarge(Offline):
    """The server takes less at a time."""


class NotCarried(Offline):
    """Nothing came in time, or it broke off: the link may carry too little for what was asked."""


def http_post(address: str, headers: Mapping[str, str] | None = None, timeout_s: float = 30.0) -> Post:
    """A way to post over HTTP, packed both ways; address as "http://127.0.0.1:8440/sync"."""

    def post(route: str, body: bytes) -> bytes:
        sent = {"Content-Type": "application/json", "Accept-Encoding": "gzip", **(headers or {})}
        if len(body) >= COMPRESS_FROM:
            body = gzip.compress(body, 6, mtime=0)
            sent["Content-Encoding"] = "gzip"
        request = urllib.request.Request(f"{address}/{route}", body, sent, method="POST")
        try:
            with urllib.request.urlopen(request, timeout=timeout_s) as answer:
                received: bytes = answer.read()
                return gzip.decompress(received) if answer.headers.get("Content-Encoding") == "gzip" else received
        except (OSError, EOFError, ValueError, http.client.HTTPException, zlib.error) as trouble:
            if isinstance(trouble, urllib.error.HTTPError):
                trouble.close()
                if trouble.code == 413:
                    raise TooLarge("the server takes less at a time") from trouble
            why = trouble.reason if isinstance(trouble, urllib.error.URLError) else trouble
            kind = NotCarried if isinstance(why, BROKEN_OFF) else Offline
            raise kind(f"{type(trouble).__name__}: {trouble}") from trouble

    return post


def log_pages(post: Post) -> Iterator[dict[str, Any]]:
    """The pages of the server's log, from its beginning, for audit and rebuild (audit.rebuild); raises Offline.

    post must carry a credential that may read everything.
    """
    cursor = None
    while True:
        try:
            page = json.loads(post("changes", json.dumps({"cursor": cursor}).encode()))
            if page["reset"]:
                raise Offline("the server was put back while its log was read; begin again")
            found, cursor, is_more = page["changes"], page["cursor"], page["next"] is not None
        except (ValueError, KeyError, TypeError) as trouble:
            raise Offline("the answer is not a page of the log") from trouble
        if found:
            yield page
        if not is_more:
            return


def basic(name: str, password: str) -> dict[str, str]:
    """The header by which a program says who it is, for http_post."""
    return {"Authorization": "Basic " + base64.b64encode(f"{name}:{password}".encode()).decode()}
