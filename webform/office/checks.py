"""The desk's page of instruments: every check with what it says, the control chart, the readings to recheck."""

import datetime
import time
from typing import Any

from flask import render_template

from sync import lookup

from ..checklist import given
from ..checklist.book import Book, first_lamport
from ..checklist.lookup import step_of
from ..shop import value
from ..trade import bench, chart, scales
from ..trade.words import sentence
from ..verdicts import Views
from .pages import blueprint
from .wording import field_name, name_of, say, shop, when, words

STATES = {"good": True, "out": False, "unproven": None}
KINDS = {"bench": "bench_check", "scale": "scale_check"}
MOST = 2000
CHECK_HOLDS_S = 24 * 3600.0  # shop's starting value: both instruments are checked once a day


@blueprint.get("/office/checks")
def checks() -> str:
    """All instruments with their checks, the newest first."""
    store = shop().store
    instruments = lookup.views(store, [entry["record"] for entry in lookup.records(store, "instrument", MOST)])
    listed = {kind: lookup.views(store, [entry["record"] for entry in lookup.records(store, kind, MOST)])
              for kind in KINDS.values()}
    settings, readings = lookup.views(store, ["shop:rules"]), _readings()
    rows = [_instrument(view, listed.get(KINDS.get(value(view, "type") or "", ""), {}), settings, readings)
            for view in instruments.values()]
    rows.sort(key=lambda row: (row["name"].lower(), row["record"]))
    return render_template("checks.html", rows=rows, recheck=[entry for row in rows for entry in row["recheck"]])


def _instrument(instrument: dict[str, Any], all_checks: Views, settings: Views,
                readings: list[dict[str, Any]]) -> dict[str, Any]:
    """One instrument: its checks with their sentences, its chart, and what a failed one throws doubt on."""
    mine = [view for view in all_checks.values() if _reading(view).get("instrument") == instrument["record"]]
    mine.sort(key=lambda view: (first_lamport(view), view["record"]))
    told = [_told(instrument, view, settings) for view in mine]
    known = [{"id": check["record"], "instrument": instrument["record"], "before": check["previous"], "ok": check["ok"]}
             for check in told]
    covered = [entry for entry in readings if entry["check"] in {check["record"] for check in told}]
    doubtful = {entry["id"] for entry in chart.to_recheck(known, covered)}
    return {"record": instrument["record"], "name": str(value(instrument, "name") or instrument["record"]),
            "checks": told[::-1], "chart": _chart(told), "is_due": bool(told) and _is_due(told[-1]["at"]),
            "recheck": [_place(entry) for entry in covered if entry["id"] in doubtful]}


def _told(instrument: dict[str, Any], check: dict[str, Any], settings: Views) -> dict[str, Any]:
    """A check in sentences: {"record", "ok", "texts", "at", "when", "by", "error", "previous"}.

    ok: True, False where the instrument is proven wrong, None where the check proves nothing.
    """
    book = Book("", {**settings, instrument["record"]: instrument, check["record"]: check})
    answer = check["fields"]["reading"]["answers"][0]
    found: dict[str, Any] = {"record": check["record"], "at": answer["at"], "when": when(answer["at"]),
                             "by": name_of(answer["by"]), "previous": _reading(check).get("previous"), "error": None}
    if check["kind"] == "scale_check":
        said = given.scale_check(book, check) or {"ok": False, "code": "scale.bad_data"}
        figures = {name: said[name] for name in ("error_g", "limit_g", "weight_limit_g") if said.get(name) is not None}
        return {**found, "ok": STATES[scales.state_of(said)], "texts": [sentence(words(), said["code"], figures)],
                "error": said.get("error_g")}
    told = bench.told(given.bench_check(book, check), given.rules_of(book), words())
    is_ok = True if told["ok"] else False if told["is_out"] else None
    return {**found, "ok": is_ok, "texts": told["texts"], "error": told["drift_fraction"]}


def _is_due(at: str) -> bool:
    """Whether the next check is due, by this machine's clock and that of the phone that made the last one."""
    try:
        last = datetime.datetime.fromisoformat(at).timestamp()
    except (ValueError, OverflowError):
        return True
    return chart.is_due(last, time.time(), CHECK_HOLDS_S)


def _readings() -> list[dict[str, Any]]:
    """The readings that name a check: {"id": "record/field", "check"}."""
    store, found = shop().store, []
    for kind in ("job", "round"):
        views = lookup.views(store, [entry["record"] for entry in lookup.records(store, kind, MOST)])
        for record, view in views.items():
            for field, held in view["fields"].items():
                for answer in held["answers"]:
                    named = answer["value"].get("check") if isinstance(answer["value"], dict) else None
                    if named:
                        found.append({"id": f"{record}/{field}", "check": named})
    return found


def _place(entry: dict[str, Any]) -> dict[str, str]:
    """Where a reading to recheck stands: the job, the filter's serial and the name of the reading."""
    record, _, field = entry["id"].partition("/")
    view = lookup.views(shop().store, [record])[record]
    job = record if view["kind"] == "job" else str(value(view, "job"))
    views = shop().views_of_job(job)
    filter_view = views.get(value(views[job], "filter") or "") if job in views else None
    serial = value(filter_view, "serial") if filter_view else ""
    return {"job": job, "serial": str(serial or job), "field": field_name(view["kind"], step_of(view["kind"], field), field)}


def _chart(told: list[dict[str, Any]]) -> list[str]:
    """The control chart of the errors in sentences."""
    known = [check for check in told if check["error"] is not None]
    errors = [check["error"] for check in known]
    found: dict[str, Any] = chart.individuals(errors)
    if not found["ok"]:
        return [say("chart_few", needed=chart.FEWEST, n=len(known))] if told else []
    lines = [say("chart", n=found["n"], **{name: f"{found[name]:.4g}" for name in ("centre", "low", "high")})]
    signals = chart.signals(chart.distances(errors, found["centre"], found["sigma"]))
    return lines + [say("chart_signal", rule=rule, at=known[place]["when"]) for place, rule in signals]


def _reading(check: dict[str, Any]) -> dict[str, Any]:
    """The first standing reading of a check."""
    held = check["fields"].get("reading")
    return held["answers"][0]["value"] if held and held["answers"] and isinstance(held["answers"][0]["value"], dict) else {}
