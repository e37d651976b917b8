"""Scale and check weights, and control charts of an instrument's checks."""

from typing import Any

from ...trade import chart, scales
from .quantity import Example, Inputs, Quantity, above, code, many, num, open_, whole

DIVISION = num("g", 0.001, 1e6, "the scale's division e or d")
LOAD = above("g", 0.0, 1e7, "load on the scale")
CLASS = code(("II", "III"), "class of the scale")
TABLES = tuple(rule for rule in scales.RULES if rule != "own")
WEIGHTS = many("g", 0.001, 1e6, "nominal mass of each check weight", 1, 50)
WEIGHT_CLASS = code(tuple(scales.R111_MG), "class of the check weight")
HANDBOOK = "NIST/SEMATECH e-Handbook 6.3.2"


def _limit(g: Any) -> dict[str, object]:
    return {
        "limit": scales.limit_g(g["rule"], g["class"], g["division"], g["load"]),
        "divisions": scales.divisions(g["load"], g["division"]),
    }


def _check(g: Any) -> dict[str, object]:
    scale: dict[str, object] = {
        "rule": g["rule"],
        "class": g["class"],
        "division_g": g["division"],
        "max_g": g["max"],
        "limit_g": g["limit"],
    }
    found = scales.scale_check(g["reading"], g["weights"], g["weight_class"] or "", scale, g["known_within"])
    return {
        "ok": found["ok"],
        "code": found["code"],
        "error": found["error_g"],
        "limit": found["limit_g"],
        "weight_limit": found["weight_limit_g"],
        "divisions": found["divisions"],
        "problems": found["problems"],
    }


def _signals(g: Any) -> dict[str, object]:
    z = chart.distances(g["readings"], g["centre"], g["sigma"])
    return {"signals": [[place + 1, rule] for place, rule in chart.signals(z)]}


