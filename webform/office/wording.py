"""What the desk says and how: sentences of the catalogue, times of the shop's own clock, names instead of ids."""

import datetime
from typing import Any

from flask import current_app, g

from sync import lookup
from sync.log import Unavailable

from .. import photos
from ..checklist import show
from ..shop import Shop, value
from ..trade.words import sentence
from ..words import catalogue

NAMED_BY = {"person": "name", "owner": "name", "model": "number", "filter": "serial", "shop": "name", "instrument": "name"}
CHECKS = ("bench_check", "scale_check")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def shop() -> Shop:
    """The books of this app."""
    found: Shop = current_app.extensions["shop"]
    return found


def words() -> dict[str, str]:
    """The catalogue of this request, in the shop's units; in the usual ones where the books cannot be read."""
    if "words" not in g:
        try:
            g.words = shop().words()
        except Unavailable:
            g.words = catalogue()
    found: dict[str, str] = g.words
    return found


def say(key: str, **values: Any) -> str:
    """The desk's sentence of that name: say("held_none") is desk.held_none of the catalogue."""
    return sentence(words(), "desk." + key, values)


def why_held(reason: str) -> str:
    """The reason of a held change in words; an answer that does not fit says so without its figures."""
    if "held." + reason in words():
        return sentence(words(), "held." + reason, {})
    return say("held_unfit" if reason in words() else "held_unreadable")


def when(at: str, now: datetime.datetime | None = None) -> str:
    """A stored time on the clock of this machine: "today 17:40", "24 Nov 17:40"; the text itself where it is no time."""
    try:
        moment = datetime.datetime.fromisoformat(at).astimezone()
    except (ValueError, OverflowError):
        return at
    today = (now or datetime.datetime.now()).astimezone().date()
    clock = f"{moment.hour:02}:{moment.minute:02}"
    if moment.date() == today:
        return f"{words()['desk.day_today']} {clock}"
    if moment.date() == today - datetime.timedelta(days=1):
        return f"{words()['desk.day_yesterday']} {clock}"
    year = "" if moment.year == today.year else f" {moment.year}"
    return f"{moment.day} {MONTHS[moment.month - 1]}{year} {clock}"


def name_of(record: str) -> str:
    """The name of a record or of the desk, of a check its time; the id itself where there is none."""
    if record.startswith("desk:"):
        return say("office")
    kind = record.partition(":")[0]
    if kind not in NAMED_BY and kind not in CHECKS:
        return record
    known = g.setdefault("names", {})
    if record not in known:
        view = lookup.view(shop().store, record)
        if view and kind in CHECKS:
            return when(max(answer["at"] for held in view["fields"].values() for answer in held["answers"]))
        known[record] = (value(view, NAMED_BY[kind]) if view and kind in NAMED_BY else None) or (
            say("owner_erased") if view and kind == "owner" else record)
    return str(known[record])


def phone_of(change: str) -> str:
    """The name of the phone that made a change, from the change's id."""
    device = change.split(".")[0]
    if "phones" not in g:
        g.phones = current_app.extensions["doors"].read()["devices"]
    if device == "desk":
        return say("office")
    return str(g.phones[device]["name"] or device) if device in g.phones else device


def field_name(kind: str, step: Any, field: str) -> str:
    """A stored field in words: "Flow, after cleaning", "Truck"; the stored name where no step declares it."""
    if step is None:
        return field
    if step.slot is None:
        return next(show.label_of(step, entry, words()) for entry in step.fields if entry.name == field)
    title = show.title_of(step, words())
    return f"{title}, {words()['page.' + field.partition('.')[0]].lower()}" if step.is_staged else title


def lines_of(step: Any, field: str, held: Any) -> list[dict[str, str]]:
    """One stored value as lines of label and text; records that it points to are named."""
    if held is None:
        return []
    if step is None:
        return [{"field": field, "label": field, "text": str(held)}]
    values = held if step.slot else {field: held}
    found = show.lines(step, values, words())
    for line in found:
        if "photos" in line:
            line["photos"] = tiles(line["photos"])
    kinds = {entry.name: entry.kind for entry in step.fields}
    return [{**line, "text": name_of(line["text"])} if kinds.get(line["field"]) == "ref" else line for line in found]


def tiles(named: list[dict[str, Any]]) -> list[dict[str, str]]:
    """How each of some photos is shown: {"sha256", "state", "text", "alt"}; text says why there is no picture."""
    stands = photos.standing(shop(), [photo["sha256"] for photo in named])
    found = []
    for photo in named:
        held = stands[photo["sha256"]]
        text = {"here": "", "waits": say("photo_waits"), "lost": say("photo_lost", reason=held["reason"])}[held["state"]]
        found.append({"sha256": photo["sha256"], "state": held["state"], "text": text,
                      "alt": say("photo_taken", when=when(photo["taken_at"]))})
    return found


def answer_of(step: Any, field: str, answer: dict[str, Any]) -> dict[str, Any]:
    """One answer as the desk shows it: {"id", "lines", "by", "when", "at", "phone"}."""
    return {"id": answer["id"], "lines": lines_of(step, field, answer["value"]), "by": name_of(answer["by"]),
            "when": when(answer["at"]), "at": answer["at"], "phone": phone_of(answer["id"])}
