"""What the calculation is given: the readings of one stage in SI, from the answers in use. Portable Python."""

from ..trade import rules as trade_rules
from ..trade import scales
from ..trade.weight import counts
from . import fitted
from .declaration import READINGS
from .typed import as_si


def rules_of(book):
    """The shop's thresholds as a rule table, named by the answer that set them; the starting ones where it set none."""
    value = book.used(book.shop, "rules")
    if value is None:
        return trade_rules.START
    answers = [answer["id"] for answer in book.answers(book.shop, "rules") if answer["value"] == value]
    rows = []
    for row in trade_rules.rows_of(trade_rules.START):
        limit = as_si(value.get(row["name"]))
        if limit is not None:
            if row["name"].endswith("_g"):
                limit = limit * 1000.0
            rows.append({"id": row["id"], "name": row["name"], "value": limit, "origin": "shop", "words": row["words"]})
    return {"revision": trade_rules.START["revision"] + "+" + (answers[0] if answers else ""), "rows": rows}


def case_of(book, stage, rules, released=None):
    """The calculation's case for one stage; shape in DEVELOPERS.md, "Case". Numbers become SI here."""
    before = {name: _reading(book, "before", name) for name in READINGS}
    after = {name: _reading(book, "after", name) for name in READINGS}
    rounds = [_round(book, view) for view in book.rounds]
    if (after["weight"] is None or "skipped" in after["weight"]) and book.rounds:
        # Weighed after the last round is weighed after cleaning: then the step of its own may well be skipped.
        last = _weight(book.used(book.rounds[len(book.rounds) - 1], "weight"), book)
        after["weight"] = after["weight"] if last is None or "skipped" in last else last
    return {
        "stage": stage,
        "unit_kind": book.used(book.filter, "unit_kind") or "wall_flow",
        "brick": _brick(book),
        "spec": _spec(book.used(book.model, "spec")) or _own(book.used(book.model, "own")),
        "reference": _reference(book),
        "use": _use(book),
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
        return _weight(value, book)
    if name == "rod":
        cells = [{"feel": cell["feel"], "depth_m": as_si(cell.get("depth")), "short_m": as_si(cell.get("short")),
                  "zone": cell.get("zone")} for cell in value["cells"]]
        return {"full_depth_m": as_si(value.get("full_depth")), "cells": cells}
    if name == "light":
        return _light(value)
    if name == "flow":
        drops = [as_si(value.get(key)) for key in ("drop", "drop_2", "drop_3")]
        return {"drops_pa": [drop for drop in drops if drop is not None], "bench": value.get("bench"),
                "check": bench_check(book, book.named(value, "check")) if value.get("check") else None}
    return {key: value.get(key) for key in ("outlet", "brick", "can", "wet")}


def bench_check(book, check):
    """A bench's check with its instrument, as the calculation takes it; {} where this phone does not carry it."""
    reading = book.used(check, "reading") if check is not None else None
    if reading is None:
        return {}
    bench = book.named(reading, "instrument")
    plate = None
    if reading.get("plate") is not None and book.used(bench, "plate") is not None:
        plate = {"read_pa": as_si(reading["plate"]), "own_pa": as_si(book.used(bench, "plate")),
                 "own_air": _air(book.used(bench, "plate_temperature"), book.used(bench, "plate_pressure"),
                                 book.used(bench, "plate_humidity"), None)}
    return {"mode": book.used(bench, "mode"), "plate": plate,
            "air": _air(reading["temperature"], reading.get("barometer"), reading.get("humidity"),
                        book.used(bench, "altitude"))}


def scale_check(book, check):
    """What a scale's check says: the answer of trade.scales.scale_check, or None where this phone does not carry it."""
    reading = book.used(check, "reading") if check is not None else None
    if reading is None:
        return None
    scale = book.named(reading, "instrument")
    division, own = as_si(book.used(scale, "division")), as_si(book.used(scale, "own_limit"))
    capacity = as_si(book.used(scale, "capacity"))
    return scales.scale_check(
        as_si(reading["shown"]) * 1000.0, as_si(reading["weight"]) * 1000.0, reading["weight_class"],
        {"rule": book.used(scale, "tolerance"), "class": book.used(scale, "scale_class"),
         "division_g": None if division is None else division * 1000.0,
         "max_g": None if capacity is None else capacity * 1000.0, "limit_g": None if own is None else own * 1000.0})


def _air(temperature, pressure, humidity, altitude):
    if temperature is None:
        return None
    return {"temperature_k": as_si(temperature), "pressure_pa": as_si(pressure), "humidity": as_si(humidity),
            "altitude_m": as_si(altitude)}


def _brick(book):
    value = book.used(book.model, "brick") or {}
    brick = {"depth_m": as_si(book.used(book.model, "depth")), "shape": value.get("shape")}
    for stored, name in (("long", "long_m"), ("short", "short_m"), ("cells_per_in2", "cells_per_in2"), ("wall", "wall_m")):
        brick[name] = as_si(value.get(stored))
    return brick


def _reference(book):
    """The weight of this filter when clean: its own last weight after cleaning, else the model's."""
    own = _weight(book.earlier_weight(), book)
    if counts(own):
        return {"mass_g": own["mass_g"], "origin": "own", "left_on": own.get("left_on")}
    mass_kg = as_si(book.used(book.model, "clean_mass"))
    return None if mass_kg is None else {"mass_g": mass_kg * 1000.0, "origin": "model"}


def _use(book):
    """What was driven and burnt since the last cleaning, None where nobody said."""
    oil, hours, way = [as_si(book.used(book.job, name)) for name in ("oil_added", "hours_since", "distance_since")]
    if oil is None and hours is None and way is None:
        return None
    return {"oil_l": None if oil is None else oil * 1000.0, "hours": None if hours is None else hours / 3600.0,
            "distance_km": None if way is None else way / 1000.0, "category": book.used(book.job, "oil_category"),
            "ash_percent": None}


def _weight(value, book):
    if value is None:
        return None
    if "skipped" in value:
        return {"skipped": value["skipped"]}
    parts = fitted.taken_off(value)
    mass_kg = as_si(value["mass"])
    for _name, part_kg in parts:
        mass_kg = mass_kg - part_kg
    found = {"mass_g": mass_kg * 1000.0, "temperature": value["temperature"], "moisture": value["moisture"]}
    if parts:
        found["parts"] = [{"part": name, "mass_g": part_kg * 1000.0} for name, part_kg in parts]
    left_on = fitted.left_on(value)
    if left_on:
        found["left_on"] = left_on
    if value.get("check"):
        check = scale_check(book, book.named(value, "check"))
        found["scale"] = "unknown" if check is None else scales.state_of(check)
    return found


def _light(value):
    if value["kind"] != "cells":
        return {"kind": value["kind"], "lit": "none", "count": None}
    count = as_si(value.get("count"))
    return {"kind": "cells", "lit": value["lit"], "count": None if count is None else int(count)}


def _round(book, view):
    treatment = book.used(view, "treatment") or {}
    weight = _weight(book.used(view, "weight"), book)
    seconds = as_si(treatment.get("minutes"))
    is_final = counts(weight)
    found = {
        "method": treatment.get("method"),
        "minutes": None if seconds is None else seconds / 60.0,
        "temperature_k": as_si(treatment.get("temperature")) if treatment.get("method") == "oven" else None,
        "mass_g": weight["mass_g"] if is_final else None,
    }
    for name in ("parts", "left_on"):
        if is_final and name in weight:
            found[name] = weight[name]
    return found


def _spec(value):
    if value is None:
        return None
    return {"low_pa": as_si(value["low"]), "high_pa": as_si(value["high"]), "u_pa": as_si(value["uncertainty"]),
            "origin": value["origin"], "revision": value["revision"], "flow_m3_s": as_si(value.get("flow")),
            "air": _air(value.get("air_temperature"), value.get("air_pressure"), value.get("air_humidity"), None)}


def _own(value):
    """The shop's own numbers as a window."""
    if value is None:
        return None
    return {"low_pa": as_si(value["low"]), "high_pa": as_si(value["high"]), "u_pa": as_si(value["uncertainty"]),
            "origin": "own_numbers", "revision": value["revision"], "flow_m3_s": None, "air": None}
