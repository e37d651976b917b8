"""The readings in a report, as they were typed: the table, the cleaning rounds, the flow limit, the figures at its head."""

from ..checklist import show
from ..checklist.declaration import STAGES
from ..checklist.lookup import step_named, steps
from ..trade.words import sentence
from .records import Records

# Readings whose figures stand at the head of the page, beside the verdict.
KEY_FIGURES = (("weight", ("mass",)), ("flow", ("drop", "drop_2", "drop_3")))


def table(records: Records, words: dict[str, str]) -> list[dict]:
    """The readings as typed: [{"title", "rows": [{"label", "before", "after", "is_key"}]}] of every staged step."""
    found = []
    for step in steps():
        if not step.is_staged:
            continue
        cells = {stage: _cells(records, stage, step, words) for stage in STAGES}
        rows = [{"label": words.get("report.field." + step.name + "." + field.name, show.label_of(step, field, words)),
                 "before": cells["before"].get(field.name, ""), "after": cells["after"].get(field.name, ""),
                 "is_key": field.required and field.kind in ("number", "cells")} for field in step.fields]
        rows = [row for row in rows if row["before"] or row["after"]]
        if not rows:
            rows = [{"label": "", "before": "", "after": "", "is_key": False}]
        for stage in STAGES:
            for word in ("skipped", "none"):
                rows[0][stage] = cells[stage].get(word, "") or rows[0][stage]
        found.append({"title": words.get("report.test." + step.name, show.title_of(step, words)), "rows": rows})
    return found


def _cells(records: Records, stage: str, step, words: dict[str, str], is_short: bool = False) -> dict[str, str]:
    """Field name → text of one reading; two answers joined by "or"; "none" says that it was not done.

    is_short: not when a weight was taken.
    """
    answers = records.values(records.job, stage + "." + step.slot)
    suffix = ""
    if not answers and stage == "after" and step.slot == "weight" and records.rounds:
        answers = records.values(records.rounds[-1], "weight")
        suffix = " (" + sentence(words, "report.weighed_in_round", {"number": len(records.rounds)}) + ")"
    if not answers:
        return {"none": words["report.not_done"]}
    found: dict[str, list[str]] = {}
    for value in answers:
        for line in show.lines(step, value, words):
            text = line["label"] + ": " + line["text"] if line["field"] == "skipped" else records.name(line["text"])
            texts = found.setdefault(line["field"], [])
            if text not in texts:
                texts.append(text)
    between = " " + words["report.or"] + " "
    cells = {name: between.join(texts) for name, texts in found.items()}
    first = step.fields[0].name
    if suffix and first in cells and not is_short:
        cells[first] += suffix
    return cells


def rounds(records: Records, words: dict[str, str]) -> list[dict[str, str]]:
    """[{"label": "Round 1", "text": "Oven, 480 min, 600 °C", "weight": "13900 g, Cold, Dry"}]"""
    found = []
    for number, view in enumerate(records.rounds, 1):
        texts = {}
        for name in ("treatment", "round_weight"):
            step = step_named(name)
            answers = [", ".join(_in_a_row(records, step, line) for line in show.lines(step, value, words))
                       for value in records.values(view, step.slot)]
            texts[name] = (" " + words["report.or"] + " ").join(dict.fromkeys(answers))
        found.append({"label": sentence(words, "report.round", {"number": number}), "text": texts["treatment"],
                      "weight": texts["round_weight"]})
    return found


def _in_a_row(records: Records, step, line: dict[str, str]) -> str:
    """A line's text among others; of a record that it names the label too, for a date alone says nothing."""
    is_named = any(field.name == line["field"] and field.kind == "ref" for field in step.fields)
    return line["label"] + ": " + records.name(line["text"]) if is_named else line["text"]


def limits(records: Records, words: dict[str, str]) -> list[dict[str, str]]:
    """Label and text of all that the model's flow spec holds."""
    return pairs(records, records.model, step_named("spec"), "spec", words)


def figures(records: Records, stage: str, words: dict[str, str]) -> list[str]:
    """["Weight 14480 g", "Restriction 2.75 inH2O"]: figures of a stage as typed, to stand beside what it was found to be."""
    found = []
    for name, fields in KEY_FIGURES:
        cells = _cells(records, stage, step_named(name), words, is_short=True)
        texts = [cells[field] for field in fields if field in cells]
        if texts:
            found.append(words["report.figure." + name] + " " + ", ".join(texts))
    return found


def limit(records: Records, words: dict[str, str]) -> dict[str, str] | None:
    """{"figure": "1.60 to 2.00 inH2O", "from": where it comes from}; None without a flow spec, or while two of them stand."""
    specs = records.values(records.model, "spec")
    if len(specs) != 1:
        return None
    low, high = specs[0]["low"], specs[0]["high"]
    texts = {"low": low["n"] if low["u"] == high["u"] else f"{low['n']} {low['u']}", "high": f"{high['n']} {high['u']}"}
    return {"figure": sentence(words, "report.limit_figure", texts), "from": f"{specs[0]['origin']}, {specs[0]['revision']}"}


def pairs(records: Records, view: dict | None, step, slot: str, words: dict[str, str]) -> list[dict[str, str]]:
    """Label and text of a whole answer; where two stand, both in turn."""
    return [{"label": line["label"], "text": records.name(line["text"])}
            for value in records.values(view, slot) for line in show.lines(step, value, words)]
