"""Builds views of records for tests, as a merge would: one standing answer a field unless told otherwise."""


def answer(value, change="d.r.1", by="person:kim", lamport=1, basis=None):
    """One standing answer."""
    made = {"id": change, "value": value, "by": by, "at": "2026-11-25T08:00:00.000Z", "lamport": lamport}
    if basis is not None:
        made["basis"] = basis
    return made


def view(record, fields):
    """A view; a field's value may be a list of answers made by answer()."""
    held = {}
    for name, value in fields.items():
        answers = value if isinstance(value, list) and value and isinstance(value[0], dict) and "id" in value[0] \
            else [answer(value, f"d.r.{name}")]
        is_open = any(entry["value"] != answers[0]["value"] for entry in answers)
        held[name] = {"answers": answers, "used": None if is_open else answers[0]["value"], "open": is_open}
    return {"record": record, "kind": record.split(":")[0], "fields": held}


def book(*views):
    """Views by record id, as job_state takes them."""
    return {entry["record"]: entry for entry in views}


def number(text, unit):
    """A number as it is stored."""
    return {"n": text, "u": unit}


def weight(grams, temperature="cold", moisture="dry"):
    """A weight reading."""
    return {"mass": number(grams, "g"), "temperature": temperature, "moisture": moisture}


def rod(*groups):
    """A rod reading from groups of (count, feel, depth in mm or None)."""
    cells = []
    for count, feel, depth in groups:
        for _ in range(count):
            cell = {"zone": len(cells) % 12 + 1, "feel": feel}
            if depth is not None:
                cell["depth"] = number(depth, "mm")
            cells.append(cell)
    return {"full_depth": number("290", "mm"), "cells": cells}


def flow(*drops, bench="good", unit="inH2O"):
    """A flow reading."""
    keys = ("drop", "drop_2", "drop_3")
    return {"bench": bench, **{key: number(drop, unit) for key, drop in zip(keys, drops, strict=False)}}


VISUAL = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"}
NO_LIGHT = {"kind": "none"}

# The window of the worked filters: 1.60 to 2.00 inH2O, standard uncertainty 0.05 (invented, see worked filters).
MODEL = view("model:m", {
    "number": "TEST-290", "depth": number("290", "mm"),
    "spec": {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
             "origin": "invented for tests", "revision": "1"}})
FILTER = view("filter:f", {"unit_kind": "wall_flow", "model": "model:m", "serial": "S-1001"})
KIM = view("person:kim", {"name": "Kim", "may_sign": "yes"})