CHECK: Inputs = {
    "reading": num("g", 0.0, 1e7, "what the scale shows"),
    "weights": WEIGHTS,
    "rule": code(tuple(scales.RULES), "whose limits"),
    "class": open_(CLASS),
    "division": DIVISION,
    "max": num("g", 1.0, 1e7, "largest load"),
    "limit": open_(num("g", 0.001, 1e6, "largest error, for rule own")),
    "weight_class": open_(WEIGHT_CLASS),
    "known_within": open_(num("g", 0.0, 1e6, "how well the weight is known, where it has no class")),
}
QUANTITIES = (
    Quantity(
        "scale-divisions",
        "How many divisions a load is",
        {"load": LOAD, "division": DIVISION},
        {"divisions": ""},
        lambda g: {"divisions": scales.divisions(g["load"], g["division"])},
        "load / division",
        ("scales.divisions",),
        Example(
            {"load": "150 lb", "division": "0.05 lb"},
            {"divisions": 3000.0},
            "metrology forum thread on Handbook 44 Table 6 (read)",
            abs=1e-9,
        ),
    ),
    Quantity(
        "scale-most-divisions",
        "Largest number of divisions of a class",
        {"class": CLASS},
        {"divisions": ""},
        lambda g: {"divisions": scales.most_divisions(g["class"])},
        "OIML R 76-1:2006 Table 3",
        ("scales.most_divisions",),
        Example({"class": "III"}, {"divisions": 10000}, "OIML R 76-1:2006 Table 3 (read)"),
    ),
    Quantity(
        "scale-classes",
        "Classes that a scale of this capacity and division may have",
        {
            "max": num("g", 1.0, 1e7, "largest load"),
            "division": DIVISION,
            "rule": open_(code(TABLES, "whose classes"), "r76_initial"),
        },
        {"classes": ""},
        lambda g: {"classes": scales.classes_allowed(g["max"], g["division"], g["rule"])},
        "OIML R 76-1:2006 Table 3; NIST Handbook 44 section 2.20 Table 3",
        ("scales.classes_allowed",),
        Example(
            {"max": "30 kg", "division": "1 g"}, {"classes": ["II"]}, "OIML R 76-1:2006 Table 3 (read): 30 000 divisions"
        ),
    ),
    Quantity(
        "scale-tolerance",
        "Largest error allowed at a load",
        {"rule": code(TABLES, "whose limits"), "class": CLASS, "division": DIVISION, "load": LOAD},
        {"limit": "g", "divisions": ""},
        _limit,
        "OIML R 76-1:2006 Table 6; NIST Handbook 44 section 2.20 Table 6",
        ("scales.limit_g",),
        Example(
            {"rule": "r76_initial", "class": "III", "division": "5 g", "load": "20 kg"},
            {"limit": 7.5},
            "OIML R 76-1:2006 Table 6 (read)",
            abs=1e-9,
        ),
    ),
    Quantity(
        "weight-tolerance",
        "Largest error of a check weight, or of a stack",
        {"weights": WEIGHTS, "class": WEIGHT_CLASS},
        {"limit": "g"},
        lambda g: {"limit": scales.weights_limit_g(g["weights"], g["class"])},
        "OIML R 111-1:2004 Table 1",
        ("scales.weights_limit_g",),
        Example(
            {"weights": ["20 kg"], "class": "M1"},
            {"limit": 1.0},
            "OIML R 111-1:2004 Table 1 (read in a national regulation)",
            rel=1e-12,
        ),
    ),
    Quantity(
        "weight-fine-enough",
        "Whether a check weight's error is at most a third of the scale's",
        {
            "weight_limit": num("g", 0.0, 1e6, "largest error of the weight"),
            "scale_limit": num("g", 0.0, 1e6, "largest error of the scale"),
        },
        {"ok": ""},
        lambda g: {"ok": scales.is_fine_enough(g["weight_limit"], g["scale_limit"])},
        "OIML R 76-1:2006 3.7.1 (from memory)",
        ("scales.is_fine_enough",),
        Example(
            {"weight_limit": "1 g", "scale_limit": "1 g"}, {"ok": False}, "20 kg M1 on a class II scale of 1 g, OIML tables"
        ),
    ),
    Quantity(
        "scale-check",
        "A check weighing against the scale's class",
        CHECK,
        {"ok": "", "code": "", "error": "g", "limit": "g", "weight_limit": "g", "divisions": "", "problems": ""},
        _check,
        "as scale-tolerance and weight-tolerance",
        ("scales.scale_check",),
        Example(
            {
                "reading": "20005 g",
                "weights": ["20 kg"],
                "weight_class": "M1",
                "rule": "r76_in_service",
                "class": "III",
                "division": "5 g",
                "max": "50 kg",
            },
            {"ok": True, "limit": 15.0, "error": 5.0},
            "4000 divisions: 1.5 e, twice in service (OIML R 76-1 Table 6)",
            abs=1e-9,
        ),
        (
            (
                lambda g: g["rule"] != "own" and g["class"] is None,
                "class",
                "Every rule but own needs the scale's class.",
                "II or III",
            ),
            (
                lambda g: g["rule"] == "own" and g["limit"] is None,
                "limit",
                "Rule own needs the largest error.",
                "a number of grams",
            ),
        ),
    ),
    Quantity(
        "control-limits",
        "Limits of the individuals and moving-range chart",
        {
            "readings": many("", -1e9, 1e9, "checks in their order", 0, 2000),
            "fewest": open_(whole(2, 1000, "fewest checks"), chart.FEWEST),
        },
        {
            "ok": "",
            "code": "",
            "needed": "",
            "n": "",
            "centre": "as given",
            "low": "as given",
            "high": "as given",
            "sigma": "as given",
            "mean_range": "as given",
            "range_high": "as given",
        },
        lambda g: chart.individuals(g["readings"], g["fewest"]),
        HANDBOOK + ".2: centre ± 3 MR/1.128",
        ("chart.individuals",),
        Example(
            {"readings": [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]},
            {"centre": 50.81, "low": 45.8159, "high": 55.8041, "mean_range": 1.8778},
            HANDBOOK + ".2 (read in public transcriptions)",
            abs=1e-4,
        ),
    ),
    Quantity(
        "run-rules",
        "Signals of the run rules: [point, rule], points counted from 1",
        {
            "readings": many("", -1e9, 1e9, "checks in their order", 0, 2000),
            "centre": open_(num("", -1e9, 1e9, "of the chart"), 0.0),
            "sigma": open_(above("", 0.0, 1e9, "of the chart"), 1.0),
        },
        {"signals": ""},
        _signals,
        "Western Electric (1956), as listed in " + HANDBOOK,
        ("chart.signals", "chart.distances"),
        Example(
            {"readings": [0.1, 2.2, 1.5, 2.4, 0.3]},
            {"signals": [[4, 2]]},
            "2 of 3 beyond 2 sigma; worked by two implementations (numpy)",
        ),
    ),
    Quantity(
        "check-due",
        "Whether the next check of an instrument is due",
        {
            "last": open_(num("s", 0.0, 1e11, "time of the last check")),
            "now": num("s", 0.0, 1e11, "time now, since the same moment"),
            "period": num("s", 0.0, 1e9, "how long a check holds"),
        },
        {"due": ""},
        lambda g: {"due": chart.is_due(g["last"], g["now"], g["period"])},
        "|now - last| against the period",
        ("chart.is_due",),
        Example({"last": 1000, "now": 1100, "period": 100}, {"due": True}, "by hand"),
    ),
)
