"""What the owner's report says, as one plain dict that the page and the PDF both draw.

Everything is read from the records and the job state; fields come from the declaration, so a field that is declared
appears here by itself. Invariants: without a sign-off it reads "draft"; while two answers stand, a sign-off does not
stand, or a photo that it names has neither arrived nor been given up, it reads "not final"; texts are plain text, and
what draws them escapes them.
"""

import copy

from ..checklist import show
from ..checklist.calls import with_texts
from ..checklist.declaration import CAUTIONS, READINGS, STAGES
from ..checklist.lookup import policy_of, step_named, step_of, steps
from ..trade.words import sentence
from . import readings
from .photo_rows import photo_alarms, photo_rows
from .records import Records, when
from .steps_ahead import steps_ahead
from .thresholds import thresholds

SHOWN_CAUTIONS = ("law", "heat", "ash_dust")
# Reasons that have a place of their own on the page.
TOLD_APART = ("removed", "removed_after_oven", "flow_limit_released", "no_flow_limit")
# What is told of the instruments, in small print.
MEASURED = ("plate_good", "flow_corrected")
# What is of no interest any more once it has been read after cleaning.
SETTLED_LATER = ("tests_missing", "light_proves_nothing")


def content(records: Records, state: dict, words: dict[str, str], printed_at: str,
            photos: dict[str, dict[str, str]] | None = None) -> dict:
    """The report of one job. Its keys, in the order in which they are read:

    shop, title, work_order, issue (number and date, once it has them), status, may_issue, verdict, why, stages, removed,
    limit (of the restriction, short), next, measured (how the instruments were proven), legend, facts, table, rounds,
    limits, photos, decision, owner_answer, cautions, notes (origins of the limits), thresholds, small.
    photos: how each named photo stands.
    """
    pictures = photo_rows(records, photos or {}, words, when)
    state = with_texts(_with_names(state, records, words), words)
    notes: list[str] = []
    is_released = state["verdict"] == "ok_to_reinstall" and _limit_note(state, words) != ""
    verdict = {"code": state["verdict"], "word": _word(state["verdict"], words),
               "meaning": words["report.meaning." + ("released" if is_released else state["verdict"])]}
    two = [_two_answers_name(entry, words) for entry in state["two_answers"] if _counts(entry)]
    status = _status(state, two, any(row["state"] == "waits" for row in pictures), words)
    return {
        "shop": records.shop(), "title": words["report.title"], "verdict": verdict, "photos": pictures,
        "work_order": records.text(records.job, "check_in", "work_order", words),
        "issue": words["report.not_issued"], "status": status, "may_issue": status["code"] == "final",
        "why": ([sentence(words, "report.two_answers", {"fields": ", ".join(two)})] if two else [])
        + [entry["text"] for entry in state["why"]] + photo_alarms(pictures, words),
        "stages": _stages(records, state, notes, words),
        "removed": _removed(state, words),
        "next": steps_ahead(records, state, words), "next_note": words["report.general"],
        "measured": _measured(state), "legend": words["report.legend"],
        "facts": _facts(records, words), "table": readings.table(records, words), "rounds": readings.rounds(records, words),
        "limits": readings.limits(records, words), "limit": readings.limit(records, words),
        "limit_note": _limit_note(state, words),
        "decision": _decision(records, state, words),
        "owner_answer": readings.pairs(records, records.job, step_named("owner_answer"), "owner_answer", words),
        "cautions": [words.get("caution." + c.code, c.text) for c in CAUTIONS if c.code in SHOWN_CAUTIONS],
        "notes": notes, "thresholds": thresholds(records, state["rules"], words, when),
        "small": [
            sentence(words, "report.readings_by", {"people": ", ".join(records.readers())}) + "." if records.readers()
            else "",
            sentence(words, "report.small", {"calculation": state["calculation"][:12] or "–",
                                             "job": state["job"].partition(":")[2]}),
            sentence(words, "report.printed", {"when": when(printed_at)}) + ".",
        ],
    }


def _with_names(state: dict, records: Records, words: dict[str, str]) -> dict:
    """A copy of the state whose reasons name people and verdicts in words instead of by id and code."""
    state = copy.deepcopy(state)
    for name in STAGES:
        for part in ("reasons", "findings", "missing", "settle"):
            for reason in (state[name] or {}).get(part, []):
                if "person" in reason["values"]:
                    reason["values"]["person"] = records.name(reason["values"]["person"])
    for entry in state["why"]:
        for name in ("worse", "verdict"):
            if name in entry["values"]:
                code = entry["values"][name]
                entry["values"][name] = words.get("verdict." + code, code)
    return state


def _status(state: dict, two: list[str], is_waiting: bool, words: dict[str, str]) -> dict[str, str]:
    if state["signoff"] is None and not two:
        return {"code": "draft", "word": words["report.draft"], "text": words["report.draft_text"]}
    if state["may_issue"] and not two and is_waiting:
        return {"code": "not_final", "word": words["report.not_final"], "text": words["report.waits"]}
    if state["may_issue"] and not two:
        return {"code": "final", "word": words["report.final"], "text": ""}
    return {"code": "not_final", "word": words["report.not_final"], "text": ""}


def _counts(entry: dict) -> bool:
    """Whether two answers keep a report from being final: all but those in fields where the later one is used."""
    return policy_of(entry["record"].partition(":")[0], entry["field"]) != "later"


def _two_answers_name(entry: dict, words: dict[str, str]) -> str:
    step = step_of(entry["record"].partition(":")[0], entry["field"])
    if step is None:
        return entry["field"]
    name = show.title_of(step, words)
    if step.slot is None:
        name = next(show.label_of(step, field, words) for field in step.fields if field.name == entry["field"])
    stage = entry["field"].partition(".")[0]
    return f"{name} ({words['report.' + stage].lower()})" if step.is_staged else name


