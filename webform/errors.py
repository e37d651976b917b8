"""One shape for every error: {"error": {"code", "text", "details"}} for programs, one page with one sentence for people."""

from typing import Any

from flask import Flask, Response, jsonify, render_template, request
from werkzeug.exceptions import HTTPException, ServiceUnavailable

from sync.log import Unavailable

SENTENCES = {
    400: ("bad_request", "The request could not be read. Go back and try again."),
    401: ("not_enrolled", "This phone or browser is not signed in. Sign in, or enrol the phone again with a new code."),
    403: ("forbidden", "This request did not come from a page of this shop. Open the page again and repeat it there."),
    404: ("not_found", "There is nothing at this address. Check it, or start from the front page."),
    405: ("method_not_allowed", "This address does not take that kind of request."),
    413: ("too_large", "That is too large. Send less at a time."),
    409: ("settled_elsewhere", "Somebody was quicker: what this page showed has changed. Open the page again and look once "
          "more; nothing was stored."),
    415: ("not_json", "This address takes JSON only."),
    429: ("too_many_tries", "Too many tries. Wait ten minutes and try again."),
    500: ("failed", "Something went wrong on the server. Nothing of this request was stored; try it again."),
    503: ("unavailable", "The server cannot reach its books right now. Nothing of this request was stored, and phones keep "
          "theirs; try it again later."),
}


class Readable(Response):
    """An answer in UTF-8 whatever it tells of: half a character, as a held text may hold it, is shown as "?"."""

    def set_data(self, value: bytes | str) -> None:
        """Sets the body."""
        super().set_data(value.encode("utf-8", "replace") if isinstance(value, str) else value)


def register(app: Flask) -> None:
    """Every error of the app in one of the two shapes, and no page that cannot be written."""
    app.response_class = Readable
    app.register_error_handler(HTTPException, _answer)
    app.register_error_handler(500, _answer)
    app.register_error_handler(Unavailable, lambda _trouble: _answer(ServiceUnavailable()))


def _answer(problem: HTTPException) -> Any:
    status = problem.code or 500
    if 300 <= status < 400:
        return problem
    code, text = SENTENCES.get(status, ("failed", SENTENCES[500][1]))
    if request.path.startswith("/sync/"):
        return jsonify({"error": {"code": code, "text": text, "details": None}}), status
    return render_template("problem.html", text=text, code=code), status
