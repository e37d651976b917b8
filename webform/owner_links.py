"""The links under which owners read an issued report: made at the desk, good for a time, withdrawn at once.

Promises: a link holds 256 random bits, of which only the hash is kept; it ends LINK_DAYS after it was made, by this server's
clock; one that was withdrawn opens nothing again, whatever copy of the books is put back (lasting.py).
"""

import datetime
import hashlib
import hmac
import secrets
from typing import NamedTuple

from sync.log import Store

from . import report_tables
from .lasting import Lasting, mark_of
from .verdicts import alone

SECRET_BYTES = 32
LINK_DAYS = 90  # a filter is back on its truck long before; whoever asks later gets a new one


class Opened(NamedTuple):
    """number: of the report that a link leads to, "" where there is none; is_over: it does not open any more."""

    number: str
    is_over: bool


class OwnerLinks:
    """The owners' links of one store. at: times of this server, as changes hold them."""

    def __init__(self, store: Store, lasting: Lasting) -> None:
        self.store, self.lasting = store, lasting

    def make(self, number: str, at: str) -> str:
        """A new secret that opens this report for its owner; told once, only its hash is kept."""
        secret = secrets.token_urlsafe(SECRET_BYTES)
        with self.store.working(), alone(self.store):
            report_tables.insert(self.store, "report_link", [(digest_of(secret), number, at, "")])
        return secret

    def withdraw(self, numbers: list[str], at: str) -> int:
        """Ends every link to these reports; how many were open."""
        with self.store.working():
            rows = list(self.store.rows_of("SELECT digest, made_at, withdrawn_at FROM report_link", "number", numbers))
        return self._end({digest: until(made) for digest, made, withdrawn in rows if not withdrawn}, at)

    def withdraw_all(self, at: str) -> int:
        """Ends every link in these books, which are only being restored; how many were open."""
        with self.store.working(), alone(self.store):
            rows = self.store.rows("UPDATE report_link SET withdrawn_at = ? WHERE withdrawn_at = '' RETURNING made_at", (at,))
        return sum(until(made) > at for (made,) in rows)

    def withdraw_again(self, at: str) -> int:
        """Ends the links that were withdrawn and stand open in these books, because older ones were put back; how many."""
        with self.store.working():
            rows = list(self.store.rows_of("SELECT digest, made_at, withdrawn_at FROM report_link", "digest",
                                           self.lasting.withdrawn()))
        return self._end({digest: until(made) for digest, made, withdrawn in rows if not withdrawn}, at)

    def _end(self, links: dict[str, str], at: str) -> int:
        if links:
            self.lasting.withdraw(mark_of(self.store), links, at)
            with self.store.working(), alone(self.store):
                self.store.write_many("UPDATE report_link SET withdrawn_at = ? WHERE digest = ? AND withdrawn_at = ''",
                                      [(at, digest) for digest in sorted(links)])
        return sum(until > at for until in links.values())

    def of(self, number: str) -> list[dict[str, str]]:
        """{"made_at", "until", "withdrawn_at"} of every link to a report, in the order of making."""
        with self.store.working():
            return [{"made_at": row[0], "until": until(row[0]), "withdrawn_at": row[1]} for row in self.store.rows(
                "SELECT made_at, withdrawn_at FROM report_link WHERE number = ? ORDER BY made_at, digest", (number,))]

    def opened(self, secret: str, at: str) -> Opened:
        """What a link opens at this time."""
        wanted = digest_of(secret)
        with self.store.working():
            rows = self.store.rows("SELECT digest, number, made_at FROM report_link WHERE digest = ? AND withdrawn_at = ''",
                                   (wanted,))
        if not rows or not hmac.compare_digest(rows[0][0], wanted) or wanted in self.lasting.withdrawn():
            return Opened("", False)
        return Opened(rows[0][1], at >= until(rows[0][2]))

    def known(self, at: str) -> dict[str, str]:
        """Hash → until when it would be good, of the links that these books say were withdrawn."""
        with self.store.working():
            rows = self.store.rows("SELECT digest, made_at FROM report_link WHERE withdrawn_at <> ''")
        return {digest: until(made) for digest, made in rows if until(made) > at}


def until(made_at: str) -> str:
    """When a link that was made at this time ends, as changes hold times; "" (long ago) where that cannot be read."""
    try:
        made = datetime.datetime.fromisoformat(made_at)
    except ValueError:
        return ""
    ends = (made + datetime.timedelta(days=LINK_DAYS)).astimezone(datetime.UTC)
    return ends.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def digest_of(secret: str) -> str:
    """What is kept of a link's secret."""
    return hashlib.sha256(secret.encode()).hexdigest()
