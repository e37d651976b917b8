"""The clean filter from its geometry, and what end plugs of ash do to it."""

from typing import Any

from ...trade import bench, clean_filter
from .quantity import Example, Inputs, Quantity, code, many, num, open_

BRICK: Inputs = {
    "shape": open_(code(("round", "oval", "rectangular"), "of the face"), "round"),
    "long": num("m", 0.02, 1.5, "diameter, or the longer axis or side"),
    "short": open_(num("m", 0.02, 1.5, "the shorter axis or side")),
    "length": num("m", 0.02, 1.0, "of the brick"),
    "cells": num("cells/in²", 20.0, 1500.0, "cells per square inch"),
    "wall": num("m", 2e-5, 3e-3, "wall thickness"),
}
FLOW = num("m³/s", 1e-3, 2.0, "volume flow")
VISCOSITY = num("Pa·s", 1e-5, 3e-5, "viscosity of the air")
DENSITY = num("kg/m³", 1e-6, 2.0, "density of the air")
WALL = num("m²", 1e-15, 1e-10, "permeability of the wall")
MIDDLE = {"long": "10.5 in", "length": "12 in", "cells": 200, "wall": "12 mil"}
AT_200 = {**MIDDLE, "flow": "200 cfm", "viscosity": 1.8134e-5, "permeability": 5e-13}
SOLVED = "scipy 1.17.1 solve_bvp of the channel equations"
EXACT = "exact solution of channel friction and wall, derived in clean_filter.py; tests integrate it numerically"


def brick_of(g: Any) -> dict[str, float] | None:
    """The geometry of inputs that are named as in BRICK."""
    return bench.geometry_of(
        {
            "shape": g["shape"],
            "long_m": g["long"],
            "short_m": g["short"],
            "depth_m": g["length"],
            "cells_per_in2": g["cells"],
            "wall_m": g["wall"],
        }
    )


def _of(function: Any, *names: str, result: str = "drop") -> Any:
    """A computation with the brick first and the named inputs after it; None where no brick has such figures."""

    def compute(g: Any) -> dict[str, object] | None:
        body = brick_of(g)
        return None if body is None else {result: function(body, *[g[name] for name in names])}

    return compute


def _geometry(g: Any) -> dict[str, object] | None:
    body = brick_of(g)
    if body is None:
        return None
    return {
        "opening": body["opening_m"],
        "pitch": body["pitch_m"],
        "area": body["area_m2"],
        "volume": body["volume_m3"] * 1000.0,
        "cells": body["cells"],
        "inlet_cells": body["inlet_cells"],
        "open_fraction": body["open_fraction"],
    }


def _band(g: Any) -> dict[str, object] | None:
    body = brick_of(g)
    band = (
        None if body is None else clean_filter.allowed_band(body, g["fractions"], g["lowest"], g["highest"], g["u_fraction"])
    )
    return None if band is None else {"low": band[0], "high": band[1]}


