"""One set of protocol cases for every client: what the link does in a first sync, and what must come of it.

A second, honest sync follows each: then nothing waits, and the server has every change once. Used by tests/sync for the
Python client and by tests/browser for the phone's, in Chromium; scripted.py plays the server.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

# What a client may believe after the first sync: that none, or all, of its changes are confirmed, or something between.
NONE, ALL, SOME = "none", "all", "some"


class Case(NamedTuple):
    """fates: route → what happens to its requests: one for all of them, or a list for one each, then honest ones.

    writes: changes made before; letters: how long each is. limits: what the server is set to, by name (scripted.py).
    counted: the highest lamport that the client has pulled.
    """

    name: str
    fates: dict[str, str | list[str]]
    confirmed: str = NONE
    writes: int = 3
    letters: int = 5
    limits: Mapping[str, int] = MappingProxyType({})


CASES = (
    Case("nothing goes wrong", {}, ALL),
    # --- receipts that are not ours
    Case("receipts for other ids", {"push": "other ids"}),
    Case("receipts with another hash", {"push": "other hashes"}),
    Case("no receipt for anything", {"push": "no receipts"}),
    Case("a receipt for the first change only", {"push": ["first receipt only"]}, SOME),
    Case("a receipt with a status that nobody knows", {"push": "unknown status"}),
    Case("a receipt that says stored and not where", {"push": "no positions"}),
    Case("receipts that are null", {"push": "null receipts"}),
    Case("receipts that are lists of null", {"push": "receipts of null"}),
    Case("an error in the shape of an answer", {"push": "error with status 200"}),
    # --- receipts that are ours after all
    Case("each receipt twice", {"push": "receipts twice"}, ALL),
    Case("receipts in another order", {"push": "receipts turned round"}, ALL),
    Case("receipts of a stranger beside ours", {"push": "a stranger's receipt too"}, ALL),
    Case("keys that nobody knows yet", {"push": "more keys", "pull": "more keys"}, ALL),
    # --- answers that are not the server's
    Case("status 200 with a login page", {"push": "login page"}),
    Case("a redirect to a login page", {"push": "redirect"}),
    Case("an empty answer", {"push": "empty"}),
    Case("a list instead of an object", {"push": "list"}),
    Case("another program's object", {"push": "other object"}),
    # --- refusals
    Case("status 400", {"push": "400"}),
    Case("status 401", {"push": "401"}),
    Case("status 413 whatever is sent", {"push": "413"}),
    Case("status 429", {"push": "429"}),
    Case("status 500", {"push": "500"}),
    Case("status 503", {"push": "503"}),
    # --- a link that breaks
    Case("a connection that ends before the server has anything", {"push": "reset before"}),
    Case("a connection that ends after the server has everything", {"push": "reset after"}),
    Case("an answer that is cut in the middle", {"push": "cut"}),
    Case("a packed answer that is cut in the middle", {"push": "cut"}, writes=30),
    Case("a server that never answers", {"push": "silent"}),
    Case("a server that stores everything and never answers", {"push": "silent after"}),
    Case("a server that never answers a pull", {"pull": "silent"}, ALL),
    Case("a page that comes drop by drop", {"pull": "drop by drop"}, ALL, writes=30),
    # --- somebody's count has come to its end: 2^53 - 1 is the largest that a server takes
    Case("a count that has come to its end", {}, ALL, limits={"counted": 2**53 - 1}),
    # --- what is larger
    Case("both ways packed", {}, ALL, writes=30, letters=200),
    Case("too large until less is sent at a time", {}, ALL, writes=9, letters=900, limits={"largest_body": 4000}),
    # --- held
    Case("held with a reason", {}, ALL, limits={"held_from": 2}),
    Case("held, and offered again when the reason has gone", {}, ALL, limits={"held_from": 1, "let_in": 1}),
    # --- pulls
    Case("a login page instead of what changed", {"pull": "login page"}, ALL),
    Case("status 401 to a pull", {"pull": "401"}, ALL),
    Case("status 503 to a pull", {"pull": "503"}, ALL),
    Case("a page that is cut", {"pull": "cut"}, ALL, writes=30),
    Case("a page without records", {"pull": "no records"}, ALL),
    Case("a page of records that are none", {"pull": "records of null"}, ALL),
    Case("a page without its cursor", {"pull": "no cursor"}, ALL),
    Case("a connection that ends before the page", {"pull": "reset before"}, ALL),
    Case("pages of two records", {}, ALL, writes=7, limits={"page": 2}),
    Case("pages of two records, the second one cut", {"pull": ["honest", "cut"]}, ALL, writes=7, limits={"page": 2}),
    Case("parts of records that are not here, to be fetched whole", {}, ALL, limits={"parts": 1}),
    # --- a server that was put back to nothing after it had confirmed everything
    Case("the server is put back", {}, ALL, limits={"put_back": 1}),
    Case("the server is put back between push and pull", {"pull": "503"}, ALL, limits={"put_back": 1}),
)


# How long a client of these cases waits for an answer; the phone's own time is 20 s (request.js), which is asserted.
PATIENCE_S = 1.6


def text_of(case: Case, number: int) -> str:
    """The answer that a change of a case holds: letters that do not pack too well, and more than ASCII."""
    letters = "".join(chr(97 + (number * 7 + place * place) % 26) for place in range(case.letters))
    return f"{number}é{letters}"[:case.letters]


def record_of(number: int) -> str:
    """The record that a change of a case is about; two changes to each."""
    return f"job:j{number // 2}"
