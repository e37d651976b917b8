"""The same cases in CPython and in the phone's interpreter: numbers equal, verdicts and sentences exact."""

import json
import statistics
from collections import Counter

import pytest
from scipy import stats

from tests.trade.readings import value
from tests.vectors import parity
from tests.vectors.cases import EACH_SIDE, MORE, NEAR, cases
from tests.vectors.quantities import quantities
from tests.vectors.worked import worked
from webform.trade import figures, tag_code, units, words
from webform.trade.flow import guarded_high
from webform.trade.judge import judge
from webform.words import catalogue


@pytest.fixture(scope="module")
def runtime(tmp_path_factory):
    """The folder of the phone's interpreter."""
    return parity.install_runtime(tmp_path_factory.mktemp("runtime"))


@pytest.fixture(scope="module")
def answers(runtime):
    """What the phone's interpreter answers to every case."""
    return parity.run_in_node(runtime, parity.shared_files(), parity.requests(cases()))


@pytest.fixture(scope="module")
def reached():
    """How many of the cases give each code."""
    verdicts = [judge(entry["case"]) for entry in cases()]
    return Counter(reason["code"] for verdict in verdicts for part in ("reasons", "findings", "missing")
                   for reason in verdict[part])


def test_both_interpreters_judge_every_case_alike(answers):
    assert parity.problems(parity.shared_files(), cases(), answers["answers"]) == []


def test_both_interpreters_judge_every_filter_worked_by_hand_and_every_clear_cut_job_alike(runtime):
    given = worked()
    assert len(given) >= 300 and len({entry["name"] for entry in given}) == len(given)
    answers = parity.run_in_node(runtime, parity.shared_files(), parity.requests(given))["answers"]
    assert parity.problems(parity.shared_files(), given, answers) == []


def test_both_interpreters_compute_what_no_verdict_reaches_to_the_last_bit(runtime):
    given = quantities()
    assert len(given) >= 120 and len({entry["name"] for entry in given}) == len(given)
    mine = [json.loads(text) for text in parity.expected(given)]
    assert all(answer["ok"] for answer in mine), [answer for answer in mine if not answer["ok"]]
    # Both write a float so that it reads back as itself, so equal texts are equal bits.
    answers = parity.run_in_node(runtime, parity.shared_files(), parity.requests(given))["answers"]
    assert parity.problems(parity.shared_files(), given, answers) == []


def in_every_unit():
    """A few cases, parts taken off their weights, told in each unit of pressure with each unit of mass."""
    made, shapes = [], [("", None), ("one part", [{"part": "adapter", "mass_g": 1203.4}]),
                        ("two parts", [{"part": "adapter", "mass_g": 1200.0}, {"part": "clamps", "mass_g": 0.1}])]
    pressures, masses = ([name for name in sorted(words.DECIMALS) if units.UNITS[name][0] == kind]
                         for kind in ("pressure", "mass"))
    for number, pressure in enumerate(pressures):
        picked = {"pressure": pressure, "mass": masses[number % len(masses)], "length": "in", "temperature": "°F"}
        asked = {"op": "words", "catalogue": words.in_units(catalogue(), picked)}
        made.append({"name": f"in {pressure}", "request": asked})
        for entry in cases()[number::31]:
            what, parts = shapes[len(made) % len(shapes)]
            case = json.loads(json.dumps(entry["case"]))
            if parts and case["before"] and case["before"].get("weight"):
                case["before"]["weight"]["parts"] = parts
            made.append({"name": f"{entry['name']} in {pressure}, {what}", "case": case})
    return made


def test_both_interpreters_tell_it_alike_in_every_unit(runtime):
    made = in_every_unit()
    assert len(made) >= 200
    answers = parity.run_in_node(runtime, parity.shared_files(), parity.requests(made))["answers"]
    assert parity.differences(made, parity.expected(made), answers) == []


def test_a_built_in_sum_planted_in_the_calculation_fails_the_check(runtime):
    files = parity.shared_files()
    source = files["webform/trade/figures.py"]
    files["webform/trade/figures.py"] = source.replace("return total(xs) / len(xs)", "return sum(xs) / len(xs)")
    assert files["webform/trade/figures.py"] != source
    few = cases()[:3]
    found = parity.problems(files, few, parity.run_in_node(runtime, files, parity.requests(few))["answers"])
    assert any("sum()" in line for line in found)


def test_a_changed_limit_on_one_side_shows_as_a_difference(runtime):
    files = parity.shared_files()
    files["webform/trade/rod.py"] = files["webform/trade/rod.py"].replace("average > limit", "average >= limit")
    near = [entry for entry in cases() if entry["near"] == "hard_average"]
    theirs = parity.run_in_node(runtime, files, parity.requests(near))["answers"]
    found = parity.differences(near, parity.expected(near), theirs)
    assert 5 <= len(found) <= EACH_SIDE, "only those that are quantised onto the limit"


