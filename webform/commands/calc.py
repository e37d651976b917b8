"""`ashbook calc`: lists every single quantity of the calculation, and computes one from named inputs."""

import difflib
import re
import sys

from .output import as_json, one_problem, refuse, say
from .quantities import QUANTITIES
from .quantities.quantity import Input, Quantity, Refused
from .shape import ListOf, Number, Problem, YesNo, read
from .told import answer, listed, listing, shown_answer, usage
from .typed import LONGEST_TEXT, is_finite, parsed, shown, shown_text

PLAIN_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
LARGEST_WHOLE = 1e15
YES = {"true": True, "yes": True, "false": False, "no": False}
OWN_OPTIONS = ("json", "out", "help")
EXAMPLE = 'an object such as {"temperature": 293.15}'


def run(words: list[str]) -> int:
    """The exit code of one call; words: what stands after `calc`."""
    problems: list[Problem] = []
    names, options = _split(words, problems)
    out = options.pop("out", "text")
    is_json = out == "json"
    if out not in ("text", "json"):
        problems += one_problem(f"{shown(out)} is no form of output.", "--out", "text or json")
    quantity = _named(names, options, problems)
    if quantity is None:
        if problems or names:
            return refuse(problems, is_json)
        return say(as_json(listed()) if is_json else listing())
    if "help" in options:
        return say(usage(quantity))
    given = _inputs(quantity, options, problems)
    seen = {problem["path"] for problem in problems}
    found: list[Problem] = []
    inputs = read(quantity.shape, given, "", found)
    problems += [problem for problem in found if problem["path"] not in seen]  # what could not be read is not missing too
    if problems or not isinstance(inputs, dict):
        return refuse(problems, is_json)
    results, problem = computed(quantity, inputs)
    if results is None:
        return refuse(one_problem(problem), is_json)
    return say(as_json(answer(quantity, inputs, results)) if is_json else shown_answer(quantity, inputs, results))


def computed(quantity: Quantity, inputs: dict[str, object]) -> tuple[dict[str, object] | None, str]:
    """(results, "") or (None, a sentence that says why there are none)."""
    try:
        results = quantity.compute(inputs)
    except Refused as refused:
        return None, str(refused)
    except (ArithmeticError, ValueError):
        return None, "These figures together go beyond what can be computed."
    if results is None:
        return None, "These figures do not go together: no brick, air or bench has all of them at once."
    return (results, "") if is_finite(results) else (None, "These figures together give no finite result.")


def _split(words: list[str], problems: list[Problem]) -> tuple[list[str], dict[str, str]]:
    """Names and options: --name value or --name=value."""
    names: list[str] = []
    options: dict[str, str] = {}
    left = list(words)
    while left:
        word = left.pop(0)
        word = "--help" if word == "-h" else word
        if not word.startswith("--"):
            names.append(word)
            continue
        name, is_joined, value = word[2:].partition("=")
        name = name.replace("-", "_")
        where = "--" + name if name in OWN_OPTIONS else shown_text(name)
        if name == "help":
            value = "yes"
        elif not is_joined:
            if not left:
                problems += one_problem("This option has no value.", where)
                continue
            value = left.pop(0)
        if name in options:
            problems += one_problem("This is given twice.", where, "each once")
        options[name] = value
    return names, options


def _named(names: list[str], options: dict[str, str], problems: list[Problem]) -> Quantity | None:
    """The quantity that is asked for; None, with a problem where there should be one."""
    if not names:
        for name in options:
            problems += one_problem(
                "No quantity is named before this.", "--" + shown_text(name), "ashbook calc NAME and options"
            )
        return None
    for name in names[1:]:
        problems += one_problem(f"{shown(name)} is one word too many.", "", "one name, then options")
    if names[0] in QUANTITIES:
        return QUANTITIES[names[0]]
    near = difflib.get_close_matches(names[0], list(QUANTITIES), 1)
    hint = f" Did you mean {near[0]}?" if near else ""
    problems += one_problem(f"There is no quantity {shown(names[0])}.{hint}", "", "a name that `ashbook calc` lists")
    return None


def _inputs(quantity: Quantity, options: dict[str, str], problems: list[Problem]) -> dict[str, object]:
    """The inputs as JSON: those of --json, and one for each option."""
    given: dict[str, object] = {}
    text = options.pop("json", None)
    if text is not None:
        text = sys.stdin.read(LONGEST_TEXT + 1).removeprefix("\ufeff") if text == "-" else text
        value, what = parsed(text)
        if isinstance(value, dict):
            given.update(value)
        else:
            problems += one_problem(what or f"{shown(value)} is not an object.", "--json", EXAMPLE)
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
    """A plain number as JSON would write it; every other text is left to be read with its unit."""
    if not PLAIN_NUMBER.fullmatch(text.strip()):
        return text
    value = float(text)
    return int(value) if abs(value) < LARGEST_WHOLE and value == int(value) else value
