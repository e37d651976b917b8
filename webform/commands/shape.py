"""Shapes of JSON as data, and the one reader that checks a value against them.

A shape says what is allowed in words a person can read; read() gives the value with every number in the unit that its
name says, and a list of every problem: {"path", "what", "allowed"}. Nothing is corrected: it fits or it is refused.
"""

import difflib
import math
from collections.abc import Callable
from dataclasses import dataclass

from .typed import converted, figure, number, shown

# Endings of names that say a unit: {"drop": "2.75 inH2O"} may stand for {"drop_pa": 684.99}.
UNIT_ENDINGS = ("_pa", "_g", "_m", "_k", "_m3_s", "_km", "_l")
END_SLACK = 1e-12  # of an end: more than a conversion of units adds (-30 °C is 243.14999999999998 K), less than any figure
LONGEST_NAME, MOST_HINTS = 60, 20  # of names that are not known: how much of one is compared, how many get a hint
Problem = dict[str, str]


@dataclass(frozen=True)
class Number:
    """A number in a unit, low to high; whole where only whole ones count."""

    unit: str
    low: float
    high: float
    is_whole: bool = False
    is_without_low: bool = False  # the low end itself is not allowed
    is_difference: bool = False  # of two temperatures: 1 °C is 1 K, not 274.15 K

    def allowed(self, unit: str | None = None) -> str:
        """Its range in words, in its own unit and in the one that it was typed in."""
        word = "a whole number" if self.is_whole else "a number"
        low, high = (figure(float(end)) for end in (self.low, self.high))
        text = f"{word} {'above ' if self.is_without_low else 'from '}{low} to {high}{' ' + self.unit if self.unit else ''}"
        unit = "°C" if self.unit == "K" and unit in (None, "K") else unit  # nobody's thermometer shows kelvin
        if unit and unit != self.unit:
            both = [converted(end, self.unit, unit, self.is_difference) for end in (self.low, self.high)]
            ends = [figure(float(f"{end:.6g}")) for end in both]
            text += f" ({ends[0]} to {ends[1]} {unit})"
        return text


@dataclass(frozen=True)
class Choice:
    """One of some codes."""

    codes: tuple[str, ...]

    def allowed(self) -> str:
        """The codes in words."""
        return "one of " + ", ".join(f'"{code}"' for code in self.codes)


@dataclass(frozen=True)
class Text:
    """A text of at most so many characters."""

    longest: int = 300

    def allowed(self) -> str:
        """Its length in words."""
        return f"a text of 1 to {self.longest} characters"


@dataclass(frozen=True)
class YesNo:
    """true or false."""

    def allowed(self) -> str:
        """The two of them."""
        return "true or false"


@dataclass(frozen=True)
class ListOf:
    """A list of equal things."""

    item: "Shape"
    fewest: int = 0
    most: int = 1000

    def allowed(self) -> str:
        """Its length in words."""
        return f"a list of {self.fewest} to {self.most}, each {self.item.allowed()}"


@dataclass(frozen=True)
class Record:
    """An object with named parts; is_skippable: {"skipped": code} may stand instead of it."""

    parts: dict[str, "Part"]
    skips: tuple[str, ...] = ()
    together: tuple[tuple[Callable[[dict[str, object]], bool], str, str, str], ...] = ()  # is wrong, where, what, allowed

    def allowed(self) -> str:
        """Its names in words."""
        text = "an object with " + ", ".join(self.parts)
        return text + (', or {"skipped": ' + "/".join(self.skips) + "}" if self.skips else "")


Shape = Number | Choice | Text | YesNo | ListOf | Record


@dataclass(frozen=True)
class Part:
    """One named part: needed, or null and its default allowed."""

    shape: Shape
    is_needed: bool = False
    default: object = None


def needed(shape: Shape) -> Part:
    """A part that must be there."""
    return Part(shape, True)


def maybe(shape: Shape, default: object = None) -> Part:
    """A part that may be null or left out."""
    return Part(shape, False, default)


def read(shape: Shape, given: object, path: str, problems: list[Problem]) -> object:
    """The value in the units of its names; each problem is added to the list, and None stands for what does not fit."""
    if isinstance(shape, Record):
        return _record(shape, given, path, problems)
    if isinstance(shape, ListOf):
        return _list(shape, given, path, problems)
    if isinstance(shape, Number):
        return _number(shape, given, path, problems)
    is_right = (
        isinstance(given, bool)
        if isinstance(shape, YesNo)
        else isinstance(given, str)
        and (
            given in shape.codes if isinstance(shape, Choice) else 0 < len(given) <= shape.longest and _can_be_written(given)
        )
    )
    if is_right:
        return given
    return _problem(problems, path, f"{shown(given)} does not fit." + _near(shape, given), shape.allowed())