def _stages(records: Records, state: dict, notes: list[str], words: dict[str, str]) -> list[dict]:
    """What each stage was found to be; as found is left out where nothing was read before cleaning."""
    has_before = any(records.values(records.job, "before." + name) for name in READINGS)
    names = [name for name in STAGES if state[name] is not None and (name != "before" or has_before)]
    found = [{**_stage(state, name, notes, words), "figures": readings.figures(records, name, words)}
             for name in names or ["before"]]
    if any(entry["code"] == "state.two_answers" for entry in state["why"]):
        found[-1].update(code=state["verdict"], word=_word(state["verdict"], words, "report.stands."),
                         reading=words["report.one_answer"])
    return found


def _stage(state: dict, name: str, notes: list[str], words: dict[str, str]) -> dict:
    verdict = state[name]
    apart = TOLD_APART + MEASURED + (SETTLED_LATER if name == "before" and state["after"] else ())
    parts = {}
    for part in ("reasons", "findings", "missing", "settle"):
        parts[part] = [{"text": _told(reason, text, words), "note": _note(reason, part, notes, words)}
                       for reason, text in zip(verdict[part], verdict["texts"][part], strict=True)
                       if reason["code"] not in apart]
    word = _word(verdict["verdict"], words, "report.stands.")
    return {"name": name, "title": words["report." + name], "code": verdict["verdict"], "word": word,
            "reading": word, "close": words["report.close"] if verdict["close"] else "", **parts}


def _told(reason: dict, text: str, words: dict[str, str]) -> str:
    """A reason as the owner reads it: in words of its own (report.reason.CODE) where the technician's would mislead."""
    key = "report.reason." + reason["code"]
    return sentence(words, key, reason["values"]) if key in words else text


def _word(code: str, words: dict[str, str], key: str = "report.word.") -> str:
    """A verdict in the owner's words: as what to do, or (report.stands.) as how it is; a lone "Clean" could mean either."""
    return words.get(key + code, words["verdict." + code])


def _note(reason: dict, part: str, notes: list[str], words: dict[str, str]) -> int:
    """The number of the note that says where a reason's limit comes from; 0 where there is no limit to speak of."""
    if part not in ("reasons", "findings") or "origin" not in reason:
        return 0
    if not any("limit" in name or name == "high_pa" for name in reason["values"]) and part == "findings":
        return 0
    text = words.get("origin." + reason["origin"], reason["origin"])
    if text not in notes:
        notes.append(text)
    return notes.index(text) + 1


def _measured(state: dict) -> list[str]:
    """What is told of the instruments, each sentence once."""
    found = []
    for stage in [state[name] for name in STAGES if state[name] is not None]:
        for part in ("reasons", "findings"):
            found += [text for reason, text in zip(stage[part], stage["texts"][part], strict=True)
                      if reason["code"] in MEASURED]
    return list(dict.fromkeys(found))


def _removed(state: dict, words: dict[str, str]) -> dict[str, str] | None:
    """{"figure": "700 g came off", "text": of what}, after cleaning."""
    verdict = state["after"] or {"reasons": [], "findings": []}
    for part in ("reasons", "findings"):
        for reason in verdict[part]:
            if reason["code"] in ("removed", "removed_after_oven"):
                return {"figure": sentence(words, "report.removed", {"removed_g": reason["values"]["removed_g"]}),
                        "text": words["report." + reason["code"] + "_was"]}
    return None


def _facts(records: Records, words: dict[str, str]) -> list[dict[str, str]]:
    """Label and text of everything known about the filter and its stay, from the declared fields."""
    found = []
    if records.tags:
        found.append({"label": words["report.tag"], "text": ", ".join(records.tags)})
    for view in (records.filter, records.model, records.job):
        for step in steps():
            if view is None or step.record != view["kind"] or step.slot is not None or step.name == "job_filter":
                continue
            for field in step.fields:
                text = records.text(view, step.name, field.name, words)
                is_told = step.name == "model" and field.name == "number"
                if text and not is_told:
                    found.append({"label": show.label_of(step, field, words), "text": text})
    return found


def _limit_note(state: dict, words: dict[str, str]) -> str:
    """"No flow limit on file", and who released it, wherever that was so."""
    for name in reversed(STAGES):
        verdict = state[name] or {"reasons": [], "findings": [], "missing": []}
        for part in ("reasons", "findings", "missing"):
            for reason in verdict[part]:
                if reason["code"] == "flow_limit_released":
                    return sentence(words, "report.limit_note", reason["values"])
                if reason["code"] == "no_flow_limit":
                    return words["report.limits_none"]
    return ""


def _decision(records: Records, state: dict, words: dict[str, str]) -> dict | None:
    """Who decided what and when, and the reason where it differs from what the readings say."""
    signoff = state["signoff"]
    if signoff is None:
        return None
    person, word = records.name(signoff["person"]), _word(signoff["decision"], words)
    lines = [sentence(words, "report.decided", {"person": person, "when": when(signoff["at"])})]
    if signoff["decision"] != state["calculated"]:
        lines.append(sentence(words, "report.decision_differs", {
            "calculated": _word(state["calculated"], words), "decision": word, "person": person,
            "why": signoff["reason"] or "–"}))
    elif signoff["reason"]:
        lines.append(sentence(words, "report.reason_given", {"why": signoff["reason"]}))
    return {"code": signoff["decision"], "word": word, "person": person, "at": when(signoff["at"]), "lines": lines}
