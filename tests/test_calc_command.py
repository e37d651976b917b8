"""`ashbook calc`: outside values reached through the command line, one registry for everything, every problem at once."""

import ast
import json
import math
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.outside_values import OUTSIDE
from tests.shapes import GARBAGE, values_of
from webform.__main__ import main
from webform.commands.calc import OWN_OPTIONS, computed
from webform.commands.quantities import NO_QUANTITIES, QUANTITIES, TOPICS
from webform.commands.shape import ListOf, Number, read
from webform.commands.typed import is_finite

ROOT = Path(__file__).parents[1]
TRADE = ROOT / "webform/trade"
def calc(capsys, *words):
    """The results that one call prints as JSON."""
    assert main(["calc", *words, "--out", "json"]) == 0, capsys.readouterr().err
    return json.loads(capsys.readouterr().out)["results"]


def refused(capsys, *words):
    """The problems that one call prints, one to a line; its exit code is 2 and nothing else comes out."""
    assert main(["calc", *words]) == 2
    said = capsys.readouterr()
    assert said.out == "" and "Traceback" not in said.err
    return said.err.strip().splitlines()


@pytest.mark.parametrize(("name", "options", "result", "expected", "tolerance", "kind"), OUTSIDE)
def test_an_outside_value_is_reached_from_the_command_line(capsys, name, options, result, expected, tolerance, kind):
    found = calc(capsys, name, *options.split("|"))[result]
    if isinstance(expected, str):
        assert found == expected
    else:
        assert found == pytest.approx(expected, abs=0 if kind else tolerance, rel=tolerance if kind else 0)


def test_there_are_enough_outside_values():
    assert len(OUTSIDE) >= 25 and len({row[0] for row in OUTSIDE}) >= 25


def same(found, expected, example):
    """Whether a result is what its example says, within the example's tolerance."""
    if isinstance(expected, bool | str):
        return found == expected
    if isinstance(expected, list):
        return len(found) == len(expected) and all(same(a, b, example) for a, b in zip(found, expected, strict=True))
    return math.isclose(found, expected, rel_tol=example.rel, abs_tol=example.abs)


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=list(QUANTITIES))
def test_the_example_of_each_quantity_computes_what_its_source_says(capsys, quantity):
    results = calc(capsys, quantity.name, "--json", json.dumps(quantity.example.inputs))
    assert set(results) <= set(quantity.results)
    for name, expected in quantity.example.results.items():
        assert same(results[name], expected, quantity.example), (name, results[name])
    assert quantity.example.results and quantity.example.source and quantity.source


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=list(QUANTITIES))
def test_the_example_that_is_shown_is_a_command_that_runs(capsys, quantity):
    assert main(["calc", quantity.name, "--help"]) == 0
    shown = [line.strip() for line in capsys.readouterr().out.splitlines() if line.strip().startswith("ashbook calc ")]
    words = (
        subprocess.run(
            ["bash", "-c", "printf '%s\\0' " + shown[0].removeprefix("ashbook calc ")],
            check=True,
            capture_output=True,
            text=True,
        )
        .stdout.rstrip("\0")
        .split("\0")
    )
    typed = calc(capsys, *words)
    assert typed == calc(capsys, quantity.name, "--json", json.dumps(quantity.example.inputs))


