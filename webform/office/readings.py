"""One job as the desk shows it: facts, readings of before, rounds and after side by side, arithmetic, history.

Everything is made from the declaration, so that a field that is declared appears here by itself.
"""

from typing import Any

from sync import lookup

from .. import photos
from ..checklist import show
from ..checklist.declaration import STAGES
from ..checklist.lookup import policy_of, step_of, steps
from ..report import issuing
from ..shop import value
from .wording import answer_of, field_name, lines_of, name_of, phone_of, say, shop, tiles, when, words

PARTS = ("reasons", "findings", "missing", "settle")
# Findings that only show how a figure came about: told with the arithmetic, as on the phone (phone/js/judge.js).
BEHIND = ("plate_good", "flow_corrected", "rod_average", "rod_allows_flow")


def about(views: dict[str, Any], job: str) -> dict[str, str]:
    """What a job is known by: serial, model, owner, truck, work order, tag, and who wrote last."""
    view = views[job]
    filter_view = views.get(value(view, "filter") or "")
    model = views.get(value(filter_view, "model") or "") if filter_view else None
    owner = views.get(value(view, "owner") or "")
    newest = max((answer for held in view["fields"].values() for answer in held["answers"]),
                 key=lambda answer: (answer["lamport"], answer["id"]))
    return {"serial": (value(filter_view, "serial") if filter_view else "") or "",
            "model": (value(model, "number") if model else "") or "", "owner": (value(owner, "name") if owner else "") or "",
            "truck": value(view, "truck") or "", "work_order": value(view, "work_order") or "",
            "tag": next((name.removeprefix("tag:") for name in sorted(views) if name.startswith("tag:")), ""),
            "by": name_of(newest["by"]), "when": when(newest["at"]), "at": newest["at"]}


