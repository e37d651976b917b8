"""One line of arithmetic: what, its figure and unit, how it comes about in words, and where the formula is from."""

from dataclasses import dataclass

from ..quantities import QUANTITIES
from ..typed import figure, shown_text

HOW_AT = 58  # column where the words begin


@dataclass(frozen=True)
class Line:
    """value: a figure, or a text where there is none."""

    topic: str
    what: str
    value: float | str
    unit: str
    how: str
    source: str


class Book:
    """Lines of one topic after the other."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.topic = ""

    def add(self, what: str, value: object, unit: str = "", how: str = "", source: str = "", by: str = "") -> None:
        """Adds a line; by: the quantity of `ashbook calc` that computes the same, whose source then stands here."""
        kept = float(value) if isinstance(value, int | float) and not isinstance(value, bool) else shown_text(str(value))
        source = f"{QUANTITIES[by].source}; ashbook calc {by}" if by else source
        self.lines.append(Line(self.topic, what, kept, unit, how, source))


def as_text(lines: list[Line]) -> str:
    """The lines for people, topic by topic; a source that has just been named is not named again."""
    found: list[str] = []
    topic, source = "", ""
    for line in lines:
        if line.topic != topic:
            topic, source = line.topic, ""
            found += [*([""] if found else []), topic]
        value = figure(float(f"{line.value:.6g}")) if isinstance(line.value, float) else line.value
        left = f"  {line.what:34}{value}{' ' + line.unit if line.unit else ''}"
        named = f" [{line.source}]" if line.source and line.source != source else ""
        source = line.source or source
        found.append(f"{left:{HOW_AT}}{'  ' if len(left) >= HOW_AT else ''}{line.how}{named}".rstrip())
    return "\n".join(found)
