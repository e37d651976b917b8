"""Who may do what: the office's account, enrolled phones, one table of route × role, CSRF and the content policy.

A route without a row in RULES is refused, and a test fails for it. Secrets are kept as hashes only.
"""

import contextlib
import fcntl
import hashlib
import hmac
import json
import secrets
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from flask import Flask, abort, current_app, g, redirect, request, session, url_for
from werkzeug.security import check_password_hash, generate_password_hash

from sync.by_hand import LARGEST_FILE

from . import archive
from .trade.tag_code import ALPHABET
from .tries import Tries

# The same policy on every file, wherever it is served from; deploy/Caddyfile carries the same text.
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; media-src 'self' blob:; font-src 'self'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)

# endpoint: who may. "anyone", "phone" (an enrolled one), "pushing" (also a revoked phone), "office" (signed in), "auditing"
# (the office, signed in or, for a program, with name and password in the request: HTTP's Basic).
RULES = {
    "static": "anyone", "office.front": "anyone", "office.health": "anyone", "office.tag": "anyone",
    "phone.shell": "anyone", "phone.worker": "anyone", "phone.asset": "anyone",
    "wire.enrol": "anyone", "wire.push": "pushing", "wire.pull": "phone", "wire.fetch": "phone",
    "wire.changes": "auditing", "wire.description": "anyone",
    "office.login": "anyone", "office.logout": "office", "office.today": "office", "office.job": "office",
    "office.questions": "office", "office.settle": "office", "office.held": "office", "office.retry": "office",
    "office.look": "office",
    "office.phones": "office", "office.enrol_code": "office", "office.revoke": "office",
    "office.checks": "office", "office.own": "office", "office.publish": "office", "office.rules": "office",
    "office.void_record": "office", "office.link": "office", "office.fit": "office",
    "office.outbox_file": "office", "office.take_file": "office",
    "office.erasing": "office", "office.erase": "office",
    "office.books": "office", "office.write": "office", "office.find": "office",
    "report.page": "office", "report.pdf": "office", "report.issue": "office", "report.issued": "office",
    "report.issued_pdf": "office", "report.make_link": "office", "report.withdraw": "office",
    # whoever has an owner's link, whose 256 random bits are the key; it opens one issued report
    "report.owner_page": "anyone", "report.owner_pdf": "anyone", "report.owner_photo": "anyone",
    "labels.page": "office", "labels.pdf": "office",
    "photos.state": "phone", "photos.take": "phone", "photos.shown": "office", "photos.lost": "office",
}

# Addresses at which whoever is signed in may send more than others: a file with photos, and the form around it.
LARGER = {"office.take_file": LARGEST_FILE + 2**20}

CODE_CHARACTERS = 14  # 70 bits
CODE_SECONDS = 600
COOKIE_SECONDS = 400 * 86400
SEEN_SECONDS = 600


class Doors:
    """Accounts and devices of one shop, in a file of its own beside the books, written whole and renamed."""

    def __init__(self, data: Path) -> None:
        self.path = data / "access.json"
        self.lock = threading.Lock()

    @contextlib.contextmanager
    def alone(self) -> Iterator[None]:
        """Whoever reads and writes in here is the only one, on this machine: the server and the command work at once."""
        with self.lock, self.path.with_suffix(".lock").open("w") as file:
            fcntl.flock(file, fcntl.LOCK_EX)
            yield

    def read(self) -> dict[str, Any]:
        """{"office", "devices", "codes"}."""
        if not self.path.exists():
            return {"office": {}, "devices": {}, "codes": {}}
        found: dict[str, Any] = json.loads(self.path.read_text(encoding="utf-8"))
        return found

    def write(self, doors: dict[str, Any]) -> None:
        """On disk before it returns, readable by the server's user only."""
        archive.write_json(self.path, doors)

    def ensure_office(self, password: str | None = None) -> str | None:
        """The password of the office account if it was made just now, else None."""
        with self.alone():
            doors = self.read()
            if doors["office"]:
                return None
            made = password or "-".join(code_text(4) for _ in range(3))
            doors["office"] = {"office": generate_password_hash(made)}
            self.write(doors)
            return made

    def new_password(self) -> str:
        """A new password of the office account, made now; the old one opens nothing more."""
        with self.alone():
            doors = self.read()
            made = "-".join(code_text(4) for _ in range(3))
            doors["office"] = {"office": generate_password_hash(made)}
            self.write(doors)
            return made

    def is_office(self, name: str, password: str) -> bool:
        """Whether this is the office account's password; takes as long for an unknown name."""
        found = self.read()["office"].get(name, UNKNOWN)
        return check_password_hash(found, password) and name in self.read()["office"]

    def new_code(self) -> str:
        """A one-time enrolment code; only its hash is kept, for ten minutes."""
        with self.alone():
            doors = self.read()
            now = time.time()
            doors["codes"] = {key: until for key, until in doors["codes"].items() if until > now}
            code = code_text(CODE_CHARACTERS)
            doors["codes"][digest(code)] = now + CODE_SECONDS
            self.write(doors)
            return code

    def redeem(self, code: str, name: str) -> tuple[str, str] | None:
        """(device, token) for a code that is good, once; None for any other."""
        with self.alone():
            doors = self.read()
            until = doors["codes"].pop(digest(code), 0)
            if until < time.time():
                return None
            device, token = "phone-" + code_text(8).lower(), secrets.token_urlsafe(32)
            doors["devices"][device] = {"name": name[:60], "token": digest(token), "since": stamp(), "seen": stamp(),
                                        "revoked": ""}
            self.write(doors)
            return device, token

    def device_of(self, token: str) -> tuple[str, bool] | None:
        """(device, whether it is revoked) of a cookie's token."""
        wanted = digest(token)
        for device, entry in self.read()["devices"].items():
            if hmac.compare_digest(entry["token"], wanted):
                return device, bool(entry["revoked"])
        return None

    def office_mark(self, name: str) -> str:
        """What a session of this account carries: another password makes another mark, "" where there is no account."""
        found = self.read()["office"].get(name, "")
        return digest(found)[:16] if found else ""

    def saw(self, device: str) -> bool:
        """Notes that a phone was here; whether that was written, which happens at most every ten minutes a phone."""
        earliest = stamp(time.time() - SEEN_SECONDS)
        if self.read()["devices"][device].get("seen", "") > earliest:
            return False
        with self.alone():
            doors = self.read()
            if device not in doors["devices"]:
                return False
            doors["devices"][device]["seen"] = stamp()
            self.write(doors)
            return True

    def revoke(self, device: str) -> None:
        """Shuts a phone out from its next request on; what it still pushes is held."""
        with self.alone():
            doors = self.read()
            if device in doors["devices"]:
                doors["devices"][device]["revoked"] = stamp()
                self.write(doors)


