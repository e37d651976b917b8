"""What a change says before it counts, or when it cannot: who, when, about which filter, and what was answered.

It is read as far as it can be read: what a stranger sent may hold anything. Photos are counted and never drawn, for nobody
sees what a phone showed that was shut out until a person lets it in.
"""

import json
from typing import Any

from sync import lookup
from sync.json_text import Refused, strict_json

from ..checklist import show
from ..checklist.lookup import step_of
from ..shop import value
from .wording import field_name, name_of, say, shop, when, words

LONGEST = 80
# HTML allows no control characters but these two: the others are shown by their pictures (Unicode, U+2400 on).
PICTURES = {code: 0x2400 + code for code in range(0x20) if chr(code) not in "\n\t"} | {0x7F: 0x2421}
UNREADABLE = (Refused, KeyError, TypeError, ValueError, AttributeError, IndexError, RecursionError)


def told(text: str) -> dict[str, Any]:
    """{"by", "when", "about", "of": {"name", "job"}, "lines", "pretty"}; "" and [] for what cannot be read."""
    found: dict[str, Any] = {"by": "", "when": "", "about": "", "of": {"name": "", "job": ""}, "lines": [],
                             "pretty": text.translate(PICTURES)}
    try:
        change = strict_json(text)
        found["pretty"] = json.dumps(change, ensure_ascii=False, indent=2)
        found["by"], found["when"] = name_of(str(change["by"])), when(str(change["at"]))
        kind, fields = str(change["kind"]), sorted(change["set"])
        found["about"] = "; ".join(field_name(kind, step_of(kind, field), field) for field in fields)
        found["of"] = record_of(str(change["record"]), change["set"].get("job"))
        for field in fields:
            found["lines"] += _lines(kind, field, change["set"][field])
    except UNREADABLE:
        pass
    return found


def record_of(record: str, job: Any = None) -> dict[str, str]:
    """{"name", "job"}: what a record is known by, and the job's page where it belongs to one.

    job: the one that a new round says it belongs to.
    """
    view = lookup.view(shop().store, record)
    kind, name = record.partition(":")[0], record.partition(":")[2]
    if kind == "round":
        job = value(view, "job") if view else job
    found = view if kind == "job" else lookup.view(shop().store, job) if kind == "round" and isinstance(job, str) else None
    if found is not None:
        parts = [name_of(value(found, "filter") or ""), value(found, "truck"), value(found, "work_order")]
        return {"name": " · ".join(part for part in parts if part), "job": found["record"].removeprefix("job:")}
    if kind == "tag":
        return {"name": f"{words()['desk.kind_tag']} {name}", "job": ""}
    return {"name": name_of(record) if view else say("not_in_books"), "job": ""}


def _lines(kind: str, field: str, held: Any) -> list[dict[str, str]]:
    """The answer of one field as lines of label and text; as it arrived where no step declares it or it is malformed."""
    step = step_of(kind, field)
    try:
        if step is None:
            raise KeyError(field)
        return [{"label": line["label"], "text": name_of(line["text"])}
                for line in show.lines(step, held if step.slot else {field: held}, words())]
    except UNREADABLE:
        plain = json.dumps(held, ensure_ascii=False)
        return [{"label": field_name(kind, step, field), "text": plain[:LONGEST] + ("…" if len(plain) > LONGEST else "")}]
