"""The rod: one cell, intervals over the face, how many cells it takes, where they lie."""

from typing import Any

from ...trade import distributions, figures, intervals, rod, sampling
from .quantity import Example, Quantity, code, inside, many, num, open_, share, whole, wholes

HITS = whole(0, 100000, "cells that count as blocked")
COUNT = whole(1, 100000, "cells rodded")
LIMIT = inside("limit of the share", 0.01, 0.99)
MOST = open_(whole(0, 1000, "most additional cells"), sampling.MOST_MORE)
WILSON = "Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3"
T_INTERVAL = "NIST/SEMATECH e-Handbook 1.3.5.2: mean ± t s/√n"
FEW = (((lambda g: g["hits"] > g["count"]), "hits", "There are more hits than cells.", "hits up to count"),)


def _pair(found: tuple[float, float] | None) -> dict[str, object] | None:
    return None if found is None else {"low": found[0], "high": found[1]}


def _mean(g: Any) -> dict[str, object] | None:
    found = _pair(intervals.of_mean(g["fractions"]))
    return None if found is None else {"mean": figures.mean(g["fractions"]), **found}


def _student(g: Any) -> dict[str, object]:
    t = distributions.student_quantile((1.0 + g["confidence"]) / 2.0, g["count"] - 1.0)
    half = t * g["deviation"] / g["count"] ** 0.5
    return {"low": g["mean"] - half, "high": g["mean"] + half, "t": t}


def _blocked(g: Any) -> dict[str, object]:
    cell = {"feel": g["feel"], "depth_m": g["depth"], "short_m": g["short"]}
    return {"fraction": rod.blocked(cell, g["full_depth"])}


def _pattern(g: Any) -> dict[str, object]:
    cells: list[dict[str, object]] = [{"zone": zone, "is_blocked": zone in g["blocked"]} for zone in g["zones"]]
    return {"pattern": sampling.position_pattern(cells)}


def _rodded(g: Any) -> dict[str, object]:
    return sampling.more_cells(g["fractions"], g["limit"], g["most"])


