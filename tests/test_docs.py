"""What a reader is told is there is there: addresses, commands, options, settings, and README's examples."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from webform import create_app
from webform.trade.tag_code import read

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = DEVELOPERS[DEVELOPERS.index("## 6. Addresses"):DEVELOPERS.index("## Where things stand")]


def told(words):
    """Everything that stands in code marks, as single words."""
    prose = re.sub(r"```.*?```", "", words, flags=re.DOTALL)
    return {word.strip(",;") for mark in re.findall(r"`([^`\n]+)`", prose) for word in mark.split()}


def helped(*words):
    return subprocess.run([sys.executable, "-m", *words, "--help"], cwd=ROOT, check=True, capture_output=True,
                          text=True).stdout


def own_files():
    """The files of the repository that people write."""
    for folder in ("deploy", "demo", "webform", "sync"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and not {"node_modules", "build", "data", "__pycache__"} & set(path.parts):
                yield path
    yield ROOT / "tests/run"


def test_every_address_is_told(tmp_path):
    app = create_app(tmp_path)
    for rule in app.url_map.iter_rules():
        parts = rule.rule.partition("/report")
        assert parts[0] in told(SECTION) and (not parts[1] or parts[1] + parts[2] in told(SECTION)), rule.rule
    app.extensions["shop"].store.close()


def test_every_command_and_option_is_told():
    commands = re.search(r"\{([\w,]+)\}", helped("webform")).group(1).split(",")
    assert "serve" in commands
    for command in commands:
        assert f"`ashbook {command}`" in SECTION
        for option in re.findall(r"--[\w-]+", helped("webform", command)):
            assert option in {*told(SECTION), "--help"}, (command, option)
    for option in re.findall(r"--[\w-]+", helped("demo.start")):
        assert option in {*told(README), "--help"}, option
    for option in re.findall(r"^ +(--[\w-]+)\)", (ROOT / "deploy/install").read_text(), re.MULTILINE):
        assert option in told(SECTION), option


def test_no_command_or_option_is_told_that_is_not_there():
    commands = ("serve", "code", "password", "backup", "restore", "verify", "judge", "calc")
    known = helped("demo.start") + "".join(helped("webform", command) for command in commands)
    known += (ROOT / "deploy/install").read_text() + (ROOT / "tests/run").read_text()
    for option in {word for word in told(README) | told(SECTION) if word.startswith("--")}:
        assert re.search(re.escape(option) + r"\b", known), option
    for path in {word for word in told(README) if word.startswith("./")}:
        assert os.access(ROOT / path, os.X_OK), path


def test_every_setting_is_told_and_no_other():
    used = {name for path in own_files() if path.suffix not in (".png", ".svg")
            for name in re.findall(r"\bASHBOOK_[A-Z_]+\b", path.read_text(encoding="utf-8"))}
    assert len(used) > 8
    assert used == {word for word in told(SECTION) if word.startswith("ASHBOOK_")}


def test_every_file_that_a_document_names_is_there():
    for document in (README, DEVELOPERS):
        named = {word for word in told(document)
                 if re.fullmatch(r"(?:webform|sync|tests|demo|deploy)/[\w./-]+[\w/]", word)}
        for name in named:
            assert (ROOT / name).exists(), name


def test_the_examples_of_the_readme_are_two_commands_that_run():
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    commands = [line.split("#")[0].split() for block in blocks for line in block.splitlines() if line.strip()]
    assert commands == [["./demo/start"], ["./tests/run"]]
    for (command,) in commands:  # what they do is tests/test_commands.py's and this run's own business
        subprocess.run(["bash", "-n", command], cwd=ROOT, check=True)
    assert read(re.search(r"type `([0-9A-Z]{9})`", README).group(1))["ok"]


def test_install_says_what_it_would_do_and_does_nothing(tmp_path):
    done = subprocess.run([ROOT / "deploy/install", "--dry-run", "--prefix", tmp_path / "machine"], check=True,
                          capture_output=True, text=True)
    assert "Nothing was done" in done.stdout and "would run" in done.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("words", "sentence"), [
    (("--nmae", "x"), "Unknown option --nmae"),
    (("--name",), "--name needs a value"),
    (("--name", "two words"), "is not a host name"),
    (("--name", "a;reboot"), "is not a host name"),
    (("--certificate", "/nowhere.pem"), "belong together"),
    (("--prefix", "/proc/nowhere"), "cannot be made"),
])
def test_install_refuses_in_a_sentence(words, sentence):
    done = subprocess.run([ROOT / "deploy/install", *words], capture_output=True, text=True)
    assert done.returncode == 1 and sentence in done.stderr and "line " not in done.stderr
