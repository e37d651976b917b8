"""The office desk: what came in, what two people answered differently, what is held, phones and the shop's books.

Pages are rendered on the server; no script is needed. Forms hand back the ids that they showed.
"""

# the routes of these join the blueprint
from . import books, checks, erasing, find, held, outbox_file, own, phones, rules, settling, voiding
from .pages import blueprint

__all__ = ["blueprint", "books", "checks", "erasing", "find", "held", "outbox_file", "own", "phones", "rules", "settling",
           "voiding"]
