"""Whoever checks a formula finds its source where the formula stands; what has none says so."""

import ast
from pathlib import Path

import pytest

from webform.commands.quantities import NO_QUANTITIES, QUANTITIES

TRADE = Path(__file__).parents[2] / "webform/trade"
ARITHMETIC = [name for reason, names in NO_QUANTITIES.items() if reason.startswith("elementary") for name in names]
WRITTEN = {"figures.fixed", "figures.trimmed", "figures.quantise", "figures.reading"}  # texts and rounding: no formula
FORMULAS = sorted({name for entry in QUANTITIES.values() for name in entry.of} | {*ARITHMETIC} - WRITTEN)


def docstring(name):
    module, _, function = name.partition(".")
    found = [node for node in ast.parse((TRADE / f"{module}.py").read_text(encoding="utf-8")).body
             if isinstance(node, ast.FunctionDef) and node.name == function]
    return ast.get_docstring(found[0]) or ""


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_says_where_it_comes_from(name):
    before, mark, source = docstring(name).partition("Source:")
    assert before and mark and len(source.split()) > 1, f"{name} does not say its source"
