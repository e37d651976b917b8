"""Tag codes."""

from ...trade import tag_code
from .quantity import Example, Quantity, text

BODY = set(tag_code.LETTERS + tag_code.DIGITS)


def _is_tag_body(body: str) -> bool:
    return len(body) == tag_code.BODY_LENGTH and set(body) <= set(tag_code.ALPHABET)


def _check(g: dict[str, str]) -> dict[str, object]:
    body = g["body"]
    is_tag = _is_tag_body(body)
    return {
        "check": tag_code.check_digits(body),
        "code": tag_code.complete(body) if is_tag else None,
        "is_strong": tag_code.is_strong(body) if is_tag else None,
    }


QUANTITIES = (
    Quantity(
        "tag-check-characters",
        "The two check digits of a tag's body; the whole code where it is one of seven characters",
        {"body": text(40, "digits and capital letters")},
        {"check": "", "code": "", "is_strong": ""},
        _check,
        "ISO/IEC 7064 MOD 97-10, A = 10 to Z = 35",
        ("tag_code.check_digits", "tag_code.complete", "tag_code.is_strong"),
        Example(
            {"body": "794"}, {"check": "44"}, "ISO/IEC 7064's own example (from memory; python-stdnum computes the same)"
        ),
        (
            (
                lambda g: not set(g["body"]) <= BODY,
                "body",
                "A body has digits and capital letters A to Z only.",
                "0 to 9 and A to Z",
            ),
        ),
    ),
    Quantity(
        "tag-reading",
        "What a scanned or typed text is",
        {"text": text(3000, "the text")},
        {"ok": "", "kind": "", "code": ""},
        lambda g: {name: value for name, value in tag_code.read(g["text"]).items() if name != "values"},
        "as tag-check-characters",
        ("tag_code.read",),
        Example(
            {"text": "7k3m-9qx07"},
            {"ok": True, "kind": "tag", "code": "7K3M9QX07"},
            "7203229263300 mod 97 = 91, 98 - 91 = 07, by hand",
        ),
    ),
)
