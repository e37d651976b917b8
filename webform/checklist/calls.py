"""The phone's door to the Python that it shares with the server: JSON text in, JSON text out. Portable Python.

call('{"op": "judge", "case": {...}}') answers '{"ok": true, "value": ...}', or
'{"ok": false, "error": {"code", "text"}}' for what the caller got wrong. It never raises.
Ops: words, check, show, tag, merge, job, judge, instrument, same, quantity.
"""

import json

from sync import merge

from ..trade import bench as trade_bench
from ..trade import judge as trade_judge
from ..trade import tag_code
from ..trade import words as trade_words
from . import case, check, given, lookup, show
from .book import Book
from .links import group_of
from .quantities import QUANTITIES
from .typed import as_si
from .units_shown import in_units_of

_catalogue = {}


def call(text):
    """The answer to one request, both as JSON text."""
    try:
        request = json.loads(text)
        value = _ops[request["op"]](request)
    except Exception as problem:
        error = {"code": "call.failed", "text": type(problem).__name__ + ": " + str(problem)}
        return json.dumps({"ok": False, "error": error})
    return json.dumps({"ok": True, "value": value})


def with_texts(state, catalogue):
    """A job state with its sentences: verdict word, why, reasons of each stage. The desk and the report use it too."""
    state["text"] = trade_words.sentence(catalogue, "verdict." + state["verdict"], {})
    for entry in state["why"]:
        values = entry["values"]
        named = {name: catalogue.get("verdict." + values[name], values[name]) for name in sorted(values)}
        entry["text"] = trade_words.sentence(catalogue, entry["code"], named)
    for stage in ("before", "after"):
        if state[stage] is not None:
            state[stage]["text"] = trade_words.sentence(catalogue, "verdict." + state[stage]["verdict"], {})
            state[stage]["texts"] = trade_words.sentences(state[stage], catalogue)
    report = state["report"]
    if report is not None:
        values = {"number": report["number"], "verdict": state["text"], "why": first_reason(state),
                  "said": catalogue.get("verdict." + report["verdict"], report["verdict"])}
        key = "state.report_recalled" if report["is_recalled"] else "state.report"
        report["text"] = trade_words.sentence(catalogue, key, values).strip(" ")
    return state


def first_reason(state):
    """Why a job reads as it does, in its first sentence; "" where there is none. The state has its sentences."""
    stage = state["after"] if state["after"] is not None else state["before"]
    told = [entry["text"] for entry in state["why"]]
    for part in ("missing", "settle", "reasons"):
        told += stage["texts"][part]
    return told[0] if told else ""


def _words(request):
    """Takes the catalogue of the person's language, once after start."""
    _catalogue.clear()
    _catalogue.update(request["catalogue"])
    return len(_catalogue)


def _check(request):
    step = lookup.step_named(request["step"])
    context = {"depth_m": as_si(request.get("depth"))}
    found = check.problems(step, request["values"], context, request.get("is_complete", True))
    for problem in found:
        problem["text"] = trade_words.sentence(_catalogue, problem["code"], problem["values"])
    return found


def _show(request):
    return show.lines(lookup.step_named(request["step"]), request["values"], _catalogue)


def _tag(request):
    read = tag_code.read(request["text"])
    if not read["ok"]:
        read["text"] = trade_words.sentence(_catalogue, read["code"], read.get("values", {}))
    return read


def _merge(request):
    """Lays changes over snapshots, record by record, and returns snapshots and views."""
    done = []
    for entry in request["records"]:
        snapshot = entry.get("snapshot")
        for change in entry.get("changes", []):
            snapshot = merge.apply(snapshot, change)
        done.append({"snapshot": snapshot, "view": merge.view(snapshot, lookup.policy_of)})
    return done


def _job(request):
    views = {view["record"]: view for view in request["views"]}
    state = case.job_state(request["job"], views, request.get("rules"), request.get("calculation", ""))
    state["basis"] = case.basis_of(state)
    return with_texts(state, in_units_of(views.get("shop:rules"), _catalogue))


def _same(request):
    """The filters that are one with a filter, itself among them, as far as these views of links tell."""
    return group_of(request["filter"], {view["record"]: view for view in request["views"]})


def _judge(request):
    verdict = trade_judge.judge(request["case"])
    verdict["texts"] = trade_words.sentences(verdict, _catalogue)
    return verdict


def _instrument(request):
    """What a check of an instrument says, as it is being typed: {"ok", "texts"}; views: the instrument and the shop."""
    views = {view["record"]: view for view in request["views"]}
    book, words = Book("", views), in_units_of(views.get("shop:rules"), _catalogue)
    book.views["check:typed"] = {"record": "check:typed", "kind": request["kind"], "fields": {"reading": {
        "answers": [{"id": "~", "value": request["values"]}], "used": request["values"], "open": False}}}
    if request["kind"] == "scale_check":
        found = given.scale_check(book, book.views["check:typed"])
        return {"ok": found["ok"], "texts": [trade_words.sentence(words, found["code"], _masses(found))]}
    return trade_bench.told(given.bench_check(book, book.views["check:typed"]), given.rules_of(book), words)


def _masses(found):
    """The figures of a scale's check that are known, for its sentence."""
    return {name: found[name] for name in ("error_g", "limit_g", "weight_limit_g") if found[name] is not None}


def _quantity(request):
    """One function of the calculation by its name, on the arguments given."""
    return QUANTITIES[request["name"]](*request["given"])


_ops = {"words": _words, "check": _check, "show": _show, "tag": _tag, "merge": _merge, "job": _job, "judge": _judge,
        "instrument": _instrument, "same": _same, "quantity": _quantity}
