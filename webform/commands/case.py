"""THE shape of a JSON job for `ashbook judge`: the calculation's case (DEVELOPERS.md, "Case"), declared once as data.

Bounds and codes of what is typed on the phone come from the form's own declaration, those of air and brick from the
calculation, so that nothing is stated twice. read_case() gives a complete case in the calculation's units.
"""

from typing import Any

from ..checklist.check import FLOAT_SLACK_M, MOST_CELLS
from ..checklist.declaration import FITTED, FITTED_AT_ONCE, SKIP_REASONS
from ..checklist.lookup import field_of, step_named
from ..trade.air import BELIEVED as ROOM
from ..trade.air import MOST_U, STANDARD_U
from ..trade.ash import CEILING_PERCENT
from ..trade.clean_filter import BELIEVED as BRICKS
from ..trade.correction import FLOWS_M3_S
from ..trade.light import RANGES
from ..trade.plate import BENCH_MODES
from ..trade.rules import START, rows_of
from ..trade.sampling import ZONES
from ..trade.weight import DOUBTFUL_CODES
from .shape import Choice, ListOf, Number, Part, Problem, Record, Text, maybe, needed, read
from .typed import converted

SKIPS = tuple(code for code, _ in SKIP_REASONS)
MOST_ROUNDS = 30
AMOUNT = 1e8  # hours, kilometres, litres: as much as ash.py reads


def as_typed(step: str, name: str, unit: str) -> Number:
    """A number of the form, with its bounds in the calculation's unit."""
    field = field_of(step_named(step), name)
    low, high = (float(f"{converted(end, field.bound_unit, unit):.12g}") for end in (field.low, field.high))
    return Number(unit, low, high, field.is_whole_number)


def codes(step: str, name: str) -> Choice:
    """The codes of a choice of the form."""
    return Choice(tuple(choice.code for choice in field_of(step_named(step), name).choices))


def _air() -> Record:
    units = {"temperature_k": "K", "pressure_pa": "Pa", "altitude_m": "m", "humidity": ""}
    parts = {name: Part(Number(unit, *ROOM[name]), name == "temperature_k") for name, unit in units.items()}
    parts |= {
        "u_" + name: maybe(Number(unit, 0.0, MOST_U * STANDARD_U[name], is_difference=unit == "K"))
        for name, unit in units.items()
    }
    return Record(parts)


AIR = _air()
PASCAL = as_typed("flow", "drop", "Pa")
GRAMS = as_typed("weight", "mass", "g")
LEFT_ON = ListOf(codes("weight", "fitted"), most=len(FITTED))  # what hung on it and nobody weighed
# What hung on the filter, was weighed on its own and is off the net mass already; "fitted": all of it at once.
PARTS = ListOf(
    Record(
        {
            "part": needed(Choice((*(part for part, _ in FITTED), "fitted"))),
            "mass_g": needed(as_typed("weight", FITTED_AT_ONCE, "g")),
        }
    ),
    most=len(FITTED) + 1,
)
PLATE = Record(
    {"read_pa": needed(PASCAL), "own_pa": needed(Number("Pa", 1.0, PASCAL.high)), "own_air": maybe(AIR)}
)
CHECK = Record({"mode": needed(Choice(BENCH_MODES)), "air": needed(AIR), "plate": maybe(PLATE)})
CELL = Record(
    {
        "feel": needed(codes("rod", "cells")),
        "depth_m": maybe(Number("m", 0.0, 1.0)),
        "short_m": maybe(Number("m", 0.0, 1.0)),
        "zone": maybe(Number("", ZONES[0], ZONES[-1], is_whole=True)),
    }
)


def _is_beyond(rod: Any) -> bool:
    """Whether a cell was rodded deeper than the brick is."""
    full_m = rod["full_depth_m"]
    ends = [cell[name] for cell in rod["cells"] for name in ("depth_m", "short_m") if cell[name] is not None]
    return full_m is not None and bool(ends) and max(ends) > full_m + FLOAT_SLACK_M