def _number(shape: Number, given: object, path: str, problems: list[Problem]) -> object:
    value, what, unit = number(given, shape.unit, shape.is_difference)
    if value is None:
        return _problem(problems, path, what, shape.allowed())
    for end in (shape.low, shape.high):
        if math.isclose(value, end, rel_tol=END_SLACK, abs_tol=0.0):
            value = end
    is_low = value < shape.low or (shape.is_without_low and value == shape.low)
    if is_low or value > shape.high:
        return _problem(
            problems, path, f"{shown(given)} is {'below' if is_low else 'above'} what can be.", shape.allowed(unit)
        )
    if shape.is_whole:
        if value != int(value):
            return _problem(problems, path, f"{shown(given)} is not whole.", shape.allowed())
        return int(value)
    return value


def _list(shape: ListOf, given: object, path: str, problems: list[Problem]) -> object:
    if not isinstance(given, list):
        return _problem(problems, path, f"{shown(given)} is not a list.", shape.allowed())
    if not shape.fewest <= len(given) <= shape.most:
        return _problem(problems, path, f"There are {len(given)} in this list.", shape.allowed())
    return [read(shape.item, item, f"{path}[{place}]", problems) for place, item in enumerate(given)]


def _record(shape: Record, given: object, path: str, problems: list[Problem]) -> object:
    if not isinstance(given, dict):
        return _problem(problems, path, f"{shown(given)} is not an object.", shape.allowed())
    if shape.skips and "skipped" in given:
        return _record(Record({"skipped": needed(Choice(shape.skips))}), given, path, problems)
    found = {}
    stems = {_stem(name): name for name in shape.parts if _stem(name) not in shape.parts}
    unknown = [name for name in given if name not in shape.parts and name not in stems]
    for place, name in enumerate(unknown):
        near = difflib.get_close_matches(name[:LONGEST_NAME], list(shape.parts), 1) if place < MOST_HINTS else []
        _problem(
            problems,
            _at(path, name),
            "This name is not known." + (f" Did you mean {near[0]}?" if near else ""),
            ", ".join(shape.parts),
        )
    misread: set[str] = set()
    for name, part in shape.parts.items():
        before = len(problems)
        found[name] = _part(name, part, given, path, problems)
        if len(problems) > before:
            misread.add(name)
    for is_wrong, where, what, allowed in shape.together:
        if _is_wrong(is_wrong, found, misread):
            stem = _stem(where)
            _problem(problems, _at(path, stem if stem in given and where not in given else where), what, allowed)
    return found


class _Looked(dict[str, object]):
    """The parts of an object, and which of them were looked at."""

    def __init__(self, parts: dict[str, object]) -> None:
        super().__init__(parts)
        self.at: set[str] = set()

    def __getitem__(self, name: str) -> object:
        self.at.add(name)
        return super().__getitem__(name)


def _is_wrong(is_wrong: Callable[[dict[str, object]], bool], found: dict[str, object], misread: set[str]) -> bool:
    """Whether parts do not go together; nothing is said of a part that could not be read."""
    looked = _Looked(found)
    try:
        return is_wrong(looked) and not looked.at & misread
    except (AttributeError, LookupError, TypeError):
        if not misread:
            raise
        return False  # what could not be read, or is missing though needed, stands as None


def _part(name: str, part: Part, given: dict[str, object], path: str, problems: list[Problem]) -> object:
    stem = _stem(name)
    is_stem = stem != name and stem in given and name not in given
    if stem != name and stem in given and name in given:
        return _problem(problems, _at(path, stem), f"This is given twice, as {stem} and as {name}.", "one of the two")
    value = given.get(stem if is_stem else name)
    here = _at(path, stem if is_stem else name)
    if value is None:
        if part.is_needed:
            _problem(problems, here, "This is missing.", part.shape.allowed())
        return part.default
    if is_stem and _is_bare(value):
        return _problem(problems, here, f"{shown(value)} has no unit. Give it one, or call it {name}.", part.shape.allowed())
    return read(part.shape, value, here, problems)


def _stem(name: str) -> str:
    for ending in UNIT_ENDINGS:
        if name.endswith(ending) and len(name) > len(ending):
            return name[: -len(ending)]
    return name


def _is_bare(value: object) -> bool:
    items = value if isinstance(value, list) else [value]
    return any(type(item) in (int, float) for item in items)


def _can_be_written(text: str) -> bool:
    return all(not "\ud800" <= char <= "\udfff" for char in text)


def _near(shape: Shape, given: object) -> str:
    if not isinstance(shape, Choice) or not isinstance(given, str):
        return ""
    near = difflib.get_close_matches(given, shape.codes, 1)
    return f' Did you mean "{near[0]}"?' if near else ""


def _at(path: str, name: str) -> str:
    plain = name if name.isidentifier() and len(name) <= 40 else "[" + shown(name) + "]"
    return plain if not path else path + plain if plain.startswith("[") else path + "." + plain


def _problem(problems: list[Problem], path: str, what: str, allowed: str) -> object:
    """Adds a problem; None, which stands for what does not fit."""
    problems.append({"path": path, "what": what, "allowed": allowed})
    return None
