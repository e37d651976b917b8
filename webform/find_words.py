"""What a record can be found by, folded so that case, spaces, hyphens and accents do not matter.

Folding: Unicode NFKD, combining marks dropped, casefold, a letter with a stroke as the plain one (ø as o), æ as ae; whatever
is no letter and no digit only parts words. "AB-12 c" and "ab12C" are one. It does not know languages: ö is o, never oe.
Each key says by its first character how it is meant, so that one table and one index serve all:
- "w" and one word, or up to RUN words in a row run together: serials, trucks, work orders, part numbers;
- "e" and a serial backwards: its last characters;
- "n" and a name from one of its words on: the beginning of each word of an owner's name.
Raise MADE_BY whenever other keys come out: the index is then made anew by itself (find_index.py).
"""

import contextlib
import re
import unicodedata
from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any

MADE_BY = 1
RUN = 4  # words in a row
LONGEST = 40  # characters of a key that count
SHORTEST_END, SHORTEST_BEGINNING = 4, 2
LIGATURES = {"æ": "ae", "œ": "oe", "þ": "th", "ð": "d"}
TOP = "\U0010ffff"  # above every letter and digit
Pattern = tuple[str, str]  # the key itself and "", or the first key and the end of a range


def words_of(text: str) -> list[str]:
    """The folded words of a text.

    >>> words_of("Müller & Sønn, AB-12"), words_of("O'Brien")
    (['muller', 'sonn', 'ab', '12'], ['o', 'brien'])
    """
    plain = "".join(_plain(char) for char in unicodedata.normalize("NFKD", text))
    return "".join(char if char.isalnum() else " " for char in plain).split()


@lru_cache(4096)
def _plain(char: str) -> str:
    if char.isascii():
        return char.lower()
    if unicodedata.combining(char) or unicodedata.category(char) == "Mn":
        return ""
    small = unicodedata.normalize("NFKD", char.casefold())
    name, with_what, _mark = unicodedata.name(small, "").partition(" WITH ") if len(small) == 1 else ("", "", "")
    with contextlib.suppress(KeyError):
        small = unicodedata.lookup(name) if with_what else small
    return LIGATURES.get(small, "".join(part for part in small if not unicodedata.combining(part)))


def _runs(text: str) -> Iterable[str]:
    words = words_of(text)
    yield _key("w", words)
    for start in range(len(words)):
        for end in range(start + 1, min(start + RUN, len(words)) + 1):
            yield _key("w", words[start:end])


def _listed(text: str) -> Iterable[str]:
    for part in re.split(r"[,;\n]", text):
        yield from _runs(part)


def _whole_and_end(text: str) -> Iterable[str]:
    words = words_of(text)
    return _key("w", words), _key("e", ["".join(words)[::-1]])


def _beginnings(text: str) -> Iterable[str]:
    words = words_of(text)
    return [_key("n", words[start:]) for start in range(len(words))]


def _key(way: str, words: list[str]) -> str:
    return (way + "".join(words))[:LONGEST + 1]


# kind of record: each field that finds it, and the keys of a text there
FIELDS: dict[str, dict[str, Callable[[str], Iterable[str]]]] = {
    "filter": {"serial": _whole_and_end},
    "job": {"work_order": _runs, "truck": _runs},
    "fitting": {"truck": _runs},
    "owner": {"name": _beginnings},
    "model": {"number": _listed, "cross": _listed},
}


def keys_of(view: dict[str, Any], only: str | None = None) -> set[str]:
    """The keys of all answers that stand in a record, or in one field of it; all of several that differ."""
    found: set[str] = set()
    for field, way in FIELDS.get(view["kind"], {}).items():
        if only in (None, field) and field in view["fields"]:
            for answer in view["fields"][field]["answers"]:
                if isinstance(answer["value"], str):
                    found.update(way(answer["value"]))
    return {key for key in found if len(key) > 1}


def exactly(typed: str) -> list[Pattern]:
    """What a folded text means: a word as it stands, the last four or more of a serial, the beginning of a name's word."""
    found: list[Pattern] = [(_key("w", [typed]), "")]
    if len(typed) >= SHORTEST_END:
        found.append(_beginning("e" + typed[::-1]))
    found.append(_beginning("n" + typed) if len(typed) >= SHORTEST_BEGINNING else ("n" + typed, ""))
    return found


def loosely(typed: str) -> list[Pattern]:
    """That, or the beginning of any word."""
    return [*exactly(typed), *([_beginning("w" + typed)] if len(typed) >= SHORTEST_BEGINNING else [])]


def _beginning(key: str) -> Pattern:
    return key[:LONGEST + 1], key[:LONGEST + 1] + TOP


def fits(keys: Iterable[str], patterns: list[Pattern]) -> bool:
    """Whether one of the keys is meant by one of the patterns."""
    return any(low <= key < high if high else key == low for key in keys for low, high in patterns)
