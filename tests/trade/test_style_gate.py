"""The gate that keeps the shared Python portable: it passes what is there and refuses each planted construct."""

from pathlib import Path

import pytest

from webform.phone.portable import main, problems, problems_in

ROOT = Path(__file__).resolve().parents[2]
SHARED = sorted([*ROOT.glob("webform/trade/*.py"), *ROOT.glob("webform/checklist/*.py"), ROOT / "sync/merge.py"])


@pytest.mark.parametrize("path", SHARED, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_shared_python_is_portable(path):
    assert problems(path) == []


def test_a_built_in_sum_planted_in_the_calculation_is_refused(tmp_path):
    source = (ROOT / "webform/trade/figures.py").read_text(encoding="utf-8")
    planted = source.replace("return total(xs) / len(xs)", "return sum(xs) / len(xs)")
    assert planted != source
    path = tmp_path / "figures.py"
    path.write_text(planted, encoding="utf-8")
    found = problems(path)
    assert len(found) == 1 and "sum()" in found[0]
    assert main([str(path)]) == 1
    assert main([str(ROOT / "webform/trade/figures.py")]) == 0


@pytest.mark.parametrize("source", [
    "add = sum", "x = [sum][0]([1.0])", "x = round(a, 2)", "x = round(a)", "x = a ** 2", "a **= 2", "x = pow(a, 2)",
    "x = f'{a:.2f}'", "x = f'{a!r}'", "x = '%.2f' % a", "x = '{}'.format(a)", "x = format(a, '.2f')", "xs.sort()",
    "x = sorted(xs, key=f)", "for k in d.items(): pass", "for k in d.values(): pass", "xs = list(d.keys())",
    "for x in {1, 2}: pass", "xs = list(set(ys))", "import typing", "from dataclasses import dataclass", "import enum",
    "from __future__ import annotations", "import statistics", "import os", "import math as m",
    "from math import exp", "x = math.exp(1)", "x = math.fsum(a)", "x = math.log10(a)", "x = [*a]", "x = {**a}",
    "f(**a)", "x = a[::2]", "def f(a, /): pass", "match a:\n    case 1: pass", "x = a.upper()", "x = a.zfill(3)",
    "x = a.strip()", "x = a.split()", "x = isinstance(a, int)", "x = isinstance(a, (int, float))",
    "x = json.dumps(a, sort_keys=True)", "x = repr(a)", "x = hash(a)", "x = zip(a, b, strict=True)", "x = 1j",
    "x = a.hexdigest()", "async def f(): pass", "x = __import__('os')", "x = getattr(math, 'exp')(1)",
])
def test_each_construct_that_differs_is_refused(source):
    assert problems_in(source)


@pytest.mark.parametrize("source", [
    "import math\nx = math.sqrt(2.0)", "from .figures import mean", "x = f'{a} and {b}'", "xs = sorted(ys)",
    "for k in sorted(d): pass", "for k in sorted(d.items()): pass", "x = a in {1, 2}", "x = len(set(a))", "x = a[1:]",
    "x = a.strip(' ')", "x = a.split(',')", "x = type(a) is int", "x = isinstance(a, str)", "x = json.dumps(a)",
    "x = a % 97", "def f(*args, key=None): return args", "x = sorted(xs, key=f)  # portable: f breaks every tie",
])
def test_what_is_the_same_everywhere_passes(source):
    assert problems_in(source) == []
