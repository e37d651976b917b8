"""`ashbook judge`: the example, the six worked filters from the keyboard, the arithmetic, every problem at once."""

import copy
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.trade.readings import after, before, good, lit
from tests.worked_cases import FOUND, WORKED
from webform.__main__ import main
from webform.commands.case import CASE, read_case
from webform.commands.judge import example
from webform.trade.judge import judge
from webform.trade.rules import START

ROOT = Path(__file__).parents[1]


def run(*words, given=""):
    """A real process."""
    return subprocess.run(
        [sys.executable, "-m", "webform", "judge", *[str(word) for word in words]],
        cwd=ROOT,
        input=given,
        capture_output=True,
        text=True,
        timeout=60,
    )


def judged(capsys, tmp_path, case, *words):
    """The JSON that one call prints."""
    file = tmp_path / "job.json"
    file.write_text(json.dumps(case))
    assert main(["judge", str(file), "--json", *words]) == 0, capsys.readouterr()
    return json.loads(capsys.readouterr().out)


def refused(capsys, tmp_path, text):
    """The problems of one call as {"path": line}; its exit code is 2."""
    file = tmp_path / "job.json"
    file.write_text(text if isinstance(text, str) else json.dumps(text))
    assert main(["judge", str(file)]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "Traceback" not in said.err
    return {line.split(": ")[0]: line for line in said.err.strip().splitlines()}


def sample():
    return json.loads(example())


def test_the_example_is_complete_and_judges_in_a_real_process(tmp_path):
    done = run("--example")
    assert done.returncode == 0
    file = tmp_path / "job.json"
    file.write_text(done.stdout)
    said = run(file)
    assert said.returncode == 0 and said.stderr == ""
    assert said.stdout.startswith("OK to reinstall") and "Because" in said.stdout
    for piece in (
        "flow plate reads",
        "round 2 (air) took off 220 g",
        "ash came out",
        "next cleaning",
        "last weight after cleaning",
    ):
        assert piece in said.stdout.lower(), piece
    for words in (("-",), ()):
        assert run(*words, given=done.stdout).stdout == said.stdout


def test_the_example_leaves_no_part_of_a_case_out_but_what_excludes_the_rest():
    given = sample()
    case, problems = read_case(given)
    assert problems == []
    assert {name for name in CASE.parts if case[name] in (None, [])} == {"released"}
    assert {name for name in case["brick"] if case["brick"][name] is None} == {"short_m"}
    assert all(case["readings"][test] and case["before"][test] for test in case["readings"])
    verdict = judge(case)
    assert verdict["missing"] == [] and verdict["verdict"] == "ok_to_reinstall"


def test_explain_shows_every_step_in_a_real_process(tmp_path):
    file = tmp_path / "job.json"
    file.write_text(example())
    said = run(file, "--explain")
    assert said.returncode == 0
    for piece in (
        "cell 24 zone 12 free",
        "average, hard cells only",
        "interval to",
        "density",
        "expected today",
        "correction factor",
        "guarded upper end",
        "chance to lie in the window",
        "removed by round 3",
        "2·√2·u",
        "came out / expected",
        "CIPM-2007",
        "OK to reinstall",
    ):
        assert piece in said.stdout, piece


@pytest.mark.parametrize("words", [(), ("--json",), ("--explain",), ("--json", "--explain")])
def test_files_that_cannot_be_read_are_told_in_a_sentence(capsys, tmp_path, words):
    (tmp_path / "latin.json").write_bytes(b'{"stage": "\xe9"}')
    for name, piece in (
        ("none.json", "cannot be read"),
        (".", "cannot be read"),
        ("latin.json", "UTF-8"),
        ("a\0b", "cannot be read"),
    ):
        assert main(["judge", str(tmp_path / name), *words]) == 2
        said = capsys.readouterr()
        assert piece in said.out + said.err and "Traceback" not in said.out + said.err


def test_at_a_terminal_without_a_file_it_says_what_to_give(capsys, monkeypatch):
    terminal = io.StringIO()
    terminal.isatty = lambda: True
    monkeypatch.setattr(sys, "stdin", terminal)
    assert main(["judge"]) == 2
    assert "Give a file" in capsys.readouterr().err


@pytest.mark.parametrize(("name", "case", "verdict", "codes"), WORKED, ids=[row[0] for row in WORKED])
def test_the_worked_filters_say_from_the_keyboard_what_a_good_technician_would(capsys, tmp_path, name, case, verdict, codes):
    found = judged(capsys, tmp_path, case, "--explain")
    assert (found["verdict"], [reason["code"] for reason in found["reasons"]]) == (verdict, codes)
    assert [len(found["texts"][part]) for part in ("reasons", "findings")] == [len(found["reasons"]), len(found["findings"])]
    assert found["arithmetic"]


# --- numbers with units -----------------------------------------------------------------------------------------------


def test_a_number_is_si_or_typed_with_its_unit(capsys, tmp_path):
    plain = before(FOUND)
    typed = copy.deepcopy(plain)
    typed["spec"] = {
        "low": {"n": "1.60", "u": "inH2O"},
        "high": "2.00 inH2O",
        "u_pa": "0.05 inH2O",
        "origin": "invented sheet",
        "revision": "A",
    }
    typed["brick"] = {"depth": {"n": "290", "u": "mm"}}
    typed["readings"]["weight"] = {"mass": {"n": "14480", "u": "g"}, "temperature": "cold", "moisture": "dry"}
    typed["readings"]["flow"] = {"drops": [{"n": "2,75", "u": "inH2O"}], "bench": "good"}
    typed["readings"]["rod"]["cells"] = [{"feel": "soft", "depth": "170 mm"}] * 24
    del typed["rules"], typed["rounds"], typed["before"], typed["released"]
    assert judged(capsys, tmp_path, typed) == judged(capsys, tmp_path, plain)


def test_a_shop_s_own_rules_are_used_and_named(capsys, tmp_path):
    rules = {"revision": "shop-7", "rows": [{"id": "R3", "name": "lit_cells", "value": 30, "origin": "shop"}]}
    found = judged(capsys, tmp_path, after(good(light=lit(25)), rules=rules))
    assert (found["verdict"], found["rules"]) == ("ok_to_reinstall", "shop-7")


def test_a_scale_s_check_and_a_caked_face_can_be_said_in_a_file(capsys, tmp_path):
    case = sample()
    case["readings"]["weight"]["scale"] = "out"
    case["readings"]["rod"] = {"cells": [{"feel": "caked"}] * 24}
    found = judged(capsys, tmp_path, case, "--explain")
    assert "scale_out" in [reason["code"] for reason in found["missing"]]
    assert [reason["code"] for reason in found["reasons"]] == ["face_caked"]


# --- every problem at once -----------------------------------------------------------------------------------------------


def test_every_problem_is_told_at_once_with_path_and_what_is_allowed(capsys, tmp_path):
    case = sample()
    case["stage"] = "aftr"
    case["brik"] = case.pop("brick")
    case["spec"]["low"] = {"n": "1,800", "u": "inH2O"}
    case["spec"]["u"] = 12.5
    case["rounds"][1]["method"] = None
    case["readings"]["weight"]["mass"] = {"n": "13.78", "u": "mm"}
    case["readings"]["rod"]["cells"][3] = {"feel": "hard", "zone": 13, "depth": "12 mm", "depth_m": 0.012}
    case["readings"]["flow"]["check"]["air"]["temperature"] = {"n": "200", "u": "°F"}
    case["readings"]["flow"]["drops"][1] = "much"
    case["readings"]["light"]["count"] = 2.5
    case["before"]["visual"] = {"skipped": "tired"}
    case["use"]["hours"] = -1
    said = refused(capsys, tmp_path, case)
    assert set(said) == {
        "$.stage",
        "$.brik",
        "$.spec.low",
        "$.spec.u",
        "$.rounds[1].method",
        "$.readings.weight.mass",
        "$.readings.rod.cells[3].zone",
        "$.readings.rod.cells[3].depth",
        "$.readings.flow.check.air.temperature",
        "$.readings.flow.drops[1]",
        "$.readings.light.count",
        "$.before.visual.skipped",
        "$.use.hours",
    }
    assert all(" Allowed: " in line for line in said.values())
    assert 'Did you mean "after"?' in said["$.stage"] and "Did you mean brick?" in said["$.brik"]
    assert (
        "two ways" in said["$.spec.low"]
        and "no unit" in said["$.spec.u"]
        and "twice" in said["$.readings.rod.cells[3].depth"]
    )
    assert "kg" in said["$.readings.weight.mass"] and "°F" in said["$.readings.flow.check.air.temperature"]


def test_problems_come_as_json_too(capsys, tmp_path):
    file = tmp_path / "job.json"
    file.write_text("{}")
    assert main(["judge", str(file), "--json"]) == 2
    problems = json.loads(capsys.readouterr().out)["problems"]
    assert [problem["path"] for problem in problems] == ["$.stage", "$.readings"]
    assert all(set(problem) == {"path", "what", "allowed"} for problem in problems)


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"stage": "before"}, "$.before"),
        ({"spec": {"low_pa": 500, "high_pa": 400, "u_pa": 5, "origin": "x", "revision": "A"}}, "$.spec.low_pa"),
        ({"brick": {"shape": "oval", "long": "300 mm"}}, "$.brick.short_m"),
        (
            {"rules": {"revision": "x", "rows": [{"id": "R3", "name": "lit_cells", "origin": "shop"}]}},
            "$.rules.rows[0].value",
        ),
        (
            {"rules": {"revision": "x", "rows": [{"id": "R1", "name": "damage", "value": 3, "origin": "shop"}]}},
            "$.rules.rows[0].value",
        ),
        ({"rules": {"revision": "x", "rows": [{"id": "R1", "name": "luck", "origin": "shop"}]}}, "$.rules.rows[0].name"),
        ({"reference": {"mass": "1 kg", "origin": "\ud800"}}, "$.reference.origin"),
        ({"released": {"person": "\udfff", "reason": "x"}}, "$.released.person"),
        ({"rounds": [{"method": "oven"}] * 31}, "$.rounds"),
        ({"readings": []}, "$.readings"),
        ({"readings": {"light": {"kind": "none", "lit": "over_20"}}}, "$.readings.light.lit"),
        ({"readings": {"light": {"kind": "crack", "count": 3}}}, "$.readings.light.lit"),
        ({"readings": {"light": {"kind": "cells", "lit": "1_5", "count": 34}}}, "$.readings.light.count"),
        (
            {"readings": {"rod": {"full_depth": "290 mm", "cells": [{"feel": "hard", "depth": "300 mm"}]}}},
            "$.readings.rod.cells",
        ),
        ({"readings": {"weight": {"mass": "13 kg", "scale": "fine"}}}, "$.readings.weight.scale"),
        ({"\x1b[2J": 1}, '$["\\u001b[2J"]'),
    ],
)
def test_what_does_not_fit_together_is_refused(capsys, tmp_path, change, path):
    said = refused(capsys, tmp_path, {**sample(), **change})
    assert list(said) == [path]
    assert "\x1b" not in said[path]


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ("[" * 100000, "nested"),
        ('{"stage": NaN}', "NaN"),
        ('{"stage": 1, "stage": 2}', "twice"),
        ("null", "not an object"),
        ("9" * 6000, "JSON"),
        ('"' + "x" * 4_000_001 + '"', "characters"),
        ("\ufeff[]", "not an object"),
    ],
)
def test_what_is_no_job_is_told_in_one_sentence(capsys, tmp_path, text, piece):
    said = refused(capsys, tmp_path, text)
    assert list(said) == ["$"] and piece in said["$"] and len(said["$"]) < 400


def test_the_starting_rules_are_a_table_that_can_be_given(capsys, tmp_path):
    found = judged(capsys, tmp_path, {**sample(), "rules": START})
    assert found["rules"] == START["revision"]