UNKNOWN = generate_password_hash(secrets.token_hex(16))


def code_text(length: int) -> str:
    """Random Crockford characters."""
    return "".join(secrets.choice(ALPHABET) for _ in range(length))


def digest(text: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(text.encode()).hexdigest()


def stamp(at_s: float | None = None) -> str:
    """A time in UTC, to the second; now unless it is given as seconds since 1970."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(at_s))


def cookie_name() -> str:
    """The device cookie's name: bound to the host where the connection is safe."""
    return "__Host-ashbook_phone" if request.is_secure else "ashbook_phone"


def set_cookie(response: Any, token: str) -> None:
    """Gives a phone its device cookie, or renews it: 400 days from now."""
    response.set_cookie(cookie_name(), token, max_age=COOKIE_SECONDS, httponly=True, samesite="Strict",
                        secure=request.is_secure, path="/")


def sign_in(name: str) -> None:
    """Begins a session of the office account; a new password ends it."""
    session.clear()
    session["office"] = name
    session["mark"] = current_app.extensions["doors"].office_mark(name)


def csrf_token() -> str:
    """The token that this session's forms carry."""
    if "csrf" not in session:
        session["csrf"] = secrets.token_urlsafe(24)
    return str(session["csrf"])


def guard(app: Flask) -> None:
    """Puts the table, the CSRF checks and the response headers in front of every route."""
    app.extensions["doors"] = Doors(app.extensions["shop"].data)
    app.extensions["tries"] = Tries()
    app.jinja_env.globals["csrf_token"] = csrf_token
    app.before_request(_admit)
    app.after_request(_headers)


def _admit() -> Any:
    if request.endpoint is None:
        return None  # no such route: 404 follows
    rule = RULES.get(request.endpoint)
    if rule is None:
        abort(403)
    if request.endpoint in LARGER and _is_signed_in():  # before the form is read below
        request.max_content_length = LARGER[request.endpoint]
    if request.method not in ("GET", "HEAD", "OPTIONS"):
        _same_origin()
    if rule == "office":
        if not _is_signed_in():
            session.pop("office", None)
            if request.method == "GET":
                return redirect(url_for("office.login", next=request.path))
            abort(401)
    elif rule == "auditing":
        if not (_is_signed_in() or _proves_itself()):
            abort(401)
    elif rule in ("phone", "pushing"):
        token = request.cookies.get(cookie_name(), "")
        found = current_app.extensions["doors"].device_of(token)
        if found is None or (found[1] and rule == "phone"):
            abort(401)
        g.device, g.is_revoked = found
        with contextlib.suppress(OSError):  # a note that a full disk does not take costs the phone nothing else
            if current_app.extensions["doors"].saw(g.device) and not g.is_revoked:
                g.renewed_token = token
    return None


def _is_signed_in() -> bool:
    name, mark = session.get("office"), session.get("mark")
    return bool(name and mark) and hmac.compare_digest(mark, current_app.extensions["doors"].office_mark(name))


def _proves_itself() -> bool:
    """Whether a program's request carries the office's name and password."""
    given = request.authorization
    if given is None or given.type != "basic":
        return False
    tries, who = current_app.extensions["tries"], f"audit {request.remote_addr}"
    if tries.are_spent(who):
        abort(429)
    if current_app.extensions["doors"].is_office(given.username or "", given.password or ""):
        return True
    tries.failed(who)
    return False


def _same_origin() -> None:
    """No foreign page can act: browsers say where a request comes from; forms carry a token; the wire speaks JSON."""
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        abort(403)
    origin = request.headers.get("Origin")
    if origin is not None and origin != request.host_url.rstrip("/"):
        abort(403)
    if request.blueprint == "wire":
        if request.mimetype != "application/json":
            abort(415)
    elif request.endpoint == "photos.take":
        pass  # no form can PUT; it takes raw bytes only (webform/photos.py)
    elif not hmac.compare_digest(request.form.get("csrf_token", ""), session.get("csrf", secrets.token_hex(8))):
        abort(403)


def _headers(response: Any) -> Any:
    if g.get("renewed_token"):
        set_cookie(response, g.renewed_token)
    response.headers["Content-Security-Policy"] = CONTENT_POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers.setdefault("Referrer-Policy", "same-origin")  # with no-referrer, browsers send forms with "Origin: null"
    response.headers.setdefault("Cache-Control", "no-store")
    return response