def _is_told_twice(rod: Any) -> bool:
    """Whether a cell is told both by how far the rod went and by how far it fell short."""
    return any(cell["depth_m"] is not None and cell["short_m"] is not None for cell in rod["cells"])


def _is_lit_twice(seen: Any) -> bool:
    """Whether there is a count or a range of lit cells beside an answer that is not single cells."""
    return seen["kind"] != "cells" and (seen["lit"] != "none" or seen["count"] is not None)


def _is_miscounted(seen: Any) -> bool:
    """Whether the exact count lies outside of the quick answer."""
    if seen["count"] is None or seen["lit"] not in RANGES:
        return False
    low, high = RANGES[seen["lit"]]
    return bool(seen["count"] < low or (high is not None and seen["count"] > high))


READINGS = Record(
    {
        "visual": maybe(Record({name: maybe(codes("visual", name)) for name in ("outlet", "brick", "can", "wet")}, SKIPS)),
        "weight": maybe(
            Record(
                {
                    "mass_g": maybe(GRAMS),
                    "temperature": maybe(codes("weight", "temperature")),
                    "moisture": maybe(codes("weight", "moisture")),
                    "parts": maybe(PARTS),
                    "left_on": maybe(LEFT_ON),
                    "scale": maybe(Choice(("good", *DOUBTFUL_CODES))),
                },
                SKIPS,
            )
        ),
        "rod": maybe(
            Record(
                {"full_depth_m": maybe(as_typed("rod", "full_depth", "m")), "cells": needed(ListOf(CELL, most=MOST_CELLS))},
                SKIPS,
                (
                    (_is_beyond, "cells", "A cell lies deeper than the full depth.", "depths up to full_depth_m"),
                    (_is_told_twice, "cells", "A cell has both depth and short.", "one of the two in each cell"),
                ),
            )
        ),
        "light": maybe(
            Record(
                {
                    "kind": needed(codes("light", "kind")),
                    "lit": maybe(Choice(("none", *codes("light", "lit").codes)), "none"),
                    "count": maybe(as_typed("light", "count", "")),
                },
                SKIPS,
                (
                    (_is_lit_twice, "lit", "Only single cells are counted.", '"none" and no count, or kind "cells"'),
                    (_is_miscounted, "count", "It does not lie in the range of lit.", "a count that fits lit"),
                ),
            )
        ),
        "flow": maybe(
            Record(
                {
                    "drops_pa": needed(ListOf(PASCAL, most=20)),
                    "bench": maybe(codes("flow", "bench"), "not_checked"),
                    "check": maybe(CHECK),
                },
                SKIPS,
            )
        ),
    }
)
BRICK = Record(
    {
        "depth_m": maybe(as_typed("model", "depth", "m")),
        "shape": maybe(Choice(("round", "oval", "rectangular")), "round"),
        "long_m": maybe(Number("m", 0.02, 1.5)),
        "short_m": maybe(Number("m", 0.02, 1.5)),
        "cells_per_in2": maybe(Number("cells/in²", *BRICKS[2])),
        "wall_m": maybe(Number("m", *BRICKS[3])),
    },
    together=(
        (
            lambda brick: brick["shape"] != "round" and brick["long_m"] is not None and brick["short_m"] is None,
            "short_m",
            "An oval or rectangular face has two sizes.",
            "the shorter axis or side, as long_m",
        ),
    ),
)


def _is_upside_down(spec: Any) -> bool:
    """Whether the lower end of a window lies above the upper one."""
    return bool(spec["low_pa"] > spec["high_pa"])


