"""Who may import whom, read from the sources, lazy imports too."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# folder: what its files may import of ours
ALLOWED = {
    "webform/trade": ("webform.trade",),
    "webform/checklist": ("webform.trade", "webform.checklist", "sync.merge"),
    "sync": ("sync",),
}


def imports_of(path):
    package = path.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join([*package[:len(package) - node.level + 1], *([node.module] if node.module else [])]) \
                if node.level else node.module
            yield from (f"{base}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("folder", sorted(ALLOWED))
def test_imports_go_one_way_only(folder):
    files = sorted((ROOT / folder).glob("*.py"))
    assert files
    for path in files:
        for name in imports_of(path):
            if name.split(".")[0] in ("webform", "sync", "demo", "tests"):
                assert name.startswith(ALLOWED[folder]), f"{path.name} imports {name}"


def test_only_the_command_and_the_demo_build_the_app():
    for path in sorted((ROOT / "webform").rglob("*.py")):
        if "node_modules" not in path.parts and path.name != "__main__.py":
            assert "webform.create_app" not in list(imports_of(path)), path
