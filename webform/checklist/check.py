"""What is wrong with an answer: the declaration's bounds and choices, said with a code and the figures.

Runs on the phone as soon as something is typed, and again on the server, which holds what does not fit. A problem is
{"field": name, "code": code, "values": {...}}; the catalogue makes the sentence. Nothing is corrected here: a number
stays as it was typed or is refused. Portable Python.
"""

from ..trade import units
from . import fitted, photos
from .declaration import SCHEMA, SKIP_REASONS
from .fittings import is_day
from .lookup import field_of, step_of
from .typed import as_si, bound_in, read_typed

MOST_CELLS = 60
ZONES = 12
FLOAT_SLACK_M = 1e-9
CONVERTED = 1e-12  # what a conversion may add to a figure: 122 °F are 50 °C
DEEP = ("soft", "hard")  # how far the rod went must then be said
ALONE = {"is_alone": True}


def problems(step, values, context=None, is_complete=True):
    """Every problem of one step's values, in the order of its fields; an empty list when they may be stored.

    values: {field: value} of the step. context: {"depth_m": depth of the model's brick} or None; {"is_alone": True}
    where the model is not known here, so that its depth cannot be missed. is_complete: whether required fields that
    are missing are problems (they are not while a person is still typing).
    """
    if not isinstance(values, dict):
        return [_problem("", "answer.not_a_set", {})]
    if "skipped" in values:
        return _skip_problems(step, values)
    found = []
    known = 0
    for field in step.fields:
        value = values.get(field.name)
        if value is not None or field.name in values:
            known += 1
        if not value and (value is None or value == "" or value == []):
            if is_complete and field.required and is_asked(field, values):
                found.append(_problem(field.name, "answer.missing", {"label": field.label}))
            continue
        wrong = value_problems(field, value)
        if wrong:
            found.extend(wrong)
    if known < len(values):
        found = [_problem(name, "answer.unknown_field", {"field": name}) for name in sorted(values)
                 if field_of(step, name) is None] + found
    if not found:
        found.extend(together(step, values, context or {}))
    return found


def is_asked(field, values):
    """Whether the form asks this field, given the answers of the earlier ones."""
    if field.shown_when is None:
        return True
    name, codes = field.shown_when
    answer = values.get(name)
    if isinstance(answer, list):
        return any(code in codes for code in answer)
    return answer in codes


def value_problems(field, value):
    """Every problem of one field's value taken alone."""
    return _CHECKS[field.kind](field, value)


def refusal(change):
    """Why a change cannot be accepted as it is, as one code, or None when it can.

    change: as in DEVELOPERS.md. The reason goes with the held change, so that the desk can say it.
    """
    if change["schema"] > SCHEMA:
        return "newer_schema"
    for stored in sorted(change["set"]):
        value = change["set"][stored]
        step = step_of(change["kind"], stored)
        if step is None:
            return "unknown_field"
        if step.slot is None:
            if value is None:
                continue
            found = value_problems(field_of(step, stored), value)
        else:
            found = problems(step, value, ALONE)
        if found:
            return found[0]["code"]
    return None


def _number_problems(field, value):
    typed = unit = None
    if isinstance(value, dict):
        typed, unit = value.get("n"), value.get("u")
    if not isinstance(typed, str) or not isinstance(unit, str):
        return [_problem(field.name, "answer.not_a_number", {"given": _shown(value)})]
    if unit not in field.units:
        return [_problem(field.name, "answer.unknown_unit", {"given": _shown(unit)})]
    if len(typed) > field.longest:
        return [_problem(field.name, "answer.too_long", {"longest": field.longest})]
    read = read_typed(typed, unit)
    if not read["ok"]:
        return [_problem(field.name, read["code"], {"given": _shown(typed)})]
    if field.is_whole_number and read["value"] != int(read["value"]):
        return [_problem(field.name, "answer.not_whole", {"given": typed})]
    low, high = field.low_si - abs(field.low_si) * CONVERTED, field.high_si + abs(field.high_si) * CONVERTED
    if low <= read["value"] <= high:
        return []
    values = {"given": value["n"], "unit": unit, "bound_unit": unit,
              "low": bound_in(unit, low, is_low=True), "high": bound_in(unit, high, is_low=False)}
    code = "answer.too_small" if read["value"] < low else "answer.too_large"
    for unit in field.units:
        other = units.to_si(value["n"], unit)
        if unit != value["u"] and other["ok"] and low <= other["value"] <= high:
            values["meant"] = unit
            return [_problem(field.name, code + "_other_unit", values)]
    return [_problem(field.name, code, values)]


def _choice_problems(field, value):
    if _is_code(field, value):
        return []
    return [_problem(field.name, "answer.unknown_choice", {"given": _shown(value)})]


def _ref_problems(field, value):
    if isinstance(value, str) and value.startswith(field.to + ":") and len(value) <= field.longest:
        return []
    return [_problem(field.name, "answer.not_a_link", {"given": _shown(value)})]


def _photos_problems(field, value):
    wrong = photos.problem_of(value)
    return [] if wrong is None else [_problem(field.name, wrong[0], wrong[1])]


def _choices_problems(field, value):
    if not isinstance(value, list):
        return [_problem(field.name, "answer.unknown_choice", {"given": _shown(value)})]
    for position in range(len(value)):
        if not _is_code(field, value[position]):
            return [_problem(field.name, "answer.unknown_choice", {"given": _shown(value[position])})]
        if position and not value[position - 1] < value[position]:
            return [_problem(field.name, "answer.not_sorted", {})]
    return []


