"""What the calculation is given: the readings of one stage in SI, from the answers in use. Portable Python."""

from .check import as_si
from .declaration import READINGS


def case_of(book, stage, rules, released=None):
    """The calculation's case for one stage; shape in DEVELOPERS.md, "Case". Numbers become SI here."""
    before = {name: _reading(book, "before", name) for name in READINGS}
    after = {name: _reading(book, "after", name) for name in READINGS}
    rounds = [_round(book, view) for view in book.rounds]
    if after["weight"] is None and book.rounds:
        after["weight"] = _weight(book.used(book.rounds[len(book.rounds) - 1], "weight"))
    return {
        "stage": stage,
        "unit_kind": book.used(book.filter, "unit_kind") or "wall_flow",
        "brick": {"depth_m": as_si(book.used(book.model, "depth"))},
        "spec": _spec(book.used(book.model, "spec")),
        "rules": rules,
        "readings": before if stage == "before" else after,
        "before": None if stage == "before" else before,
        "rounds": [] if stage == "before" else rounds,
        "released": released,
    }


def _reading(book, stage, name):
    value = book.used(book.job, stage + "." + name)
    if value is None:
        return None
    if "skipped" in value:
        return {"skipped": value["skipped"]}
    if name == "weight":
        return _weight(value)
    if name == "rod":
        cells = [{"feel": cell["feel"], "depth_m": as_si(cell.get("depth")), "short_m": as_si(cell.get("short"))}
                 for cell in value["cells"]]
        return {"full_depth_m": as_si(value.get("full_depth")), "cells": cells}
    if name == "light":
        return _light(value)
    if name == "flow":
        drops = [as_si(value.get(key)) for key in ("drop", "drop_2", "drop_3")]
        return {"drops_pa": [drop for drop in drops if drop is not None], "bench": value["bench"]}
    return {key: value.get(key) for key in ("outlet", "brick", "can", "wet")}


def _weight(value):
    if value is None:
        return None
    if "skipped" in value:
        return {"skipped": value["skipped"]}
    mass_kg = as_si(value["mass"])
    fitted_kg = as_si(value.get("fitted_mass")) if value.get("fitted") else None
    if fitted_kg is not None:
        mass_kg = mass_kg - fitted_kg
    return {"mass_g": mass_kg * 1000.0, "temperature": value["temperature"], "moisture": value["moisture"]}


def _light(value):
    if value["kind"] != "cells":
        return {"kind": value["kind"], "lit": "none", "count": None}
    count = as_si(value.get("count"))
    return {"kind": "cells", "lit": value["lit"], "count": None if count is None else int(count)}


def _round(book, view):
    treatment = book.used(view, "treatment") or {}
    weight = _weight(book.used(view, "weight"))
    is_final = weight is not None and weight.get("temperature") == "cold" and weight.get("moisture") == "dry"
    seconds = as_si(treatment.get("minutes"))
    return {
        "method": treatment.get("method"),
        "minutes": None if seconds is None else seconds / 60.0,
        "temperature_k": as_si(treatment.get("temperature")) if treatment.get("method") == "oven" else None,
        "mass_g": weight["mass_g"] if is_final else None,
    }


def _spec(value):
    if value is None:
        return None
    return {"low_pa": as_si(value["low"]), "high_pa": as_si(value["high"]), "u_pa": as_si(value["uncertainty"]),
            "origin": value["origin"], "revision": value["revision"]}
