"""The table of DEVELOPERS.md that says where each formula comes from and how many figures from outside stand in its tests."""

import re
from pathlib import Path

import pytest

from tests.outside_values import OUTSIDE

ROOT = Path(__file__).parents[2]
SECTION = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("\n## 5. ")[1].split("\n## 6. ")[0]
ROWS = [[cell.strip() for cell in line.strip("|").split("|")] for line in SECTION.splitlines() if line.count("|") == 6][2:]
FIGURE = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?:e-?\d+)?(?!\w)")


def test_the_total_is_the_sum_of_the_topics_and_of_the_command_line():
    total, reached = re.search(r"(\d+) in all\. `tests/outside_values\.py` reaches (\d+) figures", SECTION).groups()
    assert len(ROWS) > 10 and int(total) == sum(int(row[4].split(",")[0]) for row in ROWS)
    assert int(reached) == len(OUTSIDE)


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_a_topic_names_modules_that_are_there_and_a_test_that_holds_so_many_figures(row):
    _topic, source, modules, test, count = row
    assert source and all((ROOT / f"webform/trade/{name}.py").exists() for name in re.findall(r"`(\w+)`", modules))
    text = (ROOT / test.strip("`")).read_text(encoding="utf-8")
    figures = {figure for figure in FIGURE.findall(text) if len(figure) > 1}
    assert len(figures) >= int(count.split(",")[0]), "a figure counted can hardly be one that the test does not hold"


def test_every_module_with_a_formula_from_outside_stands_in_the_table():
    told = {name for row in ROWS for name in re.findall(r"`(\w+)`", row[2])}
    cited = {path.stem for path in (ROOT / "webform/trade").glob("*.py") if "Source:" in path.read_text(encoding="utf-8")}
    assert cited <= told, cited - told