QUANTITIES = (
    Quantity(
        "cell-blocked",
        "Blocked share of one cell's depth",
        {
            "feel": code(("free", "soft", "hard", "through"), "what stopped the rod"),
            "full_depth": num("m", 0.02, 1.0, "full depth"),
            "depth": open_(num("m", 0.0, 1.0, "how far the rod went")),
            "short": open_(num("m", 0.0, 1.0, "what it fell short by")),
        },
        {"fraction": ""},
        _blocked,
        "1 - depth / full depth, or short / full depth",
        ("rod.blocked",),
        Example(
            {"feel": "hard", "full_depth": "290 mm", "depth": "130 mm"},
            {"fraction": 0.551724},
            "(290 - 130)/290, by hand",
            abs=1e-6,
        ),
        (
            (
                lambda g: g["feel"] in ("soft", "hard") and g["depth"] is None and g["short"] is None,
                "depth",
                "A soft or hard cell needs depth or short.",
                "depth, or short",
            ),
        ),
    ),
    Quantity(
        "mean-interval",
        "Mean of the cells' fractions with its 95 % interval, cut to 0 and 1",
        {"fractions": many("", 0.0, 1.0, "blocked share of each cell, free ones as 0", 2)},
        {"mean": "", "low": "", "high": ""},
        _mean,
        T_INTERVAL,
        ("intervals.of_mean",),
        Example(
            {"fractions": [0.551724] * 20 + [0.0] * 4},
            {"mean": 0.4598, "low": 0.3711, "high": 0.5485},
            "0.4598 ± 2.069 x 0.210038/√24 = 0.0887, by hand; t of NIST e-Handbook 1.3.6.7.2",
            abs=2e-4,
        ),
    ),
    Quantity(
        "student-interval",
        "Interval of a mean from its standard deviation",
        {
            "mean": num("", -1e9, 1e9, "of the readings"),
            "deviation": num("", 0.0, 1e9, "standard deviation of the readings"),
            "count": whole(2, 100000, "readings"),
            "confidence": open_(inside("of the interval"), 0.95),
        },
        {"low": "", "high": "", "t": ""},
        _student,
        T_INTERVAL,
        ("distributions.student_quantile",),
        Example(
            {"mean": 9.26146, "deviation": 0.022789, "count": 195},
            {"low": 9.258242, "high": 9.264679},
            "NIST/SEMATECH e-Handbook 1.3.5.2 (read in public transcriptions)",
            abs=2e-6,
        ),
    ),
    Quantity(
        "wilson-interval",
        "95 % interval of a share (Wilson score)",
        {"hits": HITS, "count": COUNT},
        {"low": "", "high": ""},
        lambda g: _pair(intervals.of_share(g["hits"], g["count"])),
        WILSON,
        ("intervals.of_share",),
        Example(
            {"hits": 15, "count": 148},
            {"low": 0.0624, "high": 0.1605},
            "Newcombe 1998, Table I (read in a public test file)",
            abs=6e-5,
        ),
        FEW,
    ),
    Quantity(
        "clopper-pearson-interval",
        "Exact two-sided interval of a share",
        {"hits": HITS, "count": COUNT, "confidence": open_(inside("of the interval"), 0.95)},
        {"low": "", "high": ""},
        lambda g: _pair(distributions.clopper_pearson(g["hits"], g["count"], g["confidence"])),
        "NIST/SEMATECH e-Handbook 7.2.4.1, by the beta distribution",
        ("distributions.clopper_pearson",),
        Example(
            {"hits": 4, "count": 20, "confidence": 0.9},
            {"low": 0.071354, "high": 0.401029},
            "NIST/SEMATECH e-Handbook 7.2.4.1 (from memory, recomputed with scipy 1.17.1)",
            abs=2e-6,
        ),
        FEW,
    ),
    Quantity(
        "student-95",
        "Two-sided 95 % quantile of Student's t, to six decimals, as the rod's intervals use it",
        {"freedom": whole(1, 100000, "degrees of freedom")},
        {"t": ""},
        lambda g: {"t": intervals.student_95(g["freedom"])},
        "integrated density up to 60; beyond it Abramowitz & Stegun 26.7.5",
        ("intervals.student_95",),
        Example({"freedom": 23}, {"t": 2.069}, "NIST/SEMATECH e-Handbook 1.3.6.7.2 (printed)", abs=5.1e-4),
    ),
    Quantity(
        "cells-for-share",
        "Cells that clear a limit if the share stays",
        {"share": share("found so far"), "limit": LIMIT},
        {"cells": ""},
        lambda g: {"cells": sampling.cells_for_share(g["share"], g["limit"])},
        WILSON + ": n > z² p0 (1 - p0)/(p - p0)²",
        ("sampling.cells_for_share",),
        Example({"share": 0.25, "limit": 1 / 3}, {"cells": 123}, "closed form of the score interval and a search on it"),
    ),
    Quantity(
        "cells-for-mean",
        "Cells that clear a limit if average and deviation stay",
        {"average": share("found so far"), "deviation": num("", 0.0, 1.0, "standard deviation of the cells"), "limit": LIMIT},
        {"cells": ""},
        lambda g: {"cells": sampling.cells_for_mean(g["average"], g["deviation"], g["limit"])},
        "fewest n with t s/√n < |limit - average|",
        ("sampling.cells_for_mean",),
        Example({"average": 0.28, "deviation": 0.2, "limit": 1 / 3}, {"cells": 57}, "scipy 1.17.1 stats.t.interval, search"),
    ),
    Quantity(
        "more-cells",
        "How many more cells would settle the average blockage",
        {"fractions": many("", 0.0, 1.0, "blocked share of each cell", 0), "limit": LIMIT, "most": MOST},
        {"code": "", "more": "", "cells": ""},
        _rodded,
        "as cells-for-mean; at most 12, then a person",
        ("sampling.more_cells",),
        Example(
            {"fractions": [0.5, 0.0] * 12, "limit": 1 / 3},
            {"code": "cells.person", "more": 0},
            "36 cells leave ± 0.086 around 0.25, which still reaches a third, by hand with t(35) = 2.030",
        ),
    ),
    Quantity(
        "more-cells-to-pass",
        "How many more cells would show the average below its limit; a worse cell never makes that clearer",
        {"fractions": many("", 0.0, 1.0, "blocked share of each cell", 0), "limit": LIMIT, "most": MOST},
        {"code": "", "more": "", "cells": ""},
        lambda g: sampling.more_cells_to_pass(g["fractions"], g["limit"], g["most"]),
        "as more-cells, for every face on which only the k most blocked cells stay blocked",
        ("sampling.more_cells_to_pass",),
        Example(
            {"fractions": [0.28] * 24, "limit": 1 / 3},
            {"code": "cells.clear", "more": 0},
            "worst with 23 of them: 0.2683 ± 2.069 x 0.0572/√24 = 0.0241, so 0.2924, by hand with t(23) of NIST e-Handbook",
        ),
    ),
    Quantity(
        "more-cells-for-share",
        "How many more cells would settle the share of blocked cells",
        {"hits": whole(0, 1000, "blocked cells"), "count": whole(0, 1000, "cells rodded"), "limit": LIMIT, "most": MOST},
        {"code": "", "more": "", "cells": ""},
        lambda g: sampling.more_cells_for_share(g["hits"], g["count"], g["limit"], g["most"]),
        "as cells-for-share; at most 12, then a person",
        ("sampling.more_cells_for_share",),
        Example(
            {"hits": 4, "count": 24, "limit": 1 / 3},
            {"code": "cells.more", "more": 7},
            "z² 2/9/(1/6)² = 30.7, so 31 cells, by hand",
        ),
        FEW,
    ),
    Quantity(
        "chance-all-missed",
        "Chance that cells rodded at random meet none of the bad ones",
        {
            "cells": whole(1, 100000, "inlet cells of the face"),
            "bad": whole(0, 100000, "bad ones among them"),
            "probed": whole(0, 100000, "cells rodded"),
        },
        {"chance": ""},
        lambda g: {"chance": sampling.chance_all_missed(g["cells"], g["bad"], g["probed"])},
        "hypergeometric, exact",
        ("sampling.chance_all_missed",),
        Example(
            {"cells": 8659, "bad": 500, "probed": 24},
            {"chance": 0.23945},
            "scipy 1.17.1 hypergeom and exact integers",
            abs=1e-5,
        ),
        (
            (
                lambda g: g["probed"] > g["cells"] or g["bad"] > g["cells"],
                "cells",
                "There are fewer cells than bad or probed ones.",
                "bad and probed up to cells",
            ),
        ),
    ),
    Quantity(
        "spread-cells",
        "Places of the cells to rod, each standing for the same area (-1 to 1 across the face)",
        {"count": whole(1, 200, "cells to rod"), "shape": code(("round", "oval", "rectangular"), "of the face")},
        {"places": ""},
        lambda g: {"places": [list(place) for place in sampling.spread_cells(g["count"], g["shape"])]},
        "rings or rows of equal area a cell",
        ("sampling.spread_cells",),
        Example(
            {"count": 4, "shape": "rectangular"},
            {"places": [[-0.5, 0.5], [0.5, 0.5], [-0.5, -0.5], [0.5, -0.5]]},
            "middles of the quarters, geometry",
        ),
    ),
    Quantity(
        "face-zone",
        "Zone, 1 to 12, of a place on the face",
        {"x": num("", -1.0, 1.0, "from left to right"), "y": num("", -1.0, 1.0, "from bottom to top")},
        {"zone": ""},
        lambda g: {"zone": sampling.zone_at(g["x"], g["y"])},
        "three rows of four, row by row from the top left",
        ("sampling.zone_at",),
        Example({"x": -0.9, "y": 0.9}, {"zone": 1}, "by geometry"),
    ),
    Quantity(
        "position-pattern",
        "Where on the face the blocked cells lie",
        {
            "zones": wholes(1, 12, "zone of each rodded cell", 200),
            "blocked": wholes(1, 12, "zones whose cells are blocked", 12),
        },
        {"pattern": ""},
        _pattern,
        "Fisher's exact test of each group of zones, one-sided, below 2 in 100",
        ("sampling.position_pattern",),
        Example(
            {"zones": list(range(1, 13)), "blocked": [6, 7]}, {"pattern": "centre"}, "chance 1/66 (12 choose 2), by hand"
        ),
    ),
)
