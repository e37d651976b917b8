"""Uncertainty, and decisions with it."""

from ...trade import flow, uncertainty
from ..shape import ListOf, Number
from .quantity import Example, Input, Quantity, many, num, open_

X = (-1e9, 1e9)
QUANTITIES = (
    Quantity(
        "rectangular",
        "Standard uncertainty of what lies anywhere within a half width",
        {"half_width": num("", 0.0, 1e9, "half width")},
        {"u": "as given"},
        lambda g: {"u": uncertainty.rectangular(g["half_width"])},
        "GUM (JCGM 100:2008) 4.3.7: half width/√3",
        ("uncertainty.rectangular",),
        Example({"half_width": 15}, {"u": 8.660254}, "15/√3, EA-4/02 S2 row (by hand)", abs=1e-6),
    ),
    Quantity(
        "resolution",
        "Standard uncertainty of a display that shows whole steps",
        {"step": num("", 0.0, 1e9, "one step")},
        {"u": "as given"},
        lambda g: {"u": uncertainty.resolution(g["step"])},
        "GUM F.2.2.1: step/√12",
        ("uncertainty.resolution",),
        Example({"step": 1}, {"u": 0.288675}, "GUM F.2.2.1 prints 0.29", abs=1e-6),
    ),
    Quantity(
        "combined-uncertainty",
        "Root sum of squares of independent parts",
        {"parts": many("", *X, "parts, each times its sensitivity")},
        {"u": "as given"},
        lambda g: {"u": uncertainty.combined_uncertainty(g["parts"])},
        "GUM 5.1.2, equation 10",
        ("uncertainty.combined_uncertainty",),
        Example(
            {"parts": [25, 5.8137767, 3.8901699, 6.6666667, 2.8867873, 16.5990271]},
            {"u": 31.66},
            "GUM (JCGM 100:2008) H.1: prints 32 nm, u² = 1002 nm² (read)",
            abs=0.01,
        ),
    ),
    Quantity(
        "effective-freedom",
        "Welch-Satterthwaite degrees of freedom of the combined parts",
        {
            "parts": many("", *X, "parts"),
            "freedoms": Input(ListOf(Number("", 0.0, 1e9), 1), "degrees of freedom of each; 0 for one that is exact"),
        },
        {"freedom": ""},
        lambda g: {"freedom": uncertainty.effective_freedom(g["parts"], [x if x > 0.0 else None for x in g["freedoms"]])},
        "GUM G.4.1, equation G.2b",
        ("uncertainty.effective_freedom",),
        Example(
            {"parts": [25.0, 9.7, 2.9, 16.6], "freedoms": [18.0, 25.6, 50.0, 2.0]},
            {"freedom": 16.7},
            "GUM H.1.6 prints 16.7 (from memory)",
            abs=0.07,
        ),
        (
            (
                lambda g: len(g["parts"]) != len(g["freedoms"]),
                "freedoms",
                "There must be as many freedoms as parts.",
                "as many freedoms as parts",
            ),
        ),
    ),
    Quantity(
        "conformance-probability",
        "Chance that the true value lies within the limits",
        {
            "value": num("", *X, "measured value"),
            "u": num("", 0.0, 1e9, "standard uncertainty"),
            "low": open_(num("", *X, "lower limit")),
            "high": open_(num("", *X, "upper limit")),
        },
        {"probability": ""},
        lambda g: {"probability": uncertainty.conformance_probability(g["value"], g["u"], g["low"], g["high"])},
        "JCGM 106:2012 clause 7",
        ("uncertainty.conformance_probability",),
        Example(
            {"value": 3.8, "u": 0.12, "high": 4.0},
            {"probability": 0.95221},
            "scipy 1.17.1 and statistics.NormalDist",
            abs=2e-6,
        ),
    ),
    Quantity(
        "guarded-end",
        "Highest restriction that passes at once",
        {
            "low": num("Pa", 0.0, 20000.0, "lower end of the window"),
            "high": num("Pa", 0.0, 20000.0, "upper end of the window"),
            "u": num("Pa", 0.0, 5000.0, "standard uncertainty of a reading"),
            "coverage": open_(num("", 0.0, 10.0, "how many of them"), 1.645),
        },
        {"guarded": "Pa"},
        lambda g: {"guarded": flow.guarded_high(g["low"], g["high"], g["u"], g["coverage"])},
        "JCGM 106:2012 clause 8: high - coverage x u, never below the middle of the window",
        ("flow.guarded_high",),
        Example(
            {"low": 0, "high": 4.0, "u": 0.12, "coverage": 2},
            {"guarded": 3.76},
            "A = T - k u, algebra (ILAC-G8:09/2019)",
            abs=1e-6,
        ),
        ((lambda g: g["low"] > g["high"], "low", "The lower end is above the upper one.", "low up to high"),),
    ),
)
