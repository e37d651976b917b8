"""What a sign-off stands on: every answer that the calculation was given, by name, id and digest.

Digests make equal values equal: the same figure measured again does not shake a sign-off, another figure does.
Portable Python.
"""

import hashlib

from sync.merge import canonical

from .lookup import feeds_verdict

HEX = "0123456789abcdef"


def evidence(book):
    """{"record/field": {"ids": [...], "digest": text}} of all standing answers that feed the verdict of a job."""
    return evidence_of(book.records(), feeds_verdict)


def evidence_of(views, is_counted):
    """The same of any records; is_counted(kind, field) says which of their fields count."""
    found = {}
    for view in views:
        for field in sorted(view["fields"]):
            answers = view["fields"][field]["answers"]
            if answers and is_counted(view["kind"], field):
                digests = sorted([digest_of(answer["value"]) for answer in answers])
                found[view["record"] + "/" + field] = {
                    "ids": sorted([answer["id"] for answer in answers]), "digest": _joined(digests)}
    return found


def changed_since(basis, now):
    """Names of the evidence that a sign-off's basis does not hold, sorted; all of it where there is no basis.

    A basis comes from a phone as it is: what has not the shape of evidence holds nothing, and stops nobody's page.
    """
    held = (basis or {}).get("evidence")
    if not isinstance(held, dict):
        held = {}
    changed = []
    for name in sorted(now):
        seen = held.get(name)
        if not isinstance(seen, dict) or seen.get("digest") != now[name]["digest"]:
            changed.append(name)
    for name in sorted(held):
        if name not in now:
            changed.append(name)
    return changed


def digest_of(value):
    """Sixteen hex digits that are equal for equal values: the start of SHA-256 over the canonical text."""
    digits = ""
    for byte in hashlib.sha256(canonical(value).encode()).digest()[:8]:
        digits += HEX[byte >> 4] + HEX[byte & 15]
    return digits


def _joined(digests):
    different = []
    for digest in digests:
        if digest not in different:
            different.append(digest)
    return "+".join(different)
