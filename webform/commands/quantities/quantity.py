"""What a single quantity of the calculation is: named inputs, results with units, its formula, where it comes from."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ..shape import Choice, ListOf, Number, Part, Record, Shape, Text, YesNo

Inputs = dict[str, "Input"]


class Refused(ValueError):
    """Why there is no result, as a sentence."""


@dataclass(frozen=True)
class Input:
    """One named input: its shape, what it is, and what it is when left out (None: it may stay unknown)."""

    shape: Shape
    words: str
    is_needed: bool = True
    default: object = None


@dataclass(frozen=True)
class Example:
    """Inputs and results that a person can look up elsewhere; tolerance absolute (or relative), source of the figures."""

    inputs: dict[str, object]
    results: dict[str, object]
    source: str
    abs: float = 0.0
    rel: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """One entry of the registry; of: the functions of webform/trade that it computes with, "module.function"."""

    name: str
    title: str
    inputs: Inputs
    results: dict[str, str]  # name: unit
    compute: Callable[[Any], dict[str, object] | None]
    source: str
    of: tuple[str, ...]
    example: Example
    together: tuple[tuple[Callable[[Any], bool], str, str, str], ...] = ()

    @property
    def shape(self) -> Record:
        """The shape that given inputs are read against."""
        return Record(
            {name: Part(entry.shape, entry.is_needed, entry.default) for name, entry in self.inputs.items()},
            together=self.together,
        )


def num(unit: str, low: float, high: float, words: str) -> Input:
    """A number that is needed."""
    return Input(Number(unit, low, high), words)


def above(unit: str, low: float, high: float, words: str) -> Input:
    """A number that is needed and lies above its low end."""
    return Input(Number(unit, low, high, is_without_low=True), words)


def whole(low: int, high: int, words: str) -> Input:
    """A whole number that is needed."""
    return Input(Number("", low, high, is_whole=True), words)


def share(words: str, high: float = 1.0) -> Input:
    """A share of one."""
    return Input(Number("", 0.0, high), words)


def inside(words: str, low: float = 0.001, high: float = 0.999) -> Input:
    """A share that is neither nothing nor all."""
    return Input(Number("", low, high), words)


def code(codes: tuple[str, ...], words: str) -> Input:
    """One of some codes."""
    return Input(Choice(codes), words)


def text(longest: int, words: str) -> Input:
    """A text."""
    return Input(Text(longest), words)


def yes(words: str) -> Input:
    """true or false."""
    return Input(YesNo(), words)


def many(unit: str, low: float, high: float, words: str, fewest: int = 1, most: int = 1000) -> Input:
    """A list of numbers."""
    return Input(ListOf(Number(unit, low, high), fewest, most), words)


def open_(entry: Input, default: object = None) -> Input:
    """The same input, but it may be left out."""
    return Input(entry.shape, entry.words, False, default)


def wholes(low: int, high: int, words: str, most: int = 1000) -> Input:
    """A list of whole numbers."""
    return Input(ListOf(Number("", low, high, is_whole=True), 0, most), words)
