"""The flow bench: its plate, and a reading carried to other air."""

from typing import Any

from ...trade import correction, plate
from ...trade.clean_filter import USUAL_PERMEABILITY
from .air import ROOM, room
from .filter import BRICK, brick_of
from .quantity import Example, Inputs, Quantity, code, num, open_, share

MODE = code(plate.BENCH_MODES, "how the bench sets its flow")
DENSITY = (0.3, 2.0)
OWN: Inputs = {
    "own_temperature": open_(ROOM["temperature"], 293.15),
    "own_pressure": open_(ROOM["pressure"], 101325.0),
    "own_humidity": open_(ROOM["humidity"], 0.0),
}
REFERENCE: Inputs = {
    "reference_temperature": open_(ROOM["temperature"], 293.15),
    "reference_pressure": open_(ROOM["pressure"], 101325.0),
    "reference_humidity": open_(ROOM["humidity"], 0.0),
}
OWN_VALUE = num("Pa", 1.0, 20000.0, "the plate's own value")
DROP = num("Pa", 0.0, 20000.0, "restriction as read")
SHARE = open_(share("share of the drop that goes with density"), correction.BAND_SHARE)


def _density(found: dict[str, object] | None) -> float:
    assert found is not None and isinstance(found["density_kg_m3"], float)  # the temperature was read
    return found["density_kg_m3"]


def _expected(g: Any) -> dict[str, object]:
    own, here = _density(room(g, "own_")), _density(room(g))
    expected = plate.plate_expected(g["own"], own, here, g["mode"])
    return {"expected": expected, "multiplier": expected / g["own"], "density": here, "own_density": own}


def _check(g: Any) -> dict[str, object] | None:
    found = plate.plate_check(
        g["read"], g["own"], _density(room(g, "own_")), room(g), g["mode"], g["limit"], g["u_read"], g["u_own"]
    )
    return (
        None
        if found is None
        else {
            "ok": found["ok"],
            "is_clear": found["is_clear"],
            "drift": found["drift_fraction"],
            "u_drift": found["u_drift_fraction"],
            "expected": found["expected_pa"],
            "u_expected": found["u_expected_pa"],
        }
    )


def _share(g: Any) -> dict[str, object] | None:
    body = brick_of(g)
    if body is None:
        return None
    found = correction.inertial_share(body, g["flow"], room(g), g["permeability"], g["drop"])
    return {"share": found["share"], "u_share": found["u_share"], "from": found["from"]}


def _corrected(g: Any) -> dict[str, object] | None:
    found = correction.corrected_drop(
        g["drop"], room(g), room(g, "reference_"), g["mode"], g["share"], g["u_share"], g["u_drop"], g["u_flow_fraction"]
    )
    if found is None:
        return None
    parts = found["parts"]
    assert isinstance(parts, dict)
    return {
        "corrected": found["corrected_pa"],
        "factor": found["factor"],
        "u": found["u_pa"],
        **{"part_" + name[:-3]: parts[name] for name in sorted(parts)},
    }


