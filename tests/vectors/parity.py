"""The calculation in two interpreters: the sources that are shared, what CPython answers, and where two answers differ.

Any runner, in Node or in a browser, takes requests() to the phone's Python and hands its answers to differences().
"""

import json
import subprocess
from pathlib import Path

from webform.checklist import calls
from webform.phone.bundle import bare, shared_files
from webform.phone.portable import problems_in
from webform.words import catalogue

ROOT = Path(__file__).resolve().parents[2]
RUNTIME = "@micropython/micropython-webassembly-pyscript"
VERSION = "1.27.0"


__all__ = ("differences", "expected", "problems", "requests", "run_in_node", "shared_files")


def requests(cases):
    """Request texts for the phone's door: the catalogue once, then one case or one quantity each."""
    return [json.dumps({"op": "words", "catalogue": catalogue()})] + [
        json.dumps(entry["request"] if "request" in entry else {"op": "judge", "case": entry["case"]}) for entry in cases]


def expected(cases):
    """What CPython answers to those requests."""
    return [calls.call(text) for text in requests(cases)]


def differences(cases, mine, theirs):
    """One line for each case in which the two answers are not equal: numbers equal, verdicts and texts exact."""
    found = [] if len(mine) == len(theirs) else [f"{len(mine)} answers against {len(theirs)}"]
    names = ["words"] + [entry["name"] for entry in cases]
    for name, one, other in zip(names, mine, theirs, strict=False):
        one, other = json.loads(one), json.loads(other)
        if not one["ok"] or one != other:
            found.append(f"{name}: {one} against {other}")
    return found


def problems(files, cases, answers):
    """Why the two interpreters cannot be said to agree: constructs that differ by version, then answers that differ."""
    found = [f"{path}:{line}: {what}" for path in sorted(files) for line, what in problems_in(files[path])]
    return found + differences(cases, expected(cases), answers)


def install_runtime(folder):
    """The folder of the phone's interpreter: the phone build's own, else installed into `folder` by npm."""
    built = ROOT / "webform/phone/node_modules" / RUNTIME
    if json_version(built) == VERSION:
        return built
    subprocess.run(["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder),
                    f"{RUNTIME}@{VERSION}"], check=True, timeout=120)
    return folder / "node_modules" / RUNTIME


def json_version(folder):
    """The version that a package's folder states, or None."""
    stated = folder / "package.json"
    return json.loads(stated.read_text(encoding="utf-8"))["version"] if stated.exists() else None


def run_in_node(runtime, files, texts, setup="from webform.checklist.calls import call"):
    """{"answers": [text], "milliseconds": [number]} of the phone's interpreter run in Node."""
    loaded = {name: bare(text) for name, text in files.items()}  # as the phone loads them
    given = json.dumps({"files": loaded, "setup": setup, "requests": texts})
    done = subprocess.run(["node", str(Path(__file__).with_name("node_run.mjs")), str(runtime)], input=given,
                          capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)