def public_functions():
    """ "module.function" of each public function of the calculation."""
    for path in sorted(TRADE.glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield f"{path.stem}.{node.name}"


def test_every_public_function_of_the_calculation_is_a_quantity_or_named_as_none():
    computes = {name for quantity in QUANTITIES.values() for name in quantity.of}
    named = [name for names in NO_QUANTITIES.values() for name in names]
    assert len(named) == len(set(named)) and not computes & set(named)
    assert computes | set(named) == set(public_functions())


def test_every_quantity_is_listed_with_inputs_units_and_source(capsys):
    assert main(["calc"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert main(["calc", "--out", "json"]) == 0
    listed = {
        entry["name"]: entry for topic in json.loads(capsys.readouterr().out)["topics"] for entry in topic["quantities"]
    }
    assert set(listed) == set(QUANTITIES) and len(listed) == sum(len(entries) for _, entries in TOPICS)
    for name, quantity in QUANTITIES.items():
        assert f"{name}: {quantity.title}" in text and quantity.source in text
        for given_name, entry in quantity.inputs.items():
            shape = entry.shape.item if isinstance(entry.shape, ListOf) else entry.shape
            unit = f" ({shape.unit})" if isinstance(shape, Number) and shape.unit else ""
            assert given_name + unit in text
            assert listed[name]["inputs"][given_name]["unit"] == (shape.unit if isinstance(shape, Number) else "")
            assert given_name not in OWN_OPTIONS and given_name.isidentifier()


def test_a_real_process_lists_computes_and_refuses():
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", "webform", "calc", *words], cwd=ROOT, capture_output=True, text=True, timeout=60
        )

    assert "AIR" in run().stdout
    done = run("pressure-at-altitude", "--altitude", "1600 m")
    assert done.returncode == 0 and "83527.67" in done.stdout and "US Standard Atmosphere 1976" in done.stdout  # fluids 1.3.1
    done = run("air-density", "--pressure", "1013.25 mbar", "--temperature", "20 °C", "--humidity", "50 %")
    density = float(done.stdout.split("density)")[1].split("density")[1].split()[0])
    assert density == pytest.approx(1.19936, rel=1.5e-4)  # computed with CoolProp 8.0.0
    done = run("air-density", "--pressure", "3")
    assert (done.returncode, done.stdout, len(done.stderr.splitlines())) == (2, "", 2)
    assert "Traceback" not in done.stderr


def test_a_reader_that_goes_away_is_no_error_and_a_full_disk_is_told():
    calls = f"{sys.executable} -m webform calc | head -1; {sys.executable} -m webform calc >/dev/full; echo code $?"
    done = subprocess.run(["bash", "-c", calls], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[-1] == "code 1"
    assert done.stderr.splitlines() == ["The result cannot be written (No space left on device)."]


def test_inputs_stand_in_si_and_results_with_their_units(capsys):
    assert main(["calc", "air-density", "--pressure=1013.25 mbar", "--temperature", "68 °F", "--humidity", "50 %"]) == 0
    text = capsys.readouterr().out
    for piece in ("101325 Pa", "293.15 K", "0.5", "kg/m³", "CIPM-2007"):
        assert piece in text


def test_standard_input_gives_the_inputs_too(capsys, monkeypatch):
    import io

    for mark in ("", "\ufeff"):  # some editors put a mark in front
        monkeypatch.setattr(sys, "stdin", io.StringIO(mark + '{"altitude": {"n": "1600", "u": "m"}}'))
        found = calc(capsys, "pressure-at-altitude", "--json", "-")
        assert found["pressure"] == pytest.approx(83527.67, rel=1e-6)  # fluids 1.3.1


def test_one_call_tells_every_problem_with_its_name_and_what_is_allowed(capsys):
    said = refused(
        capsys, "air-density", "--pressure", "1,013 mbar", "--temperature", "20", "--humidity", "30 Pa", "--co", "3"
    )
    assert [line.split(":")[0] for line in said] == ["co", "pressure", "temperature", "humidity"]
    assert all("Allowed:" in line for line in said)
    assert "two ways" in said[1] and "243.15 to 333.15 K (-30 to 60 °C)" in said[2] and "co2" in said[0]


@pytest.mark.parametrize(
    ("words", "start", "pieces"),
    [
        (["air-densty"], "There is no quantity", ["air-density"]),
        (["--pressure", "3"], "--pressure", ["calc NAME"]),
        (["air-viscosity", "more", "--temperature", "300"], '"more"', ["one word too many"]),
        (["air-viscosity", "--temperature"], "temperature", ["no value"]),
        (["air-viscosity", "--temperature", "300", "--temperature", "301"], "temperature", ["twice"]),
        (["air-viscosity", "--json", '{"temperature": 300}', "--temperature", "301"], "temperature", ["twice"]),
        (["air-viscosity", "--json", '{"temperature": 300, "temperature": 301}'], "--json", ["twice"]),
        (["air-viscosity", "--json", "[300]"], "--json", ["not an object"]),
        (["air-viscosity", "--json", "{"], "--json", ["not JSON"]),
        (["air-viscosity", "--json", '{"temperature": NaN}'], "--json", ["NaN"]),
        (["air-viscosity", "--json", "[" * 100000], "--json", ["nested"]),
        (["air-viscosity", "--json", '{"temperature": ' + "9" * 5000 + "}"], "--json", ["JSON"]),
        (["air-viscosity", "--temperature", "300", "--out", "xml"], "--out", ["text or json"]),
        (["air-viscosity", "--temperature", "1e999"], "temperature", []),
        (["air-viscosity", "--temperature", ""], "temperature", []),
        (["wilson-interval", "--hits", "30", "--count", "20"], "hits", ["hits up to count"]),
        (["wilson-interval", "--hits", "1.5", "--count", "20"], "hits", ["not whole"]),
        (["unit-conversion", "--value", "3", "--from", "kg", "--to", "Pa"], "to", ["same quantity"]),
        (["unit-conversion", "--value", "1,780", "--from", "inH2O", "--to", "Pa"], "“1,780”", ["two ways"]),
        (["brick-geometry", "--long", "0.3", "--length", "0.3", "--cells", "1500", "--wall", "3 mm"], "These figures", []),
        (["ash-balance", "--is-high-ash", "perhaps"], "expected_low", ["missing"]),
        (["control-limits", "--readings", "[1, 2"], "readings", ["not a list"]),
        (["tag-check-characters", "--body", "ab\x1b[31m"], "body", ["0 to 9"]),
    ],
)
def test_bad_input_is_refused_in_sentences(capsys, words, start, pieces):
    said = refused(capsys, *words)
    assert said[0].startswith(start) and all(piece in said[0] for piece in pieces), said
    assert "\x1b" not in "".join(said)


def test_problems_come_as_json_too(capsys):
    assert main(["calc", "air-viscosity", "--temperature", "hot", "--out", "json"]) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert problem["path"] == "temperature" and "hot" in problem["what"] and "1900" in problem["allowed"]


def test_far_off_readings_and_what_own_limits_set_aside_are_counted_alike(capsys):
    readings = [420 + place % 7 for place in range(30)] + [1900]  # the thirty-first does not belong
    given = ["--readings", json.dumps(readings)]
    assert calc(capsys, "far-off-readings", *given, "--most", "3", "--chance", "0.01")["places"] == [31]
    assert [entry["place"] for entry in calc(capsys, "own-limits", *given)["set_aside"]] == [31]


WORDS = st.lists(
    st.sampled_from([*QUANTITIES, "--json", "--out", "--help", "--pressure", "--temperature=", "-", "{}", "json"])
    | st.text(max_size=12),
    max_size=6,
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(words=WORDS)
def test_no_words_raise(capsys, monkeypatch, words):
    import io

    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    if words[:1] not in (["-h"], ["--help"]):
        assert main(["calc", *words]) in (0, 2)
    capsys.readouterr()


@settings(max_examples=200, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(name=st.sampled_from(sorted(QUANTITIES)), data=st.data())
def test_garbage_for_any_quantity_is_refused_or_computed(capsys, name, data):
    inputs = {
        given_name: data.draw(values_of(entry.shape) | GARBAGE) for given_name, entry in QUANTITIES[name].inputs.items()
    }
    text = json.dumps({**inputs, **data.draw(st.dictionaries(st.text(max_size=5), GARBAGE, max_size=1))})
    assert main(["calc", name, "--json", text]) in (0, 2)
    assert "Traceback" not in capsys.readouterr().err


@settings(max_examples=200)
@given(name=st.sampled_from(sorted(QUANTITIES)), data=st.data())
def test_what_is_allowed_has_a_finite_result_or_a_reason(name, data):
    quantity = QUANTITIES[name]
    problems = []
    inputs = read(quantity.shape, data.draw(values_of(quantity.shape)), "", problems)
    if not problems:  # figures that do not fit each other are told, tested above
        results, why = computed(quantity, inputs)
        assert is_finite(results) and set(results or {}) <= set(quantity.results) and (results is None) == bool(why)
