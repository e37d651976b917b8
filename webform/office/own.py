"""Own numbers: what this shop's accepted filters of a model read after cleaning, and limits learned from them."""

import datetime
from typing import Any

from flask import abort, redirect, render_template, request, url_for

from sync import lookup

from ..checklist.book import Book
from ..checklist.given import case_of, rules_of
from ..checklist.typed import as_si
from ..shop import standing_ids, value
from ..trade import bench, flow, own_numbers
from ..trade.notes import Notes
from ..trade.rules import Table
from ..trade.words import figure
from .pages import blueprint
from .settling import BY
from .wording import say, shop, words

GAUGE_U_PA = 12.5  # standard uncertainty put beside learned limits: 0.05 inH2O, shop's starting value


@blueprint.get("/office/own/<model>")
def own(model: str) -> str:
    """What the accepted filters of a model read, and whether that is enough."""
    view = _model(model)
    accepted, held = accepted_drops(model), value(view, "own")
    found = own_numbers.own_limits([drop_pa for _job, _serial, drop_pa in accepted])
    return render_template("own.html", view=view, model=model, name=value(view, "number") or model, accepted=[
        {"job": job, "serial": serial, "text": _pressure(drop_pa)} for job, serial, drop_pa in accepted],
        found=found, lines=_lines(found), ids=standing_ids(view, "own"), held=held,
        window=[_pressure(as_si(held[name])) for name in ("low", "high")] if held else [])


@blueprint.post("/office/own/<model>")
def publish(model: str) -> Any:
    """Publishes the learned limits as a revision of the model's own numbers; it replaces what the page showed."""
    _model(model)
    found = own_numbers.own_limits([drop_pa for _job, _serial, drop_pa in accepted_drops(model)])
    if not found["ok"]:
        abort(409)
    limits = {"low": _typed(found["low"]), "high": _typed(found["high"]), "uncertainty": _typed(GAUGE_U_PA),
              "filters": {"n": str(found["n"]), "u": ""}, "revision": datetime.date.today().isoformat()}
    receipt = shop().write(model, {"own": limits}, BY, {"own": request.form.getlist("ids.own")})
    if receipt["status"] != "stored":
        abort(409)
    return redirect(url_for(".own", model=model))


def _model(record: str) -> dict[str, Any]:
    """The view of a model; not found where there is none."""
    view = lookup.view(shop().store, record)
    if view is None or view["kind"] != "model":
        abort(404)
    return view


def accepted_drops(model: str) -> list[tuple[str, str, float]]:
    """(job, serial, restriction in Pa in the flow spec's air) of each job of the model signed off as OK, in their order."""
    found = []
    for filter_id in lookup.find(shop().store, "filter", "model", model):
        for job in lookup.find(shop().store, "job", "filter", filter_id):
            views, state = shop().read_job(job)
            if not _is_accepted(state["signoff"]):
                continue
            book = Book(job, views)
            case = case_of(book, "after", rules_of(book))
            blown = case["readings"]["flow"]
            raw_pa = flow.raw(blown)
            if raw_pa is not None:
                carried = bench.carried(raw_pa, blown, case["spec"], case["brick"], Table(case["rules"]), Notes())
                found.append((job, str(value(views[filter_id], "serial") or filter_id), carried.drop_pa))
    return sorted(found)


def _is_accepted(signoff: dict[str, Any] | None) -> bool:
    """Whether a filter went back as OK on readings that still stand; limits that came later do not matter here."""
    if not signoff or signoff["decision"] != "ok_to_reinstall" or signoff["is_disputed"] or not signoff["may_sign"]:
        return False
    return all(name.startswith(("model:", "shop:")) for name in signoff["changed"])


def _lines(found: dict[str, Any]) -> list[str]:
    """The sheet in sentences: n, spread, what was set aside, what it would take."""
    if found["ok"]:
        lines = [say("own_limits", n=found["n"], factor=f"{found['factor']:.3f}",
                     **{name: _pressure(found[name]) for name in ("low", "high", "mean", "deviation")})]
    else:
        code = "own_no_spread" if found["code"] == "own.no_spread" else "own_too_few"
        lines = [say(code, n=found["n"], needed=found["needed"])]
    return lines + [say("own_aside", value=_pressure(entry["value"])) for entry in found["set_aside"]]


def _pressure(value_pa: Any) -> str:
    return figure(words(), "drop_pa", float(value_pa)) if value_pa is not None else "?"


def _typed(value_pa: Any) -> dict[str, str]:
    """A pressure as a person would have typed it, in Pa to a tenth."""
    return {"n": f"{float(value_pa):.1f}", "u": "Pa"}
