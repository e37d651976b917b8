"""Builds cases for the calculation's tests, in SI, from the figures that a person would write down (all invented)."""

from webform.trade.rules import START
from webform.trade.words import sentence
from webform.words import catalogue

PA = 249.08891  # one conventional inch of water: 25.4 mm x 9.80665 Pa/mm, NIST SP 811 (2008), Appendix B.8

HILL_M = 1600.0  # the shop on the hill

VISUAL = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"}
NO_LIGHT = {"kind": "none", "lit": "none", "count": None}
# The window of the worked filters: 1.60 to 2.00 inH2O, standard uncertainty 0.05 (invented).
SPEC = {"low_pa": 1.60 * PA, "high_pa": 2.00 * PA, "u_pa": 0.05 * PA, "origin": "invented sheet", "revision": "A"}


def weight(grams, temperature="cold", moisture="dry"):
    """A net weight."""
    return {"mass_g": float(grams), "temperature": temperature, "moisture": moisture}


def rod(*groups, full_mm=290):
    """Cells from groups of (count, feel, depth in mm or None)."""
    cells = []
    for count, feel, depth in groups:
        cells += [{"feel": feel, "depth_m": None if depth is None else depth / 1000, "short_m": None}] * count
    return {"full_depth_m": None if full_mm is None else full_mm / 1000, "cells": cells}


def lit(count, kind="cells"):
    """Light with an exact count of cells."""
    quick = "1_5" if count <= 5 else "6_20" if count <= 20 else "over_20"
    return {"kind": kind, "lit": quick, "count": count}


def flow(*inches, bench="good", check=None):
    """Restriction readings in inches of water; check: the bench's check of the day."""
    readings = {"drops_pa": [value * PA for value in inches], "bench": bench}
    return readings if check is None else {**readings, "check": check}


def bench_check(plate, mode="constant_volume", own=2.10, **air):
    """A bench's check: plate reading and the plate's own value in inches of water, and the room's air, 20 °C and dry."""
    room = {"temperature_k": 293.15, "pressure_pa": None, "altitude_m": None, "humidity": 0.0, **air}
    return {"mode": mode, "air": room, "plate": {"read_pa": plate * PA, "own_pa": own * PA, "own_air": None}}


def in_zones(groups, full_mm=290):
    """Two cells in each of the twelve zones, free but for groups: {zone: (feel, depth in mm)}."""
    cells = []
    for zone in range(1, 13):
        feel, depth = groups.get(zone, ("free", None))
        cells += [{"zone": zone, "feel": feel, "depth_m": None if depth is None else depth / 1000, "short_m": None}] * 2
    return {"full_depth_m": full_mm / 1000, "cells": cells}


def rounds(*masses, method="oven"):
    """Cleaning rounds with the mass after each."""
    return [{"method": method, "minutes": 480.0, "temperature_k": 873.15, "mass_g": mass} for mass in masses]


ALL_FREE = rod((24, "free", None))


def good(**other):
    """The five readings of a filter that passes, with some of them replaced."""
    return {"visual": VISUAL, "weight": weight(13780), "rod": ALL_FREE, "light": NO_LIGHT, "flow": flow(1.78), **other}


def before(readings, **other):
    """A case as found."""
    return {"stage": "before", "unit_kind": "wall_flow", "brick": {"depth_m": 0.290}, "spec": SPEC, "rules": START,
            "readings": readings, "before": None, "rounds": [], "released": None, **other}


def after(readings, found=None, done=None, **other):
    """A case after cleaning; found: the readings as found; done: the rounds."""
    return before(readings, **{"stage": "after", "before": found or {},
                               "rounds": rounds(None, method="wash") if done is None else done, **other})


def codes(verdict, part="reasons"):
    """The codes of one list of a verdict."""
    return [reason["code"] for reason in verdict[part]]


def value(verdict, code, name):
    """One figure of the reason or finding with that code."""
    for part in ("reasons", "findings", "missing", "settle"):
        for reason in verdict[part]:
            if reason["code"] == code:
                return reason["values"][name]
    raise AssertionError(f"no {code} in {verdict}")


def told(verdict, code):
    """The English sentence of the reason or finding with that code."""
    for part in ("reasons", "findings", "missing", "settle"):
        for reason in verdict[part]:
            if reason["code"] == code:
                return sentence(catalogue(), "reason." + code, reason["values"])
    raise AssertionError(f"no {code} in {verdict}")