def test_there_are_enough_cases_of_every_kind():
    made = cases()
    assert made == cases(), "always the same"
    assert len(made) >= 300 and len({entry["name"] for entry in made}) == len(made)
    verdicts = Counter(judge(entry["case"])["verdict"] for entry in made)
    assert len(verdicts) == 5 and min(verdicts.values()) >= 30, verdicts
    assert set(Counter((entry["near"], entry["side"]) for entry in made if entry["near"]).values()) == {EACH_SIDE}
    assert MORE >= 200


@pytest.mark.parametrize("codes", [
    ("plate_good", "plate_out", "bench_out", "air_doubtful"), ("flow_corrected",), ("flow_apart",),
    ("damage_as_found", "damage_denied"), ("heavier_unproven", "face_caked"), ("clean_estimate", "rod_allows_flow"),
    ("rod_pattern", "rod_more_cells", "rod_unclear"), ("round_soot", "round_ash", "round_mixed", "round_nothing"),
    ("mass_left", "mass_below"), ("ash_more", "ash_less", "ash_as_expected"),
    ("rod_agrees", "rod_gained_more", "next_service")])
def test_the_cases_reach_every_part_of_the_calculation(codes, reached):
    assert min(reached[code] for code in codes) >= 5, {code: reached[code] for code in codes}


def cells_needed(rodding):
    """How many cells would settle the average, by scipy: t s/√n below a third less the average, also of any better face."""
    shares = [0.0 if cell["feel"] == "free" else cell["short_m"] / rodding["full_depth_m"] if cell["short_m"] is not None
              else 1 - cell["depth_m"] / rodding["full_depth_m"] for cell in rodding["cells"]]
    count, worst_first = len(shares), sorted(shares, reverse=True)
    better = [worst_first[:kept] + [0.0] * (count - kept) for kept in range(1, count + 1)]
    ends = [(statistics.mean(face), statistics.stdev(face)) for face in better]
    return next(n for n in range(count, 99)
                if all(average + stats.t.ppf(0.975, n - 1) * s / n ** 0.5 < 1 / 3 for average, s in ends))


def quanta_from_limit(entry):
    """How many quanta a case lies from its limit, worked out from the case alone."""
    case, near = entry["case"], entry["near"]
    readings, spec = case["readings"], case["spec"]
    if near in ("guarded_high", "high", "low", "lowest"):
        drop = sum(readings["flow"]["drops_pa"]) / len(readings["flow"]["drops_pa"])
        guard = 1.645 * spec["u_pa"]
        limit = {"high": spec["high_pa"], "low": spec["low_pa"], "lowest": spec["low_pa"] - guard,
                 "guarded_high": max(spec["high_pa"] - guard, (spec["low_pa"] + spec["high_pa"]) / 2)}[near]
        return (drop - limit) / 0.1
    if near == "repeats":
        drops = readings["flow"]["drops_pa"]
        return (max(drops) - min(drops) - round(spec["high_pa"] / 10 + 1e-9, 1)) / 0.1
    if near == "lit_cells":
        return readings["light"]["count"] - 20
    if near == "plate_drift":
        plate = readings["flow"]["check"]["plate"]
        return (abs(plate["read_pa"] / plate["own_pa"] - 1) - 0.03) / 0.0001
    if near == "more_cells":
        return cells_needed(readings["rod"]) - 24 - 12
    if near == "worth":
        return (case["rounds"][0]["mass_g"] - case["rounds"][1]["mass_g"] - 20) / 0.1
    if near == "heavier":
        return (readings["weight"]["mass_g"] - case["before"]["weight"]["mass_g"] - 200**0.5) / 0.1
    shares = [0.0 if cell["feel"] == "free" else (cell["short_m"] / readings["rod"]["full_depth_m"])
              if cell["short_m"] is not None else 1 - cell["depth_m"] / readings["rod"]["full_depth_m"]
              for cell in readings["rod"]["cells"]]
    if near == "most_of_face":
        return (shares[12] - 1 / 3) / 0.0001
    return (sum(shares) / len(shares) - 1 / 3) / 0.0001


@pytest.mark.parametrize("near", sorted(NEAR))
def test_those_cases_lie_within_one_quantum_of_their_limit_on_both_sides(near):
    those = [entry for entry in cases() if entry["near"] == near]
    away = [quanta_from_limit(entry) for entry in those]
    assert all(-1 <= distance <= 1 for distance in away)
    assert len([distance for distance in away if distance <= 0]) >= EACH_SIDE
    assert len([distance for distance in away if distance > 0]) >= EACH_SIDE


