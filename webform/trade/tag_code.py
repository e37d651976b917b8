"""The code on a filter's tag: seven Crockford base32 characters and two check digits, and what else a scan may hold.

The check digits are ISO/IEC 7064 MOD 97-10 over the body with A = 10 ... Z = 35. With letters and digits mixed, about
one wrong character in 97 that turns a digit into a letter would slip through, and so would "B1" for "1B"; new tags
therefore take only bodies that is_strong() accepts, in which none does. Printed tags are forever: the form cannot
change. Every scanned or typed text is hostile; it is compared, never followed, and nothing here raises on it.
"""

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
SMALL = "abcdefghijklmnopqrstuvwxyz"
DIGITS = "0123456789"
GAPS = " \t\r\n-‐‑–—\u00a0"
BODY_LENGTH = 7
CODE_LENGTH = 9
MOST_CHARS = 300
ENROL = "ASHBOOK-ENROL:"


def check_digits(body: str) -> str:
    """The two check digits of a text of digits and capital letters: ISO/IEC 7064 MOD 97-10.

    Source: ISO/IEC 7064:2003, MOD 97-10.

    >>> check_digits("794")
    '44'
    """
    remainder = 0
    for char in body:
        value = DIGITS.find(char)
        if value >= 0:
            remainder = (remainder * 10 + value) % 97
        else:
            remainder = (remainder * 100 + 10 + LETTERS.index(char)) % 97
    check = 98 - remainder * 100 % 97
    return ("0" if check < 10 else "") + str(check)


def complete(body: str) -> str:
    """The whole code, nine characters, for a body of seven characters of the alphabet; else ValueError.

    Source: as check_digits.
    """
    if len(body) != BODY_LENGTH or not _is_of(ALPHABET, body):
        raise ValueError("a tag's body is seven of the characters " + ALPHABET)
    return body + check_digits(body)


def is_strong(body: str) -> bool:
    """Whether every code with one wrong character, or two neighbours swapped, fails its check. About one body in three.

    Source: every such slip is tried by check_digits.

    >>> is_strong("7K3M9QX"), is_strong("GY7V400")
    (True, False)
    """
    code = complete(body)
    for place in range(CODE_LENGTH):
        for char in ALPHABET if place < BODY_LENGTH else DIGITS:
            if char != code[place] and _fits(code[:place] + char + code[place + 1:]):
                return False
        if place and code[place - 1] != code[place]:
            if _fits(code[:place - 1] + code[place] + code[place - 1] + code[place + 1:]):
                return False
    return True


def _fits(code: str) -> bool:
    return code[BODY_LENGTH:] == check_digits(code[:BODY_LENGTH])


def read(text: object) -> dict[str, object]:
    """What a scanned or typed text is.

    {"ok": True, "kind": "tag" or "enrol", "code"} or {"ok": False, "kind": "foreign", "broken_check" or "too_long",
    "code": the catalogue's key, "values": {...}}. Source: own form of code; the alphabet is Crockford's base 32.
    """
    if type(text) is not str:
        return _refused("foreign", "tag.foreign", {})
    if len(text) > MOST_CHARS:
        return _refused("too_long", "tag.too_long", {"most": MOST_CHARS})
    plain = _capital(text)
    if plain.startswith(ENROL):
        return _enrol(plain[len(ENROL):])
    if "://" in plain:
        return _address(plain)
    return _typed(plain)


def _enrol(rest: str) -> dict[str, object]:
    code = _read_as_crockford(_without_gaps(rest))
    if 8 <= len(code) <= 32 and _is_of(ALPHABET, code):
        return {"ok": True, "kind": "enrol", "code": code}
    return _refused("foreign", "tag.broken_enrol", {})


def _address(plain: str) -> dict[str, object]:
    """A tag in the form with the address in front: http(s)://host/t/CODE and nothing else."""
    scheme, rest = plain.split("://", 1)
    parts = rest.split("/")
    is_ours = scheme in ("HTTP", "HTTPS") and len(parts) == 3 and parts[1] == "T" and len(parts[0]) > 0
    if not is_ours or not _is_of(LETTERS + DIGITS + ".-:[]", parts[0]) or not _is_of(LETTERS + DIGITS, parts[2]):
        return _refused("foreign", "tag.foreign", {})
    return _typed(parts[2])


def _typed(plain: str) -> dict[str, object]:
    code = _without_gaps(plain)
    if not code or not _is_of(LETTERS + DIGITS, code) or not 5 <= len(code) <= 12:
        return _refused("foreign", "tag.foreign", {})
    if len(code) != CODE_LENGTH:
        return _refused("foreign", "tag.wrong_length", {"count": len(code), "length": CODE_LENGTH})
    code = _read_as_crockford(code)
    if not _is_of(ALPHABET, code) or not _fits(code):
        return _refused("broken_check", "tag.broken_check", {"given": code})
    return {"ok": True, "kind": "tag", "code": code}


def _read_as_crockford(code: str) -> str:
    """I and L are read as 1, O as 0."""
    result = ""
    for char in code:
        result = result + ("1" if char in "IL" else "0" if char == "O" else char)
    return result


def _without_gaps(text: str) -> str:
    result = ""
    for char in text:
        if char not in GAPS:
            result = result + char
    return result


def _capital(text: str) -> str:
    """Small ASCII letters made capital; every other character stays."""
    result = ""
    for char in text:
        place = SMALL.find(char)
        result = result + (LETTERS[place] if place >= 0 else char)
    return result


def _is_of(allowed: str, text: str) -> bool:
    return all(char in allowed for char in text)


def _refused(kind: str, code: str, values: dict[str, object]) -> dict[str, object]:
    return {"ok": False, "kind": kind, "code": code, "values": values}
