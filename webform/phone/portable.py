"""The style gate: what may not stand in Python that runs both on the server (CPython) and on the phone (MicroPython).

problems(path) lists every construct that one of the two lacks, or that they do differently without saying so: sums and
roundings, number formats, sorts that lean on stability, the order of dicts and sets, the C library's functions.
`python -m webform.phone.portable FILE...` prints them and answers 1 when there are any. What a reader has checked by
hand may carry the comment "portable: reason" on its line.
"""

import ast
import sys
from pathlib import Path

MODULES = {"math", "json", "hashlib", "collections", "re"}
MATH = {"sqrt", "floor", "ceil", "fabs", "trunc", "pi", "inf", "nan", "isnan", "isinf", "isfinite"}
NAMES = {
    "sum": "sum() is compensated in newer versions only: add in a loop",
    "round": "round() treats ties differently: use figures.quantise",
    "format": "formats differ: use figures.fixed",
    "pow": "pow() goes through the C library",
    "hash": "hash() differs", "id": "id() differs", "vars": "there is no vars()", "repr": "repr() of floats differs",
    "eval": "no eval", "exec": "no exec", "__import__": "no hidden imports", "getattr": "no hidden names",
    "globals": "no hidden names", "locals": "no hidden names", "ascii": "there is no ascii()",
    "complex": "no complex numbers", "print": "nothing here prints", "open": "nothing here reads files",
}
METHODS = {
    "sort": "list.sort is not stable there: use sorted() over full keys", "format": "formats differ: use figures.fixed",
    "format_map": "formats differ", "items": "the order of a dict is not kept: go through sorted(d)",
    "keys": "the order of a dict is not kept: go through sorted(d)",
    "values": "the order of a dict is not kept: go through sorted(d)", "popitem": "the order of a dict is not kept",
    "zfill": "missing there", "ljust": "missing there", "rjust": "missing there", "title": "missing there",
    "capitalize": "missing there", "casefold": "missing there", "swapcase": "missing there",
    "expandtabs": "missing there", "removeprefix": "missing there", "removesuffix": "missing there",
    "translate": "missing there", "_asdict": "missing there", "_replace": "missing there",
    "bit_length": "missing there", "is_integer": "missing there", "as_integer_ratio": "missing there",
    "hexdigest": "missing there: write the digits out", "hex": "formats differ",
    "upper": "differs beyond ASCII", "lower": "differs beyond ASCII", "isdigit": "differs beyond ASCII",
    "isalpha": "differs beyond ASCII", "isspace": "differs beyond ASCII", "isupper": "differs beyond ASCII",
    "islower": "differs beyond ASCII", "isnumeric": "missing there", "isdecimal": "missing there",
    "isalnum": "missing there", "isidentifier": "missing there",
}
BLANK_CALLS = {
    "strip": "strip() without characters differs beyond ASCII",
    "split": "split() without a separator differs beyond ASCII",
    "lstrip": "lstrip() without characters differs", "rstrip": "rstrip() without characters differs",
}
MARK = "# portable: "


def problems(path: str | Path) -> list[str]:
    """One line of text for each construct that may not stand in this file: "path:line: what"."""
    text = Path(path).read_text(encoding="utf-8")
    return [f"{path}:{line}: {what}" for line, what in problems_in(text)]


def problems_in(text: str) -> list[tuple[int, str]]:
    """(line, what) for each construct of this source text that may not stand, in the order of lines."""
    lines = text.split("\n")
    tree = ast.parse(text)
    allowed = _places_where_order_is_safe(tree)
    found: list[tuple[int, str]] = []
    for node in ast.walk(tree):
        for what in _of_node(node, allowed):
            line = int(getattr(node, "lineno", 0))
            if MARK not in lines[line - 1]:
                found.append((line, what))
    return sorted(found)


def _places_where_order_is_safe(tree: ast.AST) -> set[int]:
    """The ids of set displays and dict views whose order cannot show: inside sorted() or len(), or beside "in"."""
    safe: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and not node.keywords:
            if node.func.id in ("sorted", "len", "min", "max"):
                safe |= {id(part) for argument in node.args for part in (argument, getattr(argument, "func", argument))}
        if isinstance(node, ast.Compare):
            safe |= {id(right) for operator, right in zip(node.ops, node.comparators, strict=True)
                     if isinstance(operator, ast.In | ast.NotIn)}
    return safe


