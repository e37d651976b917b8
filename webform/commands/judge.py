"""`ashbook judge`: the verdict of a JSON job, with its sentences, and the arithmetic behind it on request."""

import sys
from importlib.resources import files
from pathlib import Path

from ..trade.judge import judge
from ..trade.words import PARTS, sentences
from ..words import catalogue
from .case import read_case
from .explain import explain
from .explain.lines import as_text
from .output import as_json, one_problem, refuse, say
from .typed import LONGEST_TEXT, parsed, shown_text

TITLES = {"reasons": "Because", "findings": "Also found", "missing": "Missing or in doubt", "settle": "What would settle it"}
ORIGINS = {
    "common_practice": "common practice",
    "flow_spec": "flow spec",
    "own_numbers": "own numbers",
    "shop": "set by this shop",
    "start": "starting value",
}


def example() -> str:
    """A complete job that itself judges, with before and after readings; invented."""
    return files(__package__).joinpath("example.json").read_text(encoding="utf-8")


def run(file: str | None, is_json: bool, is_explained: bool, is_example: bool) -> int:
    """The exit code of one call."""
    if is_example:
        return say(example().rstrip("\n"))
    text, trouble = _text(file)
    given, what = (None, trouble) if trouble else parsed(text)
    if what:
        return refuse(one_problem(what, "" if trouble else "$", "a job as `ashbook judge --example` prints it"), is_json)
    case, problems = read_case(given)
    if case is None:
        return refuse(problems, is_json)
    verdict = judge(case)
    lines = explain(case, verdict) if is_explained else []
    if is_json:
        words = catalogue()
        verdict = {**verdict, "text": words["verdict." + str(verdict["verdict"])], "texts": sentences(verdict, words)}
        return say(as_json(verdict | ({"arithmetic": [vars(line) for line in lines]} if is_explained else {})))
    return say(as_text(lines) + "\n\n" + told(verdict) if is_explained else told(verdict))


def told(verdict: dict[str, object]) -> str:
    """The verdict for people: its name, then every sentence with its rule and where that comes from."""
    words = catalogue()
    texts = sentences(verdict, words)
    name = words["verdict." + str(verdict["verdict"])]
    lines = [
        f"{name}{' (close to the limit)' if verdict['close'] else ''}, by the rules of {shown_text(str(verdict['rules']))}"
    ]
    for part in PARTS:
        reasons = verdict[part]
        if not texts[part] or not isinstance(reasons, list):
            continue
        lines += ["", TITLES[part]]
        for text, reason in zip(texts[part], reasons, strict=True):
            origin = ORIGINS.get(str(reason["origin"]), str(reason["origin"]))
            lines.append(f"  - {text} [{reason['rule']}, {origin}]")
    return "\n".join(lines)


def _text(file: str | None) -> tuple[str, str]:
    """(the text, "") of a file or of standard input, or ("", a sentence)."""
    if file is None and sys.stdin.isatty():
        return "", "Give a file, or - for standard input."
    name = "Standard input" if file in (None, "-") else str(file)
    most = 4 * LONGEST_TEXT  # bytes of so many characters; what has no end is not read to its end
    try:
        if file in (None, "-"):
            raw = sys.stdin.buffer.read(most + 1)
        else:
            with Path(str(file)).open("rb") as stream:
                raw = stream.read(most + 1)
        if len(raw) > most:
            return "", f"{shown_text(name)} is longer than any job: more than {most} bytes."
        return raw.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return "", f"{shown_text(name)} is not text in UTF-8."
    except (OSError, ValueError) as trouble:
        reason = trouble.strerror if isinstance(trouble, OSError) else str(trouble)
        return "", f"{shown_text(name)} cannot be read ({reason})."
