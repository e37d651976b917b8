"""Ash: what the oil leaves, what came out, what the rod says, the next service."""

from typing import Any

from ...trade import ash
from .quantity import Example, Inputs, Quantity, above, code, num, open_, share, yes

USE: Inputs = {
    "oil": open_(num("L", 0.0, 1e8, "oil lost")),
    "hours": open_(num("h", 0.0, 1e8, "engine hours")),
    "oil_an_hour": open_(num("", 0.0, 1e3, "litres an hour")),
    "distance": open_(num("km", 0.0, 1e8, "distance driven")),
    "oil_a_1000_km": open_(num("", 0.0, 1e3, "litres in 1000 km")),
    "fuel": open_(num("L", 0.0, 1e8, "fuel burnt")),
    "oil_share_of_fuel": open_(num("", 0.0, 1.0, "oil over fuel")),
}
NAMES = {
    "oil": "oil_l",
    "hours": "hours",
    "oil_an_hour": "oil_l_per_h",
    "distance": "distance_km",
    "oil_a_1000_km": "oil_l_per_1000_km",
    "fuel": "fuel_l",
    "oil_share_of_fuel": "oil_share_of_fuel",
}
OIL: Inputs = {
    "within": open_(num("", 0.0, 0.9, "half range of the oil use, as a share"), ash.OIL_WITHIN),
    "category": open_(code(tuple(ash.CEILING_PERCENT), "oil category, whose ceiling counts where the ash is not known")),
    "ash_percent": open_(num("", 0.01, 5.0, "sulfated ash, per cent of mass")),
    "density": open_(num("kg/L", 0.5, 1.5, "of the oil")),
    "reaching": open_(num("", 0.01, 1.0, "share that reaches the filter")),
}
MASSES: Inputs = {
    "after_burn": num("g", 0.0, 1e6, "mass after the first oven burn"),
    "last": num("g", 0.0, 1e6, "last mass, cold and dry"),
    "within": open_(num("g", 0.0, 1e4, "smallest change that counts"), 14.142135623730951),
}
RANGE: Inputs = {
    "low": num("g", 0.0, 1e6, "least ash"),
    "mid": num("g", 0.0, 1e6, "likeliest ash"),
    "high": num("g", 0.0, 1e6, "most ash"),
}
IN_ORDER = (
    (lambda g: not g["low"] <= g["mid"] <= g["high"], "mid", "low, mid and high must rise.", "low up to mid, mid up to high"),
)
INLET = above("L", 0.0, 1000.0, "volume of all inlet channels")


def _range(g: Any, before: str = "") -> dict[str, object]:
    return {"ok": True, **{name + "_g": g[before + name] for name in ("low", "mid", "high")}}


def _expected(g: Any) -> dict[str, object]:
    found = ash.expected_ash(
        {NAMES[name]: g[name] for name in NAMES} | {"within": g["within"]},
        {"category": g["category"], "ash_percent": g["ash_percent"], "density_kg_l": g["density"], "reaching": g["reaching"]},
    )
    return {name.removesuffix("_g"): found[name] for name in found}


def _out(g: Any) -> dict[str, object]:
    weighings = [
        {"after": "oven", "mass_g": g["after_burn"], "is_final": True},
        {"after": "air", "mass_g": g["last"], "is_final": True},
    ]
    found = ash.ash_out(weighings, g["within"])
    return {name.removesuffix("_g"): found[name] for name in found}


def _balance(g: Any) -> dict[str, object]:
    expected = _range(g, "expected_") | {"is_high_ash": g["is_high_ash"]}
    return ash.ash_balance(expected, _range(g, "out_"))