FRACTIONS = many("", 0.0, 1.0, "blocked share of each cell, free ones as 0")
QUANTITIES = (
    Quantity(
        "face-area",
        "Area of one face",
        {name: BRICK[name] for name in ("shape", "long", "short")},
        {"area": "m²"},
        lambda g: {"area": clean_filter.face_area(g["shape"], g["long"], g["long"] if g["short"] is None else g["short"])},
        "geometry",
        ("clean_filter.face_area",),
        Example({"shape": "rectangular", "long": "300 mm", "short": "200 mm"}, {"area": 0.06}, "by hand", rel=1e-12),
    ),
    Quantity(
        "brick-geometry",
        "Cells, openings and volume of a brick",
        BRICK,
        {"opening": "m", "pitch": "m", "area": "m²", "volume": "L", "cells": "", "inlet_cells": "", "open_fraction": ""},
        _geometry,
        "definition of cells per square inch",
        ("clean_filter.geometry", "bench.geometry_of"),
        Example(
            MIDDLE,
            {"opening": 1.49125e-3, "cells": 17318.0, "volume": 17.0275, "open_fraction": 0.344694},
            "inch arithmetic, recomputed cell by cell",
            rel=1e-5,
        ),
    ),
    Quantity(
        "channel-speed",
        "Mean speed into the inlet channels",
        BRICK | {"flow": FLOW},
        {"speed": "m/s"},
        _of(clean_filter.channel_speed, "flow", result="speed"),
        "flow / (face x open fraction)",
        ("clean_filter.channel_speed",),
        Example({**MIDDLE, "flow": "200 cfm"}, {"speed": 4.9017}, "0.0943895 / (0.0558645 x 0.344694), by hand", abs=1e-4),
    ),
    Quantity(
        "clean-drop",
        "Restriction of the clean brick, viscous part: the exact coth solution",
        BRICK | {"flow": FLOW, "viscosity": VISCOSITY, "permeability": WALL},
        {"drop": "Pa"},
        _of(clean_filter.clean_drop, "flow", "viscosity", "permeability"),
        EXACT,
        ("clean_filter.clean_drop",),
        Example(AT_200, {"drop": 289.302}, SOLVED, rel=1e-5),
    ),
    Quantity(
        "closed-form-drop",
        "The same by the well-known closed form, which overestimates: for comparison",
        BRICK | {"flow": FLOW, "viscosity": VISCOSITY, "permeability": WALL},
        {"drop": "Pa"},
        _of(clean_filter.closed_form_drop, "flow", "viscosity", "permeability"),
        "Konstandopoulos and Johnson, SAE 890405 (1989), from memory",
        ("clean_filter.closed_form_drop",),
        Example(AT_200, {"drop": 297.386}, "the per-channel form of the same paper, computed elsewhere", rel=1e-4),
    ),
    Quantity(
        "channel-drop",
        "Restriction of the clean brick with the air's momentum in the channels",
        BRICK | {"flow": FLOW, "viscosity": VISCOSITY, "density": DENSITY, "permeability": WALL},
        {"drop": "Pa"},
        _of(clean_filter.channel_drop, "flow", "viscosity", "density", "permeability"),
        EXACT,
        ("clean_filter.channel_drop",),
        Example({**AT_200, "density": 1.2046}, {"drop": 290.891}, SOLVED + " with momentum", abs=6e-4),
    ),
    Quantity(
        "face-losses",
        "Loss at both faces",
        BRICK | {"flow": FLOW, "density": DENSITY},
        {"drop": "Pa"},
        _of(clean_filter.face_losses, "flow", "density"),
        "sudden contraction and expansion, textbook (from memory); good to a quarter",
        ("clean_filter.face_losses",),
        Example(
            {**MIDDLE, "flow": "200 cfm", "density": 1.2046},
            {"drop": 10.197},
            "14.471 x (0.275228 + 0.429426), by hand",
            abs=0.002,
        ),
    ),
    Quantity(
        "plug-ratio",
        "Restriction over clean, every inlet channel plugged over that share from its end",
        BRICK | {"permeability": WALL, "fraction": num("", 0.0, 1.0, "plugged share of the length")},
        {"ratio": ""},
        _of(clean_filter.plugged_ratio, "permeability", "fraction", result="ratio"),
        EXACT,
        ("clean_filter.plugged_ratio",),
        Example({**MIDDLE, "permeability": 5e-13, "fraction": 0.2}, {"ratio": 1.1497}, SOLVED, abs=5e-4),
    ),
    Quantity(
        "mixed-ratio",
        "Restriction over clean of cells with different plugs side by side",
        BRICK
        | {"permeability": WALL, "fractions": FRACTIONS, "weights": open_(many("", 1e-6, 1e6, "share of the face of each"))},
        {"ratio": ""},
        _of(clean_filter.mixed_ratio, "permeability", "fractions", "weights", result="ratio"),
        "1 / mean of 1/plug-ratio (cells in parallel)",
        ("clean_filter.mixed_ratio",),
        Example(
            {**MIDDLE, "permeability": 5e-13, "fractions": [0.0, 0.5], "weights": [0.5, 0.5]},
            {"ratio": 1.1846},
            "from the ratios of the solved equations",
            abs=1e-3,
        ),
        (
            (
                lambda g: g["weights"] is not None and len(g["weights"]) != len(g["fractions"]),
                "weights",
                "There must be as many weights as fractions.",
                "as many weights as fractions",
            ),
        ),
    ),
    Quantity(
        "rod-band",
        "Restriction over clean that the rod's cells allow, 95 %",
        BRICK
        | {
            "fractions": FRACTIONS,
            "lowest": open_(WALL, clean_filter.LOWEST_PERMEABILITY),
            "highest": open_(WALL, clean_filter.HIGHEST_PERMEABILITY),
            "u_fraction": open_(num("", 0.0, 0.2, "standard uncertainty of one fraction"), 0.01),
        },
        {"low": "", "high": ""},
        _band,
        "plug-ratio, Student's t, and the part of the face that was missed, 1 - 0.05^(1/n)",
        ("clean_filter.allowed_band",),
        Example(
            {**MIDDLE, "fractions": [0.0] * 24, "lowest": 5e-13, "highest": 5e-13, "u_fraction": 0},
            {"low": 1.0, "high": 1.13294},
            "1/(0.05^(1/24)) = 1/0.88266, by hand",
            abs=1e-4,
        ),
    ),
)