def test_near_cases_really_decide_at_their_limit():
    # Farther than half a quantum above the limit the reading counts as above, within half a quantum as on it.
    for entry in cases():
        if entry["near"] == "most_of_face" and entry["case"]["stage"] == "after":
            is_over = quanta_from_limit(entry) > 0.51
            if abs(quanta_from_limit(entry) - 0.5) > 0.2:
                assert (judge(entry["case"])["verdict"] == "replace") == is_over, entry["name"]
        if entry["near"] == "hard_average" and judge(entry["case"])["verdict"] == "replace":
            assert value(judge(entry["case"]), "hard_average", "average_fraction") == 0.3334


def test_near_cases_decide_at_the_plate_and_at_the_number_of_cells():
    for entry in cases():
        away = quanta_from_limit(entry) if entry["near"] in ("plate_drift", "more_cells") else None
        verdict = judge(entry["case"])
        told = {reason["code"] for part in ("reasons", "findings", "missing") for reason in verdict[part]}
        if entry["near"] == "plate_drift" and abs(away - 0.5) > 0.01 and "plate_out" in told | {"plate_good"}:
            assert ("plate_out" in told) == (away > 0.5) or "air_doubtful" in told, entry["name"]
        if entry["near"] == "more_cells" and not entry["case"]["released"]:
            assert ("rod_unclear" in told, "rod_more_cells" in told) == (away > 0, away <= 0), entry["name"]


def test_the_guarded_end_is_the_middle_of_the_window_at_least():
    windows = [entry["case"]["spec"] for entry in cases() if entry["near"] == "guarded_high"]
    ends = [guarded_high(spec["low_pa"], spec["high_pa"], spec["u_pa"], 1.645) for spec in windows]
    middles = [(spec["low_pa"] + spec["high_pa"]) / 2 for spec in windows]
    assert all(end >= middle for end, middle in zip(ends, middles, strict=True))
    assert any(end == middle for end, middle in zip(ends, middles, strict=True)), "one of the windows is narrow"


TYPED = [("2.75", "inH2O"), ("2,75", "mbar"), ("14480", "g"), ("14,480", "g"), ("31.9", "lb"), ("0.030", "in"),
         ("68", "°F"), ("-12", "°C"), ("9e99", "g"), ("", "g"), ("\u0663", "g"), ("0.1", "kPa"),
         ("123456789.123456", "Pa"),          ("1\u00a0000", "g"), ("7", "parsec"), ("2.75", "inH2O (4 °C)"),
         ("2.75", "inH2O (60 °F)"), ("400", "cfm"),
         ("3\u22121", "g"), ("\u22123", "g")]
SCANNED = ["7K3M9QX07", "7k3m-9qx 07", "7K3M9QX08", "https://shop.example/t/7K3M9QX07", "javascript:alert(1)", "é" * 9,
           "ASHBOOK-ENROL:ABCD-EFGH-JKMN", "7K3M9QX0", "", "\u202e7K3M9QX07", "7K3M\u20139QX\u00a007", "x" * 400]
ROUNDED = [(2.675, 2), (0.5, 0), (1.5, 0), (2.5, 0), (-0.04, 1), (1e16, 3), (1 / 3, 4), (123456.789, 1), (1e300, 1)]

# Equality is asked inside the other interpreter, because printed floats may differ where the floats are equal.
PROBE = """
import json
from webform.trade import figures, tag_code, units

def call(text):
    request = json.loads(text)
    if request["op"] == "typed":
        answer = units.to_si(request["text"], request["unit"])
    elif request["op"] == "scanned":
        answer = tag_code.read(request["text"])
    else:
        answer = [figures.fixed(request["x"], request["decimals"]), figures.quantise(request["x"], request["decimals"])]
    return json.dumps(answer == request["expected"])
"""


def test_both_interpreters_read_numbers_and_tags_and_round_alike(runtime):
    requests = [{"op": "typed", "text": text, "unit": unit, "expected": units.to_si(text, unit)}
                for text, unit in TYPED]
    requests += [{"op": "scanned", "text": text, "expected": tag_code.read(text)} for text in SCANNED]
    requests += [{"op": "rounded", "x": x, "decimals": decimals,
                  "expected": [figures.fixed(x, decimals), figures.quantise(x, decimals)]} for x, decimals in ROUNDED]
    done = parity.run_in_node(runtime, parity.shared_files(), [json.dumps(entry) for entry in requests], PROBE)
    assert [entry for entry, same in zip(requests, done["answers"], strict=True) if same != "true"] == []