BALANCE: Inputs = {
    f"{side}_{name}": num("g", 0.0, 1e6, f"{words}, {name}")
    for side, words in (("expected", "expected ash"), ("out", "ash that came out"))
    for name in ("low", "mid", "high")
} | {"is_high_ash": open_(yes("whether the oil is above 1 % ash"), False)}
BOTH_IN_ORDER = tuple(
    (
        (lambda g, side=side: not g[side + "_low"] <= g[side + "_mid"] <= g[side + "_high"]),
        side + "_mid",
        "low, mid and high must rise.",
        "low up to mid, mid up to high",
    )
    for side in ("expected", "out")
)
QUANTITIES = (
    Quantity(
        "oil-used",
        "Oil lost, from the first of these that is complete",
        USE,
        {"oil": "L"},
        lambda g: {"oil": ash.oil_used_l({NAMES[name]: g[name] for name in NAMES})},
        "amount x rate",
        ("ash.oil_used_l",),
        Example(
            {"fuel": 94635.2946, "oil_share_of_fuel": 0.0005},
            {"oil": 47.3176},
            "0.05 % of 25 000 gallons of 231 cubic inches, arithmetic",
            rel=1e-6,
        ),
    ),
    Quantity(
        "expected-ash",
        "Ash that the oil should have left in the filter, with its range",
        USE | OIL,
        {
            "ok": "",
            "code": "",
            "low": "g",
            "mid": "g",
            "high": "g",
            "oil_l": "L",
            "ash_percent": "",
            "is_ceiling": "",
            "is_high_ash": "",
        },
        _expected,
        "volume x density x ash share x share that reaches the filter; ranges by GUM 5.1.6; ceilings ASTM D4485, ACEA",
        ("ash.expected_ash",),
        Example(
            {"oil": 30, "ash_percent": 1.0, "density": 0.86, "reaching": 1.0},
            {"mid": 258.0},
            "30 x 0.86 x 10, by arithmetic",
            rel=1e-6,
        ),
    ),
    Quantity(
        "ash-out",
        "Ash that came out after the first oven burn",
        MASSES,
        {"ok": "", "low": "g", "mid": "g", "high": "g"},
        _out,
        "mass after the burn less the last mass, ± the smallest change that counts",
        ("ash.ash_out",),
        Example(
            {"after_burn": "14020 g", "last": "13760 g", "within": "14 g"},
            {"low": 246.0, "mid": 260.0, "high": 274.0},
            "by hand",
            abs=1e-9,
        ),
    ),
    Quantity(
        "ash-balance",
        "What came out over what was expected, and the questions to ask",
        BALANCE,
        {"ok": "", "code": "", "ratio": "", "low_ratio": "", "high_ratio": "", "questions": ""},
        _balance,
        "asked only where the whole range says so",
        ("ash.ash_balance",),
        Example(
            {"expected_low": 100, "expected_mid": 150, "expected_high": 200, "out_low": 300, "out_mid": 310, "out_high": 320},
            {"code": "ash.more", "ratio": 2.067, "low_ratio": 1.5, "high_ratio": 3.2},
            "310/150, 300/200, 320/100, by hand",
            abs=1e-9,
        ),
        BOTH_IN_ORDER,
    ),
    Quantity(
        "inlet-volume",
        "Volume of all inlet channels of a brick",
        {
            "volume": above("L", 0.0, 1000.0, "of the brick"),
            "cells": above("cells/in²", 0.0, 1500.0, "cells per square inch"),
            "wall": num("m", 0.0, 3e-3, "wall thickness"),
        },
        {"volume": "L"},
        lambda g: {"volume": ash.inlet_volume_l(g["volume"], g["cells"] / 0.0254**2, g["wall"])},
        "half of the cells, without the walls",
        ("ash.inlet_volume_l",),
        Example(
            {"volume": 17.0275, "cells": 200, "wall": "12 mil"},
            {"volume": 5.869278},
            "17.0275 x 0.344694, recomputed cell by cell",
            rel=1e-5,
        ),
    ),
    Quantity(
        "plug-mass",
        "Mass of ash that fills that share of every inlet channel",
        {"share": share("of the length"), "inlet": INLET, "packing": num("g/cm³", 0.05, 2.0, "packing density of the ash")},
        {"mass": "g"},
        lambda g: {"mass": ash.plug_g(g["share"], g["inlet"], g["packing"])},
        "share x volume x packing density",
        ("ash.plug_g",),
        Example(
            {"share": 1 / 3, "inlet": 5.869278, "packing": 0.3},
            {"mass": 586.928},
            "10.5 x 12 in, 200/12, recomputed cell by cell",
            rel=1e-5,
        ),
    ),
    Quantity(
        "blocked-by-ash",
        "Average blockage that so much ash explains",
        {"ash": num("g", 0.0, 1e6, "mass of the ash"), "inlet": INLET},
        {"low": "", "mid": "", "high": ""},
        lambda g: dict(ash.blocked_by(g["ash"], g["inlet"])),
        "packing 0.17, 0.30, 0.45 g/cm³ (from memory of SAE 2009-01-1086, 2010-01-1213)",
        ("ash.blocked_by",),
        Example(
            {"ash": 500, "inlet": 5.869278}, {"mid": 0.283964}, "inverse of plug-mass, recomputed cell by cell", rel=1e-5
        ),
    ),
    Quantity(
        "rod-agreement",
        "Average blockage lost, against the ash that came out",
        RANGE
        | {
            "inlet": INLET,
            "before": share("average blockage before"),
            "after": share("average blockage after"),
            "within": open_(share("how far the change may be off"), 0.05),
        },
        {"ok": "", "code": "", "observed": "", "low": "", "mid": "", "high": ""},
        lambda g: ash.rod_agreement(_range(g), g["inlet"], g["before"], g["after"], g["within"]),
        "as blocked-by-ash",
        ("ash.rod_agreement",),
        Example(
            {"low": 490, "mid": 500, "high": 510, "inlet": 5.869278, "before": 0.41, "after": 0.10},
            {"code": "ash.rod_agrees", "observed": 0.31, "mid": 0.283964},
            "0.41 - 0.10, and as blocked-by-ash",
            rel=1e-5,
        ),
        IN_ORDER,
    ),
    Quantity(
        "next-service",
        "Hours or kilometres until the next service",
        RANGE
        | {
            "used": num("", 1e-3, 1e8, "hours or kilometres over which that ash gathered"),
            "limit": num("g", 0.0, 1e6, "ash at which to service"),
            "left": open_(num("g", 0.0, 1e6, "ash still inside"), 0.0),
            "most": open_(num("", 0.0, 1e8, "never later than that")),
        },
        {"ok": "", "code": "", "low": "as used", "mid": "as used", "high": "as used"},
        lambda g: ash.next_service(_range(g), g["used"], g["limit"], g["left"], g["most"]),
        "used x room / ash gathered",
        ("ash.next_service",),
        Example(
            {"low": 246, "mid": 260, "high": 274, "used": 4000, "limit": 440},
            {"mid": 6769.23},
            "4000 x 440/260, by hand",
            abs=0.01,
        ),
        IN_ORDER,
    ),
)