SPEC = Record(
    {
        "low_pa": needed(as_typed("spec", "low", "Pa")),
        "high_pa": needed(as_typed("spec", "high", "Pa")),
        "u_pa": needed(as_typed("spec", "uncertainty", "Pa")),
        "origin": needed(Text(120)),
        "revision": needed(Text(40)),
        "flow_m3_s": maybe(Number("m³/s", *FLOWS_M3_S)),
        "air": maybe(AIR),
    },
    together=((_is_upside_down, "low_pa", "The lower end is above the upper one.", "low up to high"),),
)
ROUND = Record(
    {
        "method": needed(codes("treatment", "method")),
        "minutes": maybe(as_typed("treatment", "minutes", "min")),
        "temperature_k": maybe(as_typed("treatment", "temperature", "K")),
        "mass_g": maybe(GRAMS),
        "parts": maybe(PARTS),
        "left_on": maybe(LEFT_ON),
    }
)
USE = Record(
    {
        "hours": maybe(Number("h", 0.0, AMOUNT)),
        "oil_l_per_h": maybe(Number("", 0.0, 1e3)),
        "distance_km": maybe(Number("km", 0.0, AMOUNT)),
        "oil_l_per_1000_km": maybe(Number("", 0.0, 1e3)),
        "fuel_l": maybe(Number("L", 0.0, AMOUNT)),
        "oil_share_of_fuel": maybe(Number("", 0.0, 1e3)),
        "oil_l": maybe(Number("L", 0.0, AMOUNT)),
        "within": maybe(Number("", 0.0, 0.9)),
        "category": maybe(Choice(tuple(CEILING_PERCENT))),
        "ash_percent": maybe(Number("", 0.01, 5.0)),
        "density_kg_l": maybe(Number("kg/L", 0.5, 1.5)),
        "reaching": maybe(Number("", 0.01, 1.0)),
    }
)
LIMITS = {str(row["name"]): row["value"] for row in rows_of(START)}


def _does_not_fit(row: dict[str, object]) -> bool:
    """Whether a shop's value stands where there is no limit, or is missing where there is one."""
    return (row["value"] is None) != (LIMITS[str(row["name"])] is None)


RULES = Record(
    {
        "revision": needed(Text(60)),
        "rows": needed(
            ListOf(
                Record(
                    {
                        "id": needed(Text(20)),
                        "name": needed(Choice(tuple(LIMITS))),
                        "value": maybe(Number("", 0.0, 1e6)),
                        "origin": needed(Choice(("common_practice", "start", "shop"))),
                        "words": maybe(Text(400), ""),
                    },
                    together=(
                        (
                            _does_not_fit,
                            "value",
                            "A rule with a limit keeps one, a rule without gets none.",
                            "a number where the starting table has one, else null",
                        ),
                    ),
                ),
                most=100,
            )
        ),
    }
)
CASE = Record(
    {
        "stage": needed(Choice(("before", "after"))),
        "unit_kind": maybe(codes("filter", "unit_kind"), "wall_flow"),
        "brick": maybe(BRICK, {"depth_m": None}),
        "spec": maybe(SPEC),
        "rules": maybe(RULES, START),
        "readings": needed(READINGS),
        "before": maybe(READINGS),
        "rounds": maybe(ListOf(ROUND, most=MOST_ROUNDS), []),
        "reference": maybe(
            Record({"mass_g": needed(GRAMS), "origin": needed(Choice(("own", "model"))), "left_on": maybe(LEFT_ON)})
        ),
        "use": maybe(USE),
        "released": maybe(Record({"person": needed(Text(120)), "reason": needed(Text(300))})),
    },
    together=(
        (
            lambda case: case["stage"] == "before" and case["before"] is not None,
            "before",
            "Before cleaning there are no readings from before: they stand in readings.",
            "null, or stage after",
        ),
    ),
)


def read_case(given: object) -> tuple[dict[str, object] | None, list[Problem]]:
    """(the case, []) or (None, every problem with its path, what is wrong and what is allowed)."""
    problems: list[Problem] = []
    case = read(CASE, given, "$", problems)
    return (None, problems) if problems or not isinstance(case, dict) else (case, [])
