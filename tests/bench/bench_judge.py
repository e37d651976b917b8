"""Measures one verdict of a full job in both interpreters. python -m tests.bench.bench_judge [--runs N]

Medians of interleaved runs, once warm, un-throttled: the calculation on the complete case of `ashbook judge --example`
(bench, geometry, rounds, ash, 48 cells), and the whole state of a full job from its records, as phone and desk ask for it.
Baseline of each: the same JSON read and written once by the same interpreter. The phone's Python runs in Node, through the
door and the runner of tests/vectors. Limits: 5 ms a verdict on the server, 25 ms on the phone's Python, held against the
quickest quarter of the runs, since other processes may hold the machine; the core as a phone loads it below 150 kB.
"""

import argparse
import json
import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.checklist.test_any_job import BENCH, CHECK
from tests.checklist.views import FILTER, KIM, MODEL, NO_LIGHT, VISUAL, answer, flow, number, rod, view, weight
from tests.vectors import parity
from webform.checklist import calls
from webform.commands.case import read_case
from webform.commands.judge import example
from webform.phone.bundle import phone_files

from .telling import Table

SERVER_MS, PHONE_MS, CORE_BYTES = 5.0, 25.0, 150_000  # each verdict
VERDICTS = {"verdict of a full case": 1, "state of a full job, two verdicts": 2}
# On the phone's side: the door, and beside it the plain reading and writing of the same JSON.
DOOR = """
import json
from webform.checklist import calls

def call(text):
    return json.dumps(json.loads(text[1:])) if text[:1] == "#" else calls.call(text)
"""


def full_job() -> list[dict]:
    """The records of a job with all readings before and after, checked bench, geometry, oil and three rounds."""
    cells = rod((12, "soft", "170"), (6, "hard", "230"), (6, "free", None))
    blown = {name: value for name, value in flow("1.78", "1.79").items() if name != "bench"}
    fields = {"before.visual": VISUAL, "before.weight": weight("14480"), "before.rod": cells, "before.light": NO_LIGHT,
              "before.flow": flow("2.75"), "after.visual": VISUAL, "after.weight": weight("13780"),
              "after.rod": rod((3, "hard", "250"), (21, "free", None)), "after.light": NO_LIGHT,
              "after.flow": {**blown, "check": CHECK["record"]}, "oil_added": number("20", "L"), "oil_category": "CK-4",
              "hours_since": number("4000", "h")}
    model = view("model:m", {**{name: held["used"] for name, held in MODEL["fields"].items()}, "brick": {
        "shape": "round", "long": number("267", "mm"), "cells_per_in2": number("200", ""), "wall": number("0.30", "mm")}})
    rounds = [view(f"round:{place}", {
        "job": [answer("job:j", f"d.r.{place}", lamport=place + 2)], "weight": weight(mass),
        "treatment": {"method": method, "minutes": number("480", "min"), "temperature": number("600", "°C")}})
        for place, (method, mass) in enumerate((("oven", "14020"), ("air", "13800"), ("air", "13780")))]
    return [view("job:j", {"filter": "filter:f", **fields}), FILTER, model, KIM, BENCH, CHECK, *rounds]


def requests() -> dict[str, str]:
    """The two questions that are measured, as the door takes them."""
    case, problems = read_case(json.loads(example()))
    assert not problems
    return {"verdict of a full case": json.dumps({"op": "judge", "case": case}),
            "state of a full job, two verdicts": json.dumps({"op": "job", "job": "job:j", "views": full_job(),
                                                             "calculation": "c"})}


def on_server(text: str, runs: int) -> tuple[list[float], list[float]]:
    """Seconds of the question and of the plain JSON round trip, interleaved, in CPython."""
    measured, plain = [], []
    for _ in range(runs):
        start = time.perf_counter()
        answer_text = calls.call(text)
        middle = time.perf_counter()
        json.dumps(json.loads(text))
        measured.append(middle - start)
        plain.append(time.perf_counter() - middle)
        assert json.loads(answer_text)["ok"]
    return measured, plain


def on_phone(runtime: Path, text: str, runs: int) -> tuple[list[float], list[float]]:
    """The same in the phone's Python."""
    words = parity.requests([])[0]
    done = parity.run_in_node(runtime, parity.shared_files(), [words] + [text, "#" + text] * (runs + 1), DOOR)
    assert all(json.loads(found)["ok"] for found in done["answers"][1::2]), done["answers"][1][:300]
    seconds = [one / 1000.0 for one in done["milliseconds"][3:]]  # the words and the first run are not warm
    return seconds[0::2], seconds[1::2]


def main() -> int:
    """Prints the table; the exit code says whether the limits hold."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--runs", type=int, default=101)
    given = parser.parse_args()
    table = Table()
    calls.call(parity.requests([])[0])
    with tempfile.TemporaryDirectory(prefix="bench-judge-") as folder:
        runtime = parity.install_runtime(Path(folder))
        for what, text in requests().items():
            calls.call(text)  # warm
            for where, limit, (measured, plain) in (("server", SERVER_MS, on_server(text, given.runs)),
                                                    ("phone's Python", PHONE_MS, on_phone(runtime, text, given.runs))):
                table.times(f"{what}, {where}; baseline: JSON", measured, plain)
                quick = statistics.quantiles(measured, n=4)[0] * 1000.0
                table.count(f"  quickest quarter below, in ms, of {VERDICTS[what]}", quick, limit * VERDICTS[what])
    core = sum(len(text.encode()) for name, text in phone_files().items() if name.startswith("webform/trade/"))
    table.count("the calculation's source as the phone loads it, bytes", core, CORE_BYTES)
    return table.end()


if __name__ == "__main__":
    sys.exit(main())
