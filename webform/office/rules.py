"""The rule table in use, to be read aloud or hung on the wall, and who set the shop's own thresholds, when and why."""

from typing import Any

from flask import render_template

from sync import lookup

from ..checklist.book import Book
from ..checklist.given import rules_of
from ..checklist.lookup import step_named
from ..shop import SETTINGS, standing_ids
from ..trade.figures import reading, trimmed
from ..trade.rules import START, Table, rows_of
from .pages import blueprint
from .wording import answer_of, shop, words

SET = "rules"  # the step, and the field, in which a shop sets its own


@blueprint.get("/office/rules")
def rules() -> str:
    """Each row with its words, its limit and where that comes from; below, every setting of the shop's own, newest first."""
    view = lookup.view(shop().store, SETTINGS)
    in_use = rules_of(Book(SETTINGS, {SETTINGS: view} if view else {}))
    return render_template("rules.html", revision=in_use["revision"], rows=_rows(Table(in_use)), settings=_settings(),
                           is_open=len(standing_ids(view, SET)) > 1)


def _rows(table: Table) -> list[dict[str, str]]:
    """{"id", "words", "limit", "start", "origin"}; limit "" where a rule has none, start "" where it is the limit."""
    step = step_named(SET)
    units = {field.name: field.units[0] for field in step.fields if field.kind == "number"}
    found = []
    for start in rows_of(START):
        row = table.row(str(start["name"]))
        unit = units.get(str(start["name"]), "")
        limit, began = _limit(row["value"], unit), _limit(start["value"], unit)
        found.append({"id": str(start["id"]), "words": str(start["words"]), "limit": limit,
                      "start": began if began != limit else "",
                      "origin": words().get(f"origin.{row['origin']}", str(row["origin"]))})
    return found


def _limit(value: object, unit: str) -> str:
    number = reading(value)
    return "" if number is None else f"{trimmed(number, 3)} {unit}".strip()


def _settings() -> list[dict[str, Any]]:
    """Every answer that a person ever gave, as answer_of draws it, newest first."""
    found = []
    for entry in reversed(lookup.history(shop().store, SETTINGS)):
        change = entry["change"]
        if change is not None and SET in change["set"]:
            answer = {"id": entry["id"], "value": change["set"][SET], "by": change["by"], "at": change["at"]}
            found.append(answer_of(step_named(SET), SET, answer))
    return found
