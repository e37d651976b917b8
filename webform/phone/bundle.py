"""The Python that the phone runs: the same files as the server's, as one dict of names and texts, and their hash.

The phone loads them without docstrings, comments and annotations (`bare`): a third less to fetch and to compile.
"""

import ast
import hashlib
import json
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("webform/trade", "webform/checklist")
SINGLE = ("sync/merge.py",)
# Packages whose own __init__ is the server's business stand empty on the phone.
STUBS = ("webform/__init__.py", "sync/__init__.py")


def shared_files() -> dict[str, str]:
    """File name → text of everything that the phone's interpreter imports."""
    files = dict.fromkeys(STUBS, "")
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).glob("*.py")):
            files[f"{folder}/{path.name}"] = path.read_text(encoding="utf-8")
    for name in SINGLE:
        files[name] = (ROOT / name).read_text(encoding="utf-8")
    return files


def bare(text: str) -> str:
    """The same program without docstrings, comments and annotations of functions."""
    tree = ast.parse(text)
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef) and ast.get_docstring(node) is not None:
            node.body = node.body[1:] or [ast.Pass()]
        if isinstance(node, ast.FunctionDef):
            node.returns = None
            for argument in (*node.args.args, *node.args.kwonlyargs):
                argument.annotation = None
    return ast.unparse(tree) + "\n" if tree.body else ""


def phone_files() -> dict[str, str]:
    """File name → text as the phone loads it."""
    return {name: bare(text) for name, text in shared_files().items()}


@cache
def calculation() -> str:
    """The version of the calculation: sixteen hex digits over all of its files."""
    text = json.dumps(shared_files(), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