def ledger(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Jobs as Shop.listed() gives them, with what each is known by and waits for: a line each of the desk's lists."""
    return [{"job": entry["job"], "state": entry["state"], "about": about(entry["views"], entry["job"]),
             "waits": waits(entry["state"], entry["views"][entry["job"]])} for entry in entries]


def waits(state: dict[str, Any], job_view: dict[str, Any]) -> dict[str, Any]:
    """What a job waits for next: {"text", "more": how many things more, "is_done"}."""
    if state["void"] is not None:
        return {"text": say("wait_void" if state["void"]["stands"] else "wait_void_again"), "more": 0,
                "is_done": state["void"]["stands"]}
    signoff, now = state["signoff"], state["after"] or state["before"]
    open_things = now["texts"]["missing"] + now["texts"]["settle"]
    if any(policy_of(entry["record"].partition(":")[0], entry["field"]) != "later" for entry in state["two_answers"]):
        return _wait(say("wait_two_answers"))
    if signoff and signoff["stands"]:
        return {"text": say("wait_signed", person=name_of(signoff["person"])), "more": 0, "is_done": True}
    if signoff:
        return _wait(say("wait_sign_again"))
    if state["verdict"] == "clean":
        return _wait(say("wait_clean" if value(job_view, "owner_answer") else "wait_owner"))
    if state["verdict"] == "clean_again":
        return _wait(say("wait_round"))
    if state["verdict"] == "hold" and open_things:
        return {"text": open_things[0], "more": len(open_things) - 1, "is_done": False}
    return _wait(say("wait_sign"))


def facts(views: dict[str, Any], job: str) -> list[dict[str, Any]]:
    """{"label", "texts"} of filter and check-in: one text a field, several where different answers stand."""
    found = []
    sources = {"filter": views.get(value(views[job], "filter") or ""), "job": views[job]}
    for step in steps():
        view = sources.get(step.record)
        if step.slot is not None or view is None or step.name == "job_filter":
            continue
        for field in step.fields:
            held = view["fields"].get(field.name)
            texts = [line["text"] for answer in (held["answers"] if held else [])
                     for line in lines_of(step, field.name, answer["value"])]
            if texts:
                found.append({"label": show.label_of(step, field, words()), "texts": list(dict.fromkeys(texts))})
    return found


def decisions(view: dict[str, Any]) -> list[dict[str, Any]]:
    """What people decided: the owner's answer, the sign-off; {"title", "answers"}."""
    return [{"title": show.title_of(step, words()), "answers": _answers(step, view, step.slot)}
            for step in steps() if step.record == "job" and step.slot not in (None, "report") and not step.is_staged
            and _answers(step, view, step.slot)]


def table(views: dict[str, Any], job: str) -> dict[str, Any]:
    """{"columns": [titles], "rows": [{"title", "cells": [[answer, ...], ...]}]} of all readings and rounds."""
    rounds = sorted((view for view in views.values() if view["kind"] == "round" and value(view, "job") == job),
                    key=_first)
    sources: list[tuple[str, str, Any]] = [("before", words()["page.before"], views[job])]
    sources += [("round", say("round", n=number), view) for number, view in enumerate(rounds, 1)]
    sources.append(("after", words()["page.after"], views[job]))
    of_round = {step.slot: step for step in steps() if step.record == "round" and step.slot}
    staged = {step.slot: step for step in steps() if step.is_staged}
    rows = []
    for slot in [*(slot for slot in of_round if slot not in staged), *staged]:
        cells = [_answers(of_round.get(slot), view, slot) if column == "round"
                 else _answers(staged.get(slot), view, f"{column}.{slot}") for column, _title, view in sources]
        rows.append({"title": show.title_of(staged.get(slot) or of_round[slot], words()), "cells": cells})
    used = [place for place in range(len(sources)) if any(row["cells"][place] for row in rows)]
    return {"columns": [sources[place][1] for place in used],
            "rows": [{"title": row["title"], "cells": [row["cells"][place] for place in used]}
                     for row in rows if any(row["cells"])]}


def absent_photos(views: dict[str, Any], job: str) -> list[dict[str, Any]]:
    """The photos that the report of a job waits for: {"sha256", "name", "taken", "phone"}."""
    rounds = [view for view in views.values() if view["kind"] == "round" and value(view, "job") == job]
    named = {photo["sha256"]: photo for photo in photos.named([views[job], *rounds])}
    return [{"sha256": tile["sha256"], "taken": when(named[tile["sha256"]]["taken_at"]),
             "name": field_name(named[tile["sha256"]]["kind"], named[tile["sha256"]]["step"], named[tile["sha256"]]["field"]),
             "phone": phone_of(named[tile["sha256"]]["change"])}
            for tile in tiles(list(named.values())) if tile["state"] == "waits"]


def whose(job: str) -> str:
    """Filter, truck and owner of a job on one line: whom to call."""
    told = about(shop().read_job(job)[0], job)
    return " · ".join(text for text in (told["serial"], told["truck"], told["owner"]) if text)


def recall(report: dict[str, Any], state: dict[str, Any]) -> str:
    """The sentence that recalls an issued report, "" while it stands or where a newer one replaces it."""
    return "" if report["replaced_by"] else issuing.recall(report, state, words(), "desk.recall")


def reports(job: str, state: dict[str, Any]) -> list[dict[str, str]]:
    """The issued reports of a job, the newest first: {"number", "when", "at", "note", "recall"}."""
    found = []
    for report in shop().issued.of_job(job):
        told = recall(report, state)
        note = say("report_replaced", number=report["replaced_by"]) if report["replaced_by"] else \
            say("report_recalled") if told else ""
        found.append({"number": report["number"], "when": when(report["issued_at"]), "at": report["issued_at"],
                      "note": note, "recall": told})
    return found


def told(state: dict[str, Any], stage: str) -> list[dict[str, str]]:
    """{"part", "text"} of what is said of a stage at once: why, what to do, then what else was found and what is missing."""
    return [{"part": part, "text": text} for part in ("reasons", "settle", "findings", "missing")
            for reason, text in zip(state[stage][part], state[stage]["texts"][part], strict=True)
            if part != "findings" or reason["code"] not in BEHIND]


def arithmetic(state: dict[str, Any]) -> list[dict[str, Any]]:
    """{"stage", "rows"} with the figures, rule and origin of every reason of a stage, as the calculation had them (SI)."""
    found = []
    for stage in STAGES:
        if state[stage]:
            rows = [{"text": text, "rule": reason["rule"], "origin": words().get("origin." + reason["origin"], ""),
                     "figures": [f"{name} = {_figure(reason['values'][name])}" for name in sorted(reason["values"])]}
                    for part in PARTS for reason, text in zip(state[stage][part], state[stage]["texts"][part], strict=True)]
            found.append({"title": words()["page." + stage], "rows": rows})
    return found


def history(views: dict[str, Any], job: str) -> list[dict[str, Any]]:
    """Every answer of the job and its rounds, the newest first, also those that no longer stand."""
    found = []
    for record, view in views.items():
        if record != job and not (view["kind"] == "round" and value(view, "job") == job):
            continue
        for entry in lookup.history(shop().store, record):
            change = entry["change"] or {"set": {}, "by": "", "at": ""}
            for field in sorted(change["set"]):
                step = step_of(view["kind"], field)
                standing = view["fields"].get(field, {"answers": []})["answers"]
                found.append({"position": entry["position"], "by": name_of(change["by"]), "when": when(change["at"]),
                              "at": change["at"], "phone": phone_of(entry["id"]),
                              "name": field_name(view["kind"], step, field),
                              "lines": lines_of(step, field, change["set"][field]),
                              "stands": any(answer["id"] == entry["id"] for answer in standing)})
    return sorted(found, key=lambda line: -line["position"])


def _wait(text: str) -> dict[str, Any]:
    return {"text": text, "more": 0, "is_done": False}


def _answers(step: Any, view: dict[str, Any], stored: str) -> list[dict[str, Any]]:
    """The standing answers of a slot, equal ones once; none where this record has no such step."""
    held = view["fields"].get(stored)
    if step is None or held is None:
        return []
    return [answer_of(step, stored, answer) for answer in (held["answers"] if held["open"] else held["answers"][:1])]


def _first(view: dict[str, Any]) -> tuple[int, str]:
    return min(answer["lamport"] for held in view["fields"].values() for answer in held["answers"]), view["record"]


def _figure(figure: Any) -> str:
    return f"{figure:.6g}" if isinstance(figure, float) else str(figure)
