"""What a form is made of: choices, fields, steps, cautions. Portable Python: the phone runs it too.

A declaration is plain data in tuples. Builders (number, choice, choices, text, ref, cells, photos) fill in what a kind of
field does not need, so that a declared field says only what matters about it.
"""

from collections import namedtuple

from ..trade import units
from .photos import MOST

# One answer that can be picked: the code that is stored and the words on the button.
Choice = namedtuple("Choice", ("code", "label"))

# kind: number choice choices text ref cells photos. units: those offered, the first is the shop's usual one.
# low, high: bounds of a number in `bound_unit`. to: the record kind that a ref points to. policy: what is used while
# two answers stand, for fields that are answers of their own (in whole steps the step's policy counts).
# shown_when: None or (name of an earlier field, codes): asked only when that field holds one of the codes.
# is_former: not asked any more; what was typed in it once stays valid, is shown and counts.
# codes: {code: words} of the choices; low_si, high_si: the bounds in the SI unit. Made once here, read for every answer.
Field = namedtuple(
    "Field",
    ("name", "label", "kind", "units", "low", "high", "bound_unit", "is_whole_number", "choices", "to", "required",
     "help", "policy", "shown_when", "longest", "codes", "low_si", "high_si", "is_former"),
)

# record: kind of record it writes. slot: None, or the one field that holds the whole answer; in a staged step the
# stored field is "before.SLOT" or "after.SLOT". place: "phone" or "office". feeds: what its answer feeds: "verdict",
# "report" or "book". skippable: may be skipped with a reason. cautions: codes of CAUTIONS.
Step = namedtuple(
    "Step",
    ("name", "record", "slot", "is_staged", "title", "fields", "policy", "feeds", "skippable", "cautions", "help",
     "place"),
)

# blocking_when: None, or (field, codes) of the same step: must be confirmed when that is answered.
Caution = namedtuple("Caution", ("code", "text", "source"))


def number(name, label, units, low, high, bound_unit, is_whole_number=False, required=True, help="", policy="worse",
           shown_when=None, is_former=False):
    """A number as it was typed, with its unit. Bounds hold in bound_unit."""
    return _field(name, label, "number", required, help, policy, shown_when, 24, units, (low, high, bound_unit),
                  is_whole_number, is_former=is_former)


def units_to_pick(names):
    """Units as the options of a choice: the code of a unit is its name."""
    return tuple([(name, name) for name in names])


def choice(name, label, options, required=True, help="", policy="worse", shown_when=None):
    """One of some codes."""
    return _field(name, label, "choice", required, help, policy, shown_when, 0, options=options)


def choices(name, label, options, required=False, help="", policy="worse", shown_when=None):
    """Any number of some codes; stored sorted."""
    return _field(name, label, "choices", required, help, policy, shown_when, 0, options=options)


def text(name, label, required=False, help="", policy="later", shown_when=None, longest=200):
    """Free text of up to `longest` characters; always shown as text, never as markup."""
    return _field(name, label, "text", required, help, policy, shown_when, longest)


def ref(name, label, to, required=False, help="", policy="identity", shown_when=None):
    """The id of another record of kind `to`."""
    return _field(name, label, "ref", required, help, policy, shown_when, 80, to=to)


def cells(name, label, feels, required=True, help=""):
    """Rod cells: a list of {zone, feel, depth, short}; see DEVELOPERS.md."""
    return _field(name, label, "cells", required, help, "worse", None, 24, ("mm", "in"), (0, 1000, "mm"), options=feels)


def photos(name, label, required=False, help="", policy="later"):
    """Photos: a list of at most `longest` times {sha256, bytes, taken_at}; see photos.py."""
    return _field(name, label, "photos", required, help, policy, None, MOST)


def step(name, record, title, fields, slot=None, is_staged=False, policy="later", feeds="book", skippable=False,
         cautions=(), help="", place="phone"):
    """One screen of the form, or one answer of the desk."""
    return Step(name, record, slot, is_staged, title, tuple(fields), policy, feeds, skippable, tuple(cautions), help,
                place)


def _field(name, label, kind, required, help, policy, shown_when, longest, offered=(), bounds=None, is_whole_number=False,
           options=(), to=None, is_former=False):
    low, high, bound_unit = bounds or (None, None, None)
    low_si, high_si = None, None
    if bounds:
        low_si, high_si = [units.to_si(str(bound), bound_unit)["value"] for bound in (low, high)]
    codes = {}
    for code, words in options:
        codes[code] = words
    return Field(name, label, kind, offered, low, high, bound_unit, is_whole_number,
                 tuple([Choice(code, words) for code, words in options]), to, required, help, policy, shown_when, longest,
                 codes, low_si, high_si, is_former)
