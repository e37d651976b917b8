"""`ashbook judge` with whatever may come: every allowed case has a verdict in finite figures, garbage never a traceback."""

import io
import json
import math
import sys
import time

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.shapes import GARBAGE, values_of
from tests.test_judge_command import sample
from webform.__main__ import main
from webform.commands.case import CASE, READINGS, read_case
from webform.commands.explain import explain
from webform.commands.explain.lines import as_text
from webform.commands.judge import told
from webform.commands.shape import read
from webform.trade.judge import judge


def fitting(case):
    """The same case where single parts that allowed values may still get wrong are left out."""
    kept = {name: part for name, part in case.items() if name != "rules"}
    if kept["stage"] == "before":
        kept.pop("before", None)
    kept = without_misfits(kept, CASE, ("brick", "spec"))
    for stage in {"readings", "before"} & set(kept):
        kept[stage] = without_misfits(kept[stage], READINGS, ("rod", "light"))
    return kept


def without_misfits(parts, shape, names):
    """The parts without those of these names whose figures do not go together."""
    return {name: part for name, part in parts.items()
            if name not in names or read(shape.parts[name].shape, part, "$", problems := []) is None or not problems}


@settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(values_of(CASE).map(fitting))
def test_every_case_that_is_allowed_is_judged_and_explained_in_finite_figures(given_case):
    case, problems = read_case(given_case)
    assert problems == []
    verdict = judge(case)
    lines = explain(case, verdict)
    assert all(isinstance(line.value, str) or math.isfinite(line.value) for line in lines)
    assert told(verdict) and as_text(lines)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(garbage=GARBAGE | st.dictionaries(st.sampled_from(sorted(CASE.parts)), GARBAGE, max_size=5), is_json=st.booleans())
def test_garbage_is_refused_and_never_gives_a_traceback(capsys, monkeypatch, garbage, is_json):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps(garbage).encode())))
    assert main(["judge", "-", *(["--json"] if is_json else [])]) == 2
    assert "Traceback" not in capsys.readouterr().err


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=200))
def test_no_bytes_give_a_traceback(capsys, monkeypatch, raw):
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))
    assert main(["judge"]) == 2
    assert "Traceback" not in capsys.readouterr().err


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_garbage_anywhere_in_the_example_is_refused_or_judged(capsys, monkeypatch, data):
    case = sample()
    here = case
    while True:
        key = data.draw(st.sampled_from(sorted(here) if isinstance(here, dict) else range(len(here))))
        if not isinstance(here[key], dict | list) or not here[key] or data.draw(st.integers(0, 3)) == 0:
            break
        here = here[key]
    here[key] = data.draw(GARBAGE)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(json.dumps(case).encode())))
    assert main(["judge", "-", "--explain"]) in (0, 2)
    assert "Traceback" not in capsys.readouterr().err


def refused(capsys, tmp_path, text):
    """{path: line} of a refused job."""
    file = tmp_path / "job.json"
    file.write_text(text, encoding="utf-8")
    assert main(["judge", str(file)]) == 2
    return dict(line.split(": ", 1) for line in capsys.readouterr().err.splitlines())


def test_what_does_not_fit_together_is_told_beside_every_other_problem(capsys, tmp_path):
    case = {
        "stage": "after",
        "spec": {"low": "2.00 inH2O", "high": "1.60 inH2O", "u": "much", "origin": "", "revision": "A"},
        "brick": {"shape": "oval", "long": "290 mm", "wall": "9 in"},
        "readings": {
            "light": {"kind": "none", "count": 5, "lit": "9"},
            "rod": {"full_depth": "deep", "cells": [{"feel": "hard", "depth": "145 mm", "short": "145 mm"}]},
        },
    }
    said = refused(capsys, tmp_path, json.dumps(case))
    assert set(said) == {"$.spec.low", "$.spec.u", "$.spec.origin", "$.brick.short_m", "$.brick.wall", "$.readings.light.lit",
                         "$.readings.rod.full_depth", "$.readings.rod.cells"}
    assert "both depth and short" in said["$.readings.rod.cells"] and "above the upper one" in said["$.spec.low"]


def test_nothing_is_said_to_misfit_a_part_that_could_not_be_read(capsys, tmp_path):
    case = {
        "stage": "after",
        "spec": {"low": "much", "high": "1.60 inH2O", "u": "0.05 inH2O", "origin": "x", "revision": "A"},
        "brick": {"shape": "oval", "long": "290 mm", "short": "wide"},
        "readings": {"rod": {"full_depth": "290 mm", "cells": [{"feel": "hard", "depth": "300 mm", "zone": 13}]}},
    }
    said = refused(capsys, tmp_path, json.dumps(case))
    assert set(said) == {"$.spec.low", "$.brick.short", "$.readings.rod.cells[0].zone"}


def test_a_number_without_its_unit_is_told_as_that(capsys, tmp_path):
    case = {"stage": "before", "readings": {"flow": {"drops": ["1.78"]}, "light": {"kind": "cells", "count": "34"}}}
    said = refused(capsys, tmp_path, json.dumps(case))
    assert said["$.readings.flow.drops[0]"].startswith('"1.78" has no unit. Allowed: ')
    assert said["$.readings.light.count"].startswith('"34" is a text; write the number without quotes.')


def test_a_huge_job_is_refused_in_a_moment(capsys, tmp_path):
    # 60,000 names, one of them doubled at the end: compared pair by pair that would take minutes.
    names = ", ".join(f'"n{place}": {place}' for place in range(60000))
    began = time.process_time()
    said = refused(capsys, tmp_path, '{"stage": "before", "readings": {"rod": {%s, "n0": 1}}}' % names)
    assert list(said) == ["$"] and "stands twice" in said["$"]
    assert len(refused(capsys, tmp_path, '{"stage": "before", "readings": {%s}}' % names)) == 60000
    assert time.process_time() - began < 10.0


def test_what_has_no_end_is_not_read_to_its_end(capsys):
    assert main(["judge", "/dev/zero"]) == 2
    assert "longer than any job" in capsys.readouterr().err
