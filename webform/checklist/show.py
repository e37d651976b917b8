"""An answer written for people: label and text of each field, from the declaration alone. Portable Python.

Phone, desk and report print these lines, so a field that is declared appears on all three by itself. The texts of a
language file, passed in as a dict, win over the declaration's English.
"""

from .declaration import SKIP_REASONS


def lines(step, values, catalogue=None):
    """[{"field", "label", "text"}] of what one answer of a step holds, in the order of its fields.

    A line of photos carries them as "photos" too, for whoever can draw them.
    """
    words = catalogue or {}
    if values is None:
        return []
    if "skipped" in values:
        reason = words.get("skip." + str(values["skipped"])) or _label(SKIP_REASONS, values["skipped"])
        note = values.get("note", "")
        return [{"field": "skipped", "label": words.get("show.skipped", "Skipped"),
                 "text": reason + (": " + note if note else "")}]
    found = []
    for field in step.fields:
        if values.get(field.name) not in (None, "", []):
            line = {"field": field.name, "label": label_of(step, field, words),
                    "text": value_text(step, field, values[field.name], words)}
            if field.kind == "photos":
                line["photos"] = values[field.name]
            found.append(line)
    return found


def label_of(step, field, catalogue=None):
    """The words beside a field."""
    return (catalogue or {}).get("field." + step.name + "." + field.name, field.label)


def title_of(step, catalogue=None):
    """The words above a step."""
    return (catalogue or {}).get("step." + step.name, step.title)


def value_text(step, field, value, catalogue=None):
    """One stored value as text: a number as it was typed, a choice by its label."""
    words = catalogue or {}
    if field.kind == "number":
        return (value["n"] + " " + value["u"]).strip(" ")
    if field.kind == "choice":
        return _choice_label(step, field, value, words)
    if field.kind == "choices":
        return ", ".join([_choice_label(step, field, code, words) for code in value])
    if field.kind == "cells":
        return _cells_text(step, field, value, words)
    if field.kind == "photos":
        return str(len(value)) + " " + (words.get("show.photo", "photo") if len(value) == 1
                                        else words.get("show.photos", "photos"))
    return str(value)


def _choice_label(step, field, code, words):
    declared = _label(field.choices, code)
    return words.get("choice." + step.name + "." + field.name + "." + str(code), declared)


def _cells_text(step, field, value, words):
    """For example "24 cells: 20 Hard (130 mm), 4 Free"; different depths are listed by how often they occur."""
    parts = []
    for option in field.choices:
        those = [cell for cell in value if cell["feel"] == option.code]
        if those:
            label = _choice_label(step, field, option.code, words)
            parts.append(str(len(those)) + " " + label + _depths(those, words))
    return str(len(value)) + " " + words.get("show.cells", "cells") + ": " + ", ".join(parts)


def _depths(those, words):
    texts, counts = [], []
    for cell in those:
        if cell.get("depth") is not None:
            text = cell["depth"]["n"] + " " + cell["depth"]["u"]
        elif cell.get("short") is not None:
            text = words.get("show.short", "short by") + " " + cell["short"]["n"] + " " + cell["short"]["u"]
        else:
            continue
        if text in texts:
            counts[texts.index(text)] += 1
        else:
            texts.append(text)
            counts.append(1)
    if not texts:
        return ""
    shown = [text if len(texts) == 1 else str(counts[place]) + "× " + text for place, text in enumerate(texts)]
    return " (" + ", ".join(shown) + ")"


def _label(pairs, code):
    for pair in pairs:
        if pair[0] == code:
            return pair[1]
    return str(code)

