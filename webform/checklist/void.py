"""Voided records. Nothing is ever deleted: a record is voided with a reason, and is void as long as nothing has moved since.

Invariants:
- a void stands on its basis: every answer of the record and its children that its author saw (equal values count as the
  same); an edit that it did not see, made before or after, stands beside it as a second answer, until a person decides;
- who says "void" and who says "stands" at the same time are two answers;
- the order in which void and edits arrive cannot matter: all of this is read from the standing answers.
Portable Python.
"""

from .evidence import changed_since, evidence_of

FIELD = "void"
VOID = "void"


def void_of(view, children=None):
    """None where nobody has voided the record, else {"reason", "by", "at", "id", "changed", "is_disputed", "stands"}.

    children: the views of its children; None where they are not at hand: then only the record's own answers are asked.
    """
    answers = view["fields"][FIELD]["answers"] if FIELD in view["fields"] else []
    voiding = [answer for answer in answers if answer["value"]["state"] == VOID]
    if not voiding:
        return None
    now = seen([view] + (children or []))
    chosen, changed = None, []
    for answer in voiding:
        basis = answer.get("basis") or {}
        if children is None:
            basis = {"evidence": _own(view, basis.get("evidence", {}))}
        missed = changed_since(basis, now)
        if chosen is None or (changed and not missed):
            chosen, changed = answer, missed
    is_disputed = len(voiding) != len(answers)
    return {"reason": chosen["value"]["reason"], "by": chosen["by"], "at": chosen["at"], "id": chosen["id"],
            "changed": changed, "is_disputed": is_disputed, "stands": not changed and not is_disputed}


def is_void(view, children=None):
    """Whether a void stands, undisputed, on all that is there."""
    found = void_of(view, children)
    return found is not None and found["stands"]


def seen(views):
    """What a void made on a screen that shows these records stands on: every answer but those about being void."""
    return evidence_of(views, lambda kind, field: field != FIELD)


def _own(view, evidence):
    start = view["record"] + "/"
    return {name: evidence[name] for name in sorted(evidence) if name.startswith(start)}
