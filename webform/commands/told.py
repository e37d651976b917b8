"""Quantities and answers of `ashbook calc` as text for people and as JSON for programs, all from the registry."""

import re
import textwrap

from .quantities import TOPICS
from .quantities.quantity import Input, Quantity
from .shape import ListOf, Number
from .typed import figure, shown_text

WIDTH = 22
WIDEST = 118
HEAD = (
    "Single quantities of the calculation, each to be checked against a book. `ashbook calc NAME --help` tells one; inputs "
    'follow as options and may carry a unit: ashbook calc air-density --pressure "1013.25 mbar" --temperature "20 °C". '
    "What stands in [brackets] may be left out."
)


def answer(quantity: Quantity, inputs: dict[str, object], results: dict[str, object]) -> dict[str, object]:
    """One answer for programs."""
    return {
        "quantity": quantity.name,
        "title": quantity.title,
        "inputs": inputs,
        "input_units": {name: _unit(entry) for name, entry in quantity.inputs.items()},
        "results": results,
        "result_units": {name: quantity.results[name] for name in results},
        "source": quantity.source,
    }


def shown_answer(quantity: Quantity, inputs: dict[str, object], results: dict[str, object]) -> str:
    """One answer for people."""
    lines = [f"{quantity.title} ({quantity.name})", "inputs"]
    for name, value in inputs.items():
        lines.append(_row(name, "not given" if value is None else _value(value, _unit(quantity.inputs[name]))))
    lines.append("results")
    for name, value in results.items():
        lines.append(_row(name, "none" if value is None else _value(value, quantity.results[name])))
    return "\n".join([*lines, "source", f"  {quantity.source}"])


def listing() -> str:
    """Every quantity by topic, with inputs, units and source."""
    lines = [textwrap.fill(HEAD, WIDEST)]
    for topic, entries in TOPICS:
        lines += ["", topic.upper()]
        for entry in entries:
            lines.append(f"{entry.name}: {entry.title}")
            lines.append(_wrapped("from", ", ".join(_short(name, given) for name, given in entry.inputs.items())))
            results = [name + (f" ({unit})" if unit else "") for name, unit in entry.results.items()]
            lines += [_wrapped("gives", ", ".join(results)), _wrapped("source", entry.source)]
    return "\n".join(lines)


def listed() -> dict[str, object]:
    """The same for programs."""
    return {"topics": [{"topic": topic, "quantities": [_listed(entry) for entry in entries]} for topic, entries in TOPICS]}


def _listed(entry: Quantity) -> dict[str, object]:
    inputs = {
        name: {
            "unit": _unit(given),
            "words": given.words,
            "allowed": given.shape.allowed(),
            "is_needed": given.is_needed,
            "default": given.default,
        }
        for name, given in entry.inputs.items()
    }
    example = {"inputs": entry.example.inputs, "results": entry.example.results, "source": entry.example.source}
    return {
        "name": entry.name,
        "title": entry.title,
        "inputs": inputs,
        "results": entry.results,
        "source": entry.source,
        "example": example,
    }


def usage(quantity: Quantity) -> str:
    """One quantity for people: every input with its range, and an example whose result can be looked up."""
    lines = [f"{quantity.title} ({quantity.name})", "inputs"]
    for name, given in quantity.inputs.items():
        usual = "" if given.default is None else ": " + _value(given.default, _unit(given))
        usual = "" if given.is_needed else f" May be left out{usual}."
        lines.append(_row("--" + _option(name), f"{given.words}; {given.shape.allowed()}.{usual}"))
    lines.append("results")
    lines += [_row(name, unit) for name, unit in quantity.results.items()]
    example = quantity.example
    options = " ".join(f"--{_option(name)} {_quoted(value)}" for name, value in example.inputs.items())
    expected = ", ".join(f"{name} {_value(value, quantity.results[name])}" for name, value in example.results.items())
    lines += ["source", "  " + quantity.source, "example", f"  ashbook calc {quantity.name} {options}"]
    return "\n".join([*lines, f"  {expected} ({example.source})"])


def _row(name: str, text: str) -> str:
    return f"  {name:{WIDTH}}{text}".rstrip()


def _wrapped(title: str, text: str) -> str:
    return textwrap.fill(text, WIDEST, initial_indent=f"    {title:7}", subsequent_indent=" " * 11, break_on_hyphens=False)


def _option(name: str) -> str:
    return name.replace("_", "-")


def _unit(entry: Input) -> str:
    shape = entry.shape.item if isinstance(entry.shape, ListOf) else entry.shape
    return shape.unit if isinstance(shape, Number) else ""


def _short(name: str, given: Input) -> str:
    unit = _unit(given)
    text = name + (f" ({unit})" if unit else "")
    if given.is_needed:
        return text
    return f"[{text}]" if given.default is None else f"[{text} = {_value(given.default, '')}]"


def _value(value: object, unit: str) -> str:
    """A value with its unit; lists in brackets."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "[" + ", ".join(_value(part, "") for part in value) + "]" + (f" {unit}" if unit and value else "")
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name}: {_value(part, '')}" for name, part in value.items()) + "}"
    if isinstance(value, str):
        return shown_text(value)
    return figure(value) + (f" {unit}" if unit else "")


def _quoted(value: object) -> str:
    """An example's value as a shell takes it."""
    if isinstance(value, list):
        plain = [str(part) for part in value]
        is_typed = any(isinstance(part, str | list) for part in value)
        return "'[" + ", ".join(f'"{part}"' for part in plain) + "]'" if is_typed else '"' + " ".join(plain) + '"'
    text = str(value)
    return text if re.fullmatch(r"[\w.+-]+", text) else f'"{text}"'