PLATE_SOURCE = "ISO 5167-2:2003: drop = constant x density x flow²"
QUANTITIES = (
    Quantity(
        "bench-flow-ratio",
        "Flow that the bench sets in reference air over the flow it sets today",
        {
            "density": num("kg/m³", *DENSITY, "of today's air"),
            "reference_density": num("kg/m³", *DENSITY, "of the reference air"),
            "mode": MODE,
        },
        {"ratio": ""},
        lambda g: {"ratio": plate.flow_ratio(g["density"], g["reference_density"], g["mode"])},
        "constant volume 1, constant mass density ratio, uncorrected pressure element its root",
        ("plate.flow_ratio",),
        Example(
            {"density": 1.0, "reference_density": 1.5625, "mode": "uncorrected_element"},
            {"ratio": 0.8},
            "√(1/1.5625), by hand",
            rel=1e-12,
        ),
    ),
    Quantity(
        "plate-expected",
        "What the flow plate should read in today's air",
        {"own": OWN_VALUE, "mode": MODE} | ROOM | OWN,
        {"expected": "Pa", "multiplier": "", "density": "kg/m³", "own_density": "kg/m³"},
        _expected,
        PLATE_SOURCE,
        ("plate.plate_expected",),
        Example(
            {
                "own": "2.45 inH2O",
                "mode": "constant_volume",
                "temperature": "20 °C",
                "pressure": "83527.67 Pa",
                "humidity": 0,
            },
            {"expected": 503.035},
            "2.0195 inH2O: CoolProp 8.0.0 densities, fluids 1.3.1 pressure",
            abs=0.5,
        ),
    ),
    Quantity(
        "bench-drift",
        "How far the plate reads from what it should",
        {"read": num("Pa", 0.0, 20000.0, "plate reading"), "expected": num("Pa", 1.0, 20000.0, "expected reading")},
        {"drift": ""},
        lambda g: {"drift": plate.bench_drift(g["read"], g["expected"])},
        "read / expected - 1",
        ("plate.bench_drift",),
        Example({"read": "1.74 inH2O", "expected": "2.10 inH2O"}, {"drift": -0.171429}, "-0.36/2.10, by hand", abs=1e-6),
    ),
    Quantity(
        "plate-check",
        "Today's flow plate against its own value in today's air",
        {"read": num("Pa", 0.0, 20000.0, "plate reading"), "own": OWN_VALUE, "mode": MODE}
        | ROOM
        | OWN
        | {
            "limit": open_(share("largest drift that passes"), plate.DRIFT_LIMIT),
            "u_read": open_(num("Pa", 0.0, 5000.0, "standard uncertainty of the reading"), 0.0),
            "u_own": open_(num("Pa", 0.0, 5000.0, "standard uncertainty of the own value"), 0.0),
        },
        {"ok": "", "is_clear": "", "drift": "", "u_drift": "", "expected": "Pa", "u_expected": "Pa"},
        _check,
        PLATE_SOURCE + "; limit: shop's starting value",
        ("plate.plate_check",),
        Example(
            {
                "read": "1.74 inH2O",
                "own": "2.10 inH2O",
                "mode": "constant_volume",
                "temperature": "20 °C",
                "pressure": "83527.67 Pa",
                "humidity": 0,
            },
            {"ok": True, "drift": 0.0052, "expected": 431.2},
            "2.10 x 0.8243 = 1.731 inH2O, by hand",
            abs=3e-4,
            rel=5e-4,
        ),
    ),
    Quantity(
        "inertial-share",
        "Share of a filter's drop that goes with density and flow squared",
        BRICK
        | {"flow": num("m³/s", *correction.FLOWS_M3_S, "volume flow")}
        | ROOM
        | {"permeability": open_(num("m²", 1e-14, 1e-11, "of the wall"), USUAL_PERMEABILITY), "drop": open_(DROP)},
        {"share": "", "u_share": "", "from": ""},
        _share,
        "channel-drop less clean-drop, and face-losses, over the whole; losses good to a quarter",
        ("correction.inertial_share",),
        Example(
            {
                "long": "10.5 in",
                "length": "12 in",
                "cells": 200,
                "wall": "12 mil",
                "flow": "200 cfm",
                "temperature": "20 °C",
                "pressure": 101325,
                "humidity": 0,
            },
            {"share": 0.0391},
            "scipy 1.17.1 solve_bvp and textbook losses",
            abs=1e-4,
        ),
    ),
    Quantity(
        "corrected-drop",
        "A filter's restriction in the air of its flow spec, with its standard uncertainty",
        {"drop": DROP, "mode": MODE}
        | ROOM
        | REFERENCE
        | {
            "share": SHARE,
            "u_share": open_(share("its standard uncertainty"), correction.U_BAND_SHARE),
            "u_drop": open_(num("Pa", 0.0, 5000.0, "standard uncertainty of the reading"), 0.0),
            "u_flow_fraction": open_(share("standard uncertainty of the flow, as a share"), correction.U_FLOW_FRACTION),
        },
        {
            "corrected": "Pa",
            "factor": "",
            "u": "Pa",
            "part_density": "Pa",
            "part_flow": "Pa",
            "part_reading": "Pa",
            "part_split": "Pa",
            "part_temperature": "Pa",
            "part_viscosity": "Pa",
        },
        _corrected,
        "drop [(1 - share) (mu_ref/mu) (Q_ref/Q) + share (rho_ref/rho) (Q_ref/Q)²]; parts by GUM 5.1.2",
        ("correction.corrected_drop",),
        Example(
            {
                "drop": "1.80 inH2O",
                "mode": "constant_volume",
                "temperature": "20 °C",
                "pressure": "83527.67 Pa",
                "humidity": 0,
                "share": 0.0845,
            },
            {"corrected": 456.431},
            "1.80 x (0.9155 + 0.0845/0.8243) = 1.8324 inH2O, by hand",
            abs=0.05,
        ),
    ),
)
