"""`ashbook calc`: lists every single quantity of the calculation, and computes one from named inputs."""

import difflib
import re
import sys

from .output import as_json, one_problem, refuse, say
from .quantities import QUANTITIES, TOPICS
from .quantities.quantity import Input, Quantity
from .shape import ListOf, Number, Problem, YesNo, read
from .typed import figure, is_finite, parsed, shown, shown_text

PLAIN_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
YES = {"true": True, "yes": True, "false": False, "no": False}
WIDTH = 22


def run(words: list[str]) -> int:
    """The exit code of one call; words: what stands after `calc`."""
    problems: list[Problem] = []
    names, options = _split(words, problems)
    out = options.pop("out", "text")
    is_json = out == "json"
    if out not in ("text", "json"):
        problems += one_problem(f"{shown(out)} is no form of output.", "--out", "text, json")
    if not names:
        for name in options:
            problems += one_problem(
                "There is no quantity named before this.", "--" + name, "ashbook calc NAME --" + shown_text(name) + " ..."
            )
        return refuse(problems, is_json) if problems else say(as_json(listed()) if is_json else listing())
    if len(names) > 1:
        problems += one_problem(f"{shown(names[1])} is one word too many.", "", "one name and options")
    quantity = QUANTITIES.get(names[0])
    if quantity is None:
        near = difflib.get_close_matches(names[0], list(QUANTITIES), 1)
        hint = f" Did you mean {near[0]}?" if near else ""
        return refuse(
            problems
            + one_problem(f"There is no quantity {shown(names[0])}.{hint}", "", "the names that `ashbook calc` lists"),
            is_json,
        )
    if "help" in options:
        return say(usage(quantity))
    given = _inputs(quantity, options, problems)
    before = len(problems)
    inputs = read(quantity.shape, given, "", problems)
    # what could not even be read is not missing too
    problems = problems[:before] + [
        entry for entry in problems[before:] if entry["path"] not in {old["path"] for old in problems[:before]}
    ]
    if problems or not isinstance(inputs, dict):
        return refuse(problems, is_json)
    results, problem = computed(quantity, inputs)
    if results is None:
        return refuse(one_problem(problem, "", ""), is_json)
    return say(as_json(answer(quantity, inputs, results)) if is_json else shown_answer(quantity, inputs, results))


def computed(quantity: Quantity, inputs: dict[str, object]) -> tuple[dict[str, object] | None, str]:
    """(results, "") or (None, a sentence that says why there are none)."""
    try:
        results = quantity.compute(inputs)
    except ValueError as trouble:
        return None, str(trouble)[:1].upper() + str(trouble)[1:] + "."
    except (ArithmeticError, RecursionError):
        return None, "These figures together go beyond what can be computed."
    if results is None:
        return None, "These figures do not go together: no brick, air or bench has all of them at once."
    return (results, "") if is_finite(results) else (None, "These figures together give no finite result.")


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
        text = "not given" if value is None else _value(value, _unit(quantity.inputs[name]))
        lines.append(f"  {name:{WIDTH}}{text}")
    lines.append("result" if len(results) == 1 else "results")
    lines += [
        f"  {name:{WIDTH}}{'none' if value is None else _value(value, quantity.results[name])}"
        for name, value in results.items()
    ]
    return "\n".join([*lines, "source", f"  {quantity.source}"])


def listing() -> str:
    """Every quantity by topic, with inputs, units and source."""
    lines = [
        "Single quantities of the calculation. `ashbook calc NAME --help` tells one; values may carry a unit, as in "
        '--pressure "1013.25 mbar".'
    ]
    for topic, entries in TOPICS:
        lines += ["", topic.upper()]
        for entry in entries:
            lines += [
                f"{entry.name}: {entry.title}",
                "    from   " + ", ".join(_short(name, given) for name, given in entry.inputs.items()),
                "    gives  " + ", ".join(name + (f" ({unit})" if unit else "") for name, unit in entry.results.items()),
                "    source " + entry.source,
            ]
    return "\n".join(lines)


def listed() -> dict[str, object]:
    """The same for programs."""
    return {
        "topics": [
            {
                "topic": topic,
                "quantities": [
                    {
                        "name": entry.name,
                        "title": entry.title,
                        "source": entry.source,
                        "results": entry.results,
                        "inputs": {
                            name: {
                                "unit": _unit(given),
                                "words": given.words,
                                "allowed": given.shape.allowed(),
                                "is_needed": given.is_needed,
                                "default": given.default,
                            }
                            for name, given in entry.inputs.items()
                        },
                        "example": {
                            "inputs": entry.example.inputs,
                            "results": entry.example.results,
                            "source": entry.example.source,
                        },
                    }
                    for entry in entries
                ],
            }
            for topic, entries in TOPICS
        ]
    }