def _text_problems(field, value):
    if not isinstance(value, str):
        return [_problem(field.name, "answer.not_text", {"given": _shown(value)})]
    if len(value) > field.longest:
        return [_problem(field.name, "answer.too_long", {"longest": field.longest})]
    if value and min(value) < " ":
        for char in value:
            if ord(char) < 32 and char not in "\n\t":
                return [_problem(field.name, "answer.control_character", {})]
    return []


def _cells_problems(field, value):
    if not isinstance(value, list) or not value:
        return [_problem(field.name, "answer.no_cells", {})]
    if len(value) > MOST_CELLS:
        return [_problem(field.name, "answer.too_many_cells", {"most": MOST_CELLS})]
    found = []
    for number in range(len(value)):
        wrong = _cell_problems(field, value[number], number + 1)
        if wrong:
            found.extend(wrong)
    return found


def _cell_problems(field, cell, number):
    if not isinstance(cell, dict) or not _is_code(field, cell.get("feel")):
        return [_problem(_where(field, number), "answer.no_feel", {"cell": number})]
    zone, depth, short = cell.get("zone"), cell.get("depth"), cell.get("short")
    if zone is not None and (type(zone) is not int or not 1 <= zone <= ZONES):
        return [_problem(_where(field, number), "answer.no_zone", {"cell": number})]
    for key in cell:
        if key not in ("zone", "feel", "depth", "short"):
            other = min([name for name in cell if name not in ("zone", "feel", "depth", "short")])
            return [_problem(_where(field, number), "answer.unknown_field", {"field": other})]
    for measured in (depth, short):
        if measured is not None:
            found = _number_problems(field, measured)
            if found:
                return [_problem(_where(field, number), found[0]["code"], found[0]["values"])]
    if depth is None and short is None and cell["feel"] in DEEP:
        return [_problem(_where(field, number), "answer.no_depth", {"cell": number})]
    return []


def _where(field, number):
    return field.name + "." + str(number)


def _skip_problems(step, values):
    if not step.skippable:
        return [_problem("skipped", "answer.cannot_skip", {})]
    for code, _label in SKIP_REASONS:
        if values["skipped"] == code:
            break
    else:
        return [_problem("skipped", "answer.no_skip_reason", {})]
    for key in sorted(values):
        if key not in ("skipped", "note"):
            return [_problem(key, "answer.unknown_field", {"field": key})]
    note = values.get("note", "")
    if not isinstance(note, str) or len(note) > 1000:
        return [_problem("note", "answer.too_long", {"longest": 1000})]
    if values["skipped"] == "other" and not note:
        return [_problem("note", "answer.say_why", {})]
    return []


def together(step, values, context):
    """Problems that only show when several fields of the step are read together."""
    if step.name == "light":
        return _light_together(values)
    if step.name == "rod":
        return _rod_together(values, context)
    if step.name == "span":
        return _span_together(values)
    if step.name in ("spec", "own"):
        return _not_below(values, "low", "high", "high", "answer.window_upside_down")
    wrong = fitted.problem_of(values) if step.slot == "weight" else None
    return [_problem(wrong[0], wrong[1], {})] if wrong is not None else []


def _span_together(values):
    for name in ("since", "until"):
        if values.get(name) and not is_day(values[name]):
            return [_problem(name, "answer.no_day", {"given": values[name]})]
    if values.get("since") and values.get("until") and values["until"] < values["since"]:
        return [_problem("until", "answer.days_upside_down", {})]
    return []


def _not_below(values, smaller, larger, where, code):
    low, high = as_si(values.get(smaller)), as_si(values.get(larger))
    if low is None or high is None or low < high:
        return []
    return [_problem(where, code, {})]


def _light_together(values):
    count = as_si(values.get("count"))
    if values.get("kind") != "cells" or count is None or values.get("lit") is None:
        return []
    low, high = {"1_5": (1, 5), "6_20": (6, 20), "over_20": (21, 5000)}[values["lit"]]
    if low <= count <= high:
        return []
    return [_problem("count", "answer.count_differs", {"given": values["count"]["n"]})]


def _rod_together(values, context):
    full_m = as_si(values.get("full_depth"))
    if full_m is None:
        full_m = context.get("depth_m")
    if full_m is None:
        if context.get("is_alone"):
            return []
        for cell in values.get("cells") or []:
            if cell["feel"] in DEEP:
                return [_problem("full_depth", "answer.no_full_depth", {})]
        return []
    found = []
    for number in range(len(values.get("cells") or [])):
        cell = values["cells"][number]
        for key in ("depth", "short"):
            given_m = as_si(cell[key]) if key in cell else None
            if given_m is not None and given_m > full_m + FLOAT_SLACK_M:
                found.append(_problem("cells." + str(number + 1), "answer.beyond_brick",
                                      {"cell": number + 1, "given": cell[key]["n"], "unit": cell[key]["u"]}))
    return found


def _is_code(field, value):
    return isinstance(value, str) and value in field.codes


def _problem(field, code, values):
    return {"field": field, "code": code, "values": values}


def _shown(value):
    text = str(value)
    return text if len(text) <= 40 else text[:40] + "…"


_CHECKS = {"number": _number_problems, "choice": _choice_problems, "choices": _choices_problems, "text": _text_problems,
           "ref": _ref_problems, "photos": _photos_problems, "cells": _cells_problems}
