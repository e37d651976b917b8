"""What a command prints: results to standard output, problems to standard error, and the exit code of each."""

import json
import os
import sys

from .shape import Problem

BAD_INPUT = 2


def say(text: str) -> int:
    """Prints a result; 0, also where the reader has gone away (as `| head` does); 1 where it cannot be written."""
    _prepare(sys.stdout)
    try:
        print(text, flush=True)
    except OSError as trouble:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or Python complains once more at its end
        if not isinstance(trouble, BrokenPipeError):
            print(f"The result cannot be written ({trouble.strerror}).", file=sys.stderr)
            return 1
    return 0


def refuse(problems: list[Problem], is_json: bool = False) -> int:
    """Prints every problem, one to a line; 2."""
    if is_json:
        say(json.dumps({"problems": problems}, ensure_ascii=True, indent=1))
        return BAD_INPUT
    _prepare(sys.stderr)
    for problem in problems:
        where = problem["path"] + ": " if problem["path"] else ""
        allowed = f" Allowed: {problem['allowed']}." if problem["allowed"] else ""
        print(where + problem["what"] + allowed, file=sys.stderr)
    return BAD_INPUT


def one_problem(what: str, path: str = "", allowed: str = "") -> list[Problem]:
    """A list with one problem."""
    return [{"path": path, "what": what, "allowed": allowed}]


def as_json(value: object) -> str:
    """A value as JSON text for people and programs."""
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)


def _prepare(stream: object) -> None:
    """A terminal that lacks a letter (³, °) gets an escape instead of a traceback."""
    if hasattr(stream, "reconfigure"):
        stream.reconfigure(errors="backslashreplace")