def usage(quantity: Quantity) -> str:
    """One quantity for people: every input with its range, and an example whose result can be looked up."""
    lines = [f"{quantity.title} ({quantity.name})", "inputs"]
    for name, given in quantity.inputs.items():
        usual = (
            ""
            if given.is_needed
            else " May be left out" + ("." if given.default is None else f": {_value(given.default, _unit(given))}.")
        )
        lines.append(f"  --{name.replace('_', '-'):{WIDTH}}{given.words}; {given.shape.allowed()}.{usual}")
    lines.append("results")
    lines += [f"  {name:{WIDTH + 2}}{unit}" for name, unit in quantity.results.items()]
    options = " ".join(f"--{name.replace('_', '-')} {_quoted(value)}" for name, value in quantity.example.inputs.items())
    expected = ", ".join(
        f"{name} {_value(value, quantity.results[name])}" for name, value in quantity.example.results.items()
    )
    return "\n".join(
        [
            *lines,
            "source",
            "  " + quantity.source,
            "example",
            f"  ashbook calc {quantity.name} {options}",
            f"  {expected} ({quantity.example.source})",
        ]
    )


def _split(words: list[str], problems: list[Problem]) -> tuple[list[str], dict[str, str]]:
    """Names and options: --name value or --name=value."""
    names: list[str] = []
    options: dict[str, str] = {}
    left = list(words)
    while left:
        word = left.pop(0)
        if not word.startswith("--"):
            names.append(word)
            continue
        name, is_joined, value = word[2:].partition("=")
        name = name.replace("-", "_")
        if name == "help":
            value = "yes"
        elif not is_joined:
            if not left:
                problems += one_problem("This option has no value.", "--" + shown_text(name))
                continue
            value = left.pop(0)
        if name in options:
            problems += one_problem("This is given twice.", "--" + shown_text(name), "each input once")
        options[name] = value
    return names, options


def _inputs(quantity: Quantity, options: dict[str, str], problems: list[Problem]) -> dict[str, object]:
    """The inputs as JSON: those of --json, and one for each option."""
    given: dict[str, object] = {}
    text = options.pop("json", None)
    if text is not None:
        value, what = parsed(sys.stdin.read() if text == "-" else text)
        if what or not isinstance(value, dict):
            problems += one_problem(
                what or f"{shown(value)} is not an object.", "--json", 'an object such as {"temperature": 293.15}'
            )
        else:
            given.update(value)
    for name, typed in options.items():
        if name in given:
            problems += one_problem("This is given twice, in --json and as an option.", name, "each input once")
        entry = quantity.inputs.get(name)
        given[name] = typed if entry is None else _typed(entry, typed)
    return given


def _typed(entry: Input, text: str) -> object:
    """What the text of an option means for that input."""
    if isinstance(entry.shape, YesNo):
        return YES.get(text.lower(), text)
    if isinstance(entry.shape, Number):
        return _number(text)
    if isinstance(entry.shape, ListOf):
        if text.lstrip().startswith("["):
            value, what = parsed(text)
            return text if what else value
        pieces = [piece.strip(",") for piece in text.replace(";", " ").split()]
        if len(pieces) > 1 and not any(char.isdigit() for char in pieces[-1]):
            return [f"{piece} {pieces[-1]}" for piece in pieces[:-1]]
        return [_number(piece) for piece in pieces]
    return text


def _number(text: str) -> object:
    return float(text) if PLAIN_NUMBER.fullmatch(text.strip()) else text


def _unit(entry: Input) -> str:
    shape = entry.shape.item if isinstance(entry.shape, ListOf) else entry.shape
    return shape.unit if isinstance(shape, Number) else ""


def _short(name: str, given: Input) -> str:
    unit = _unit(given)
    text = name + (f" ({unit})" if unit else "")
    if given.is_needed:
        return text
    return f"[{text}]" if given.default is None else f"[{text} = {figure(given.default)}]"


def _value(value: object, unit: str) -> str:
    """A value with its unit; lists in brackets."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(part, "") for part in value) + "]" + (f" {unit}" if unit and value else "")
    if isinstance(value, dict):
        return "{" + ", ".join(f"{name}: {_value(part, '')}" for name, part in value.items()) + "}"
    text = shown_text(value) if isinstance(value, str) else figure(value)
    return f"{text} {unit}" if unit and not isinstance(value, str) else text


def _quoted(value: object) -> str:
    if isinstance(value, list):
        return (
            '"' + " ".join(str(part) for part in value) + '"'
            if not any(isinstance(part, str) for part in value)
            else "'" + as_list(value) + "'"
        )
    text = str(value).lower() if isinstance(value, bool) else str(value)
    return text if re.fullmatch(r"[\w.+-]+", text) else f'"{text}"'


def as_list(value: list[object]) -> str:
    """A list as JSON in one line."""
    return "[" + ", ".join(f'"{part}"' if isinstance(part, str) else str(part) for part in value) + "]"