def _of_node(node: ast.AST, safe: set[int]) -> list[str]:
    if isinstance(node, ast.Import | ast.ImportFrom):
        return _of_import(node)
    if isinstance(node, ast.Call):
        return _of_call(node, safe)
    if isinstance(node, ast.Name):
        return [NAMES[node.id]] if node.id in NAMES and isinstance(node.ctx, ast.Load) else []
    if isinstance(node, ast.Attribute):
        is_math = isinstance(node.value, ast.Name) and node.value.id == "math"
        is_wrong = is_math and node.attr not in MATH
        return ["math." + node.attr + " differs between processors or is missing"] if is_wrong else []
    if isinstance(node, ast.BinOp | ast.AugAssign):
        return _of_operator(node)
    if isinstance(node, ast.Set | ast.SetComp) and id(node) not in safe:
        return ["the order of a set is not kept"]
    return _of_syntax(node)


def _of_import(node: ast.Import | ast.ImportFrom) -> list[str]:
    if isinstance(node, ast.ImportFrom):
        if node.level or (node.module or "").split(".")[0] in ("sync", "webform"):
            return []
        if node.module == "math":
            wrong = [alias.name for alias in node.names if alias.name not in MATH]
            return ["math." + name + " differs between processors or is missing" for name in wrong]
        names = [node.module or ""]
    else:
        names = [alias.name for alias in node.names]
        if any(alias.asname and alias.name == "math" for alias in node.names):
            return ["call the module math by its name"]
    return ["import of " + name for name in names if name not in MODULES]


def _of_call(node: ast.Call, safe: set[int]) -> list[str]:
    found = ["**keywords: their order is not kept"] if any(entry.arg is None for entry in node.keywords) else []
    function = node.func
    names = {entry.arg for entry in node.keywords}
    if isinstance(function, ast.Name):
        if function.id == "sorted" and "key" in names:
            found.append("sorted() with a key is not stable there: the key must break every tie")
        if function.id in ("set", "frozenset") and id(node) not in safe:
            found.append("the order of a set is not kept")
        if function.id == "isinstance" and len(node.args) == 2 and _holds_name(node.args[1], "int"):
            found.append("isinstance(True, int) is False there: use type(x) is int")
        if function.id == "zip" and names:
            found.append("zip() takes no keywords there")
    elif isinstance(function, ast.Attribute):
        if function.attr in METHODS and id(node) not in safe:
            found.append("." + function.attr + "(): " + METHODS[function.attr])
        if function.attr in BLANK_CALLS and not node.args:
            found.append(BLANK_CALLS[function.attr])
        if function.attr in ("dumps", "dump") and (names - {"separators"}):
            found.append("json.dumps() knows only separators there")
    return found


def _of_operator(node: ast.BinOp | ast.AugAssign) -> list[str]:
    if isinstance(node.op, ast.Pow):
        return ["** goes through the C library"]
    left = node.left if isinstance(node, ast.BinOp) else None
    if isinstance(node.op, ast.Mod) and isinstance(left, ast.Constant | ast.JoinedStr):
        if isinstance(left, ast.JoinedStr) or isinstance(left.value, str | bytes):
            return ["formats differ: use figures.fixed"]
    return []


def _of_syntax(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Match):
        return ["there is no match statement"]
    if isinstance(node, ast.Dict) and None in node.keys:
        return ["there is no {**d}"]
    if isinstance(node, ast.List | ast.Tuple) and isinstance(node.ctx, ast.Load):
        return ["there is no [*a]"] if any(isinstance(part, ast.Starred) for part in node.elts) else []
    if isinstance(node, ast.Slice) and node.step is not None:
        return ["there are no slice steps"]
    if isinstance(node, ast.FormattedValue) and (node.format_spec is not None or node.conversion != -1):
        return ["formats differ: use figures.fixed"]
    if isinstance(node, ast.arguments) and node.posonlyargs:
        return ["there are no positional-only arguments"]
    if isinstance(node, ast.AsyncFunctionDef | ast.AsyncFor | ast.AsyncWith | ast.Await):
        return ["nothing here is asynchronous"]
    if isinstance(node, ast.Constant) and isinstance(node.value, complex):
        return ["no complex numbers"]
    return []


def _holds_name(node: ast.AST, name: str) -> bool:
    return any(isinstance(part, ast.Name) and part.id == name for part in ast.walk(node))


def main(paths: list[str]) -> int:
    """Prints every problem; 0 when there is none."""
    found = [problem for path in paths for problem in problems(path)]
    for problem in found:
        print(problem)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
