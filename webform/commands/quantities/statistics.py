"""Distributions, tolerance factors, limits from the shop's own accepted filters."""

from typing import Any

from ...trade import distributions, figures, functions, own_numbers, tolerance
from .quantity import Example, Inputs, Quantity, inside, many, num, open_, whole

FREEDOM = num("", 1.0, 10000.0, "degrees of freedom")
BELOW = inside("share below", 1e-6, 1.0 - 1e-6)
FACTOR: Inputs = {
    "count": whole(2, 5000, "readings"),
    "coverage": inside("share of the population", 0.5, 0.999),
    "confidence": inside("of holding it", 0.05, 0.995),
}
READINGS = many("", -1e9, 1e9, "readings, all in one unit", 1, 2000)
SCIPY = "scipy 1.17.1"


def _factor(function: Any) -> Any:
    return lambda g: {"factor": function(g["count"], g["coverage"], g["confidence"])}


def _own(g: Any) -> dict[str, object]:
    found = own_numbers.own_limits(g["readings"], g["coverage"], g["confidence"], g["fewest"])
    aside = found["set_aside"]
    assert isinstance(aside, list)
    return {**found, "set_aside": [{**entry, "place": entry["place"] + 1} for entry in aside]}


QUANTITIES = (
    Quantity(
        "normal-share",
        "Share of a standard normal distribution below z",
        {"z": num("", -38.0, 38.0, "standard deviations")},
        {"share": ""},
        lambda g: {"share": functions.normal_cdf(g["z"])},
        "Abramowitz & Stegun 26.2.10, 26.2.14",
        ("functions.normal_cdf",),
        Example({"z": -2.0}, {"share": 0.0227501}, "math.erfc", abs=1e-7),
    ),
    Quantity(
        "normal-quantile",
        "z below which that share lies",
        {"share": BELOW},
        {"z": ""},
        lambda g: {"z": functions.normal_quantile(g["share"])},
        "inverse of normal-share",
        ("functions.normal_quantile",),
        Example({"share": 0.975}, {"z": 1.959964}, "NIST/SEMATECH e-Handbook 1.3.6.7.1: 0.97500 at 1.96; " + SCIPY, abs=5e-7),
    ),
    Quantity(
        "student-quantile",
        "t below which that share of Student's distribution lies",
        {"share": BELOW, "freedom": FREEDOM},
        {"t": ""},
        lambda g: {"t": distributions.student_quantile(g["share"], g["freedom"])},
        "Abramowitz & Stegun 26.7.1, 26.5.27",
        ("distributions.student_quantile",),
        Example({"share": 0.975, "freedom": 9}, {"t": 2.262}, "NIST/SEMATECH e-Handbook 1.3.6.7.2 (printed)", abs=5.1e-4),
    ),
    Quantity(
        "student-above",
        "Share of Student's t above t",
        {"t": num("", 0.0, 1e6, "t"), "freedom": FREEDOM},
        {"share": ""},
        lambda g: {"share": distributions.student_above(g["t"], g["freedom"])},
        "Abramowitz & Stegun 26.7.1, 26.5.27",
        ("distributions.student_above",),
        Example({"t": 2.262, "freedom": 9}, {"share": 0.025}, "NIST/SEMATECH e-Handbook 1.3.6.7.2 (printed)", abs=2e-5),
    ),
    Quantity(
        "chi-square-quantile",
        "Value below which that share of chi-square lies",
        {"share": BELOW, "freedom": FREEDOM},
        {"chi_square": ""},
        lambda g: {"chi_square": distributions.chi_square_quantile(g["share"], g["freedom"])},
        "Abramowitz & Stegun 6.5.29, 6.5.31",
        ("distributions.chi_square_quantile",),
        Example(
            {"share": 0.95, "freedom": 10},
            {"chi_square": 18.307},
            "NIST/SEMATECH e-Handbook 1.3.6.7.4 (printed, from memory)",
            abs=5.1e-4,
        ),
    ),
    Quantity(
        "noncentral-t-share",
        "Share of the noncentral t distribution below t",
        {"t": num("", -1e4, 1e4, "t"), "freedom": FREEDOM, "delta": num("", -240.0, 240.0, "noncentrality")},
        {"share": ""},
        lambda g: {"share": distributions.noncentral_t_cdf(g["t"], g["freedom"], g["delta"])},
        "definition, summed over s/sigma",
        ("distributions.noncentral_t_cdf",),
        Example(
            {"t": 2.262157, "freedom": 9, "delta": 0},
            {"share": 0.975},
            "Student's t without noncentrality: NIST 1.3.6.7.2",
            abs=1e-6,
        ),
    ),
    Quantity(
        "noncentral-t-quantile",
        "t below which that share of the noncentral t distribution lies",
        {"share": BELOW, "freedom": FREEDOM, "delta": num("", -240.0, 240.0, "noncentrality")},
        {"t": ""},
        lambda g: {"t": distributions.noncentral_t_quantile(g["share"], g["freedom"], g["delta"])},
        "inverse of noncentral-t-share",
        ("distributions.noncentral_t_quantile",),
        Example({"share": 0.975, "freedom": 9, "delta": 0}, {"t": 2.262157}, "NIST/SEMATECH e-Handbook 1.3.6.7.2", abs=5e-7),
    ),
    Quantity(
        "mean-and-deviation",
        "Mean and sample standard deviation",
        {"readings": many("", -1e9, 1e9, "readings", 2, 2000)},
        {"mean": "", "deviation": "", "total": ""},
        lambda g: {
            "mean": figures.mean(g["readings"]),
            "deviation": figures.deviation(g["readings"]),
            "total": figures.total(g["readings"]),
        },
        "divisor n - 1",
        ("figures.mean", "figures.deviation", "figures.total"),
        Example({"readings": [2, 4, 4, 4, 5, 5, 7, 9]}, {"mean": 5.0, "deviation": 2.138090}, "√(32/7), by hand", abs=1e-6),
    ),
    Quantity(
        "one-sided-factor",
        "k1: mean + k1 s lies above that share of a normal population",
        FACTOR,
        {"factor": ""},
        _factor(tolerance.one_sided),
        "NIST/SEMATECH e-Handbook 7.2.6.3, noncentral t",
        ("tolerance.one_sided",),
        Example(
            {"count": 43, "coverage": 0.9, "confidence": 0.99},
            {"factor": 1.8740},
            "NIST/SEMATECH e-Handbook 7.2.6.3 (read)",
            abs=6e-5,
        ),
    ),
    Quantity(
        "two-sided-factor",
        "k2: mean ± k2 s holds that share of a normal population",
        FACTOR,
        {"factor": ""},
        _factor(tolerance.two_sided),
        "the integral behind ISO 16269-6, exact",
        ("tolerance.two_sided",),
        Example(
            {"count": 10, "coverage": 0.95, "confidence": 0.95},
            {"factor": 3.3935},
            "ISO 16269-6:2014 Annex F, rounded up (read in a public test suite)",
            abs=1.1e-4,
        ),
    ),
    Quantity(
        "howe-factor",
        "Howe's approximation of k2",
        FACTOR,
        {"factor": ""},
        _factor(tolerance.howe),
        "NIST/SEMATECH e-Handbook 7.2.6.3",
        ("tolerance.howe",),
        Example(
            {"count": 43, "coverage": 0.9, "confidence": 0.99},
            {"factor": 2.2173},
            "NIST/SEMATECH e-Handbook 7.2.6.3 (read)",
            abs=6e-5,
        ),
    ),
    Quantity(
        "own-limits",
        "Limits from the shop's own accepted filters: a tolerance interval without its far-off entries",
        {
            "readings": many("", 0.0, 1e9, "readings of one model, all in one unit", 0, 2000),
            "coverage": open_(FACTOR["coverage"], 0.95),
            "confidence": open_(inside("of holding it", 0.5, 0.999), 0.95),
            "fewest": open_(whole(5, 1000, "fewest readings"), own_numbers.FEWEST),
        },
        {
            "ok": "",
            "code": "",
            "low": "as given",
            "high": "as given",
            "n": "",
            "needed": "",
            "mean": "as given",
            "deviation": "as given",
            "factor": "",
            "set_aside": "",
        },
        _own,
        "mean ± k2 s; entries set aside by the generalised ESD test; places count from 1",
        ("own_numbers.own_limits",),
        Example(
            {"readings": [412.0, 420.5, 431.0, 405.5, 415.0, 440.0, 425.5, 418.0, 422.0, 411.0]},
            {"ok": True, "factor": 3.3935},
            "factor: ISO 16269-6:2014 Annex F; readings invented",
            abs=6e-4,
        ),
    ),
    Quantity(
        "far-off-readings",
        "Readings that cannot belong to one normal population with the others (generalised ESD)",
        {
            "readings": READINGS,
            "most": whole(1, 200, "most entries to look for"),
            "chance": inside("of naming a sound one", 0.001, 0.2),
        },
        {"places": ""},
        lambda g: {"places": sorted(place + 1 for place in own_numbers.far_off(g["readings"], g["most"], g["chance"]))},
        "NIST/SEMATECH e-Handbook 1.3.5.17.3 (Rosner 1983); places count from 1",
        ("own_numbers.far_off",),
        Example(
            {"readings": [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], "most": 1, "chance": 0.05},
            {"places": [8]},
            "Tietjen and Moore's data, NIST/SEMATECH e-Handbook 1.3.5.17.1 (read in public test suites)",
        ),
    ),
    Quantity(
        "far-off-limit",
        "Largest believable |x - mean|/s among so many readings, two-sided",
        {"count": whole(3, 5000, "readings"), "chance": inside("of naming a sound one", 0.001, 0.2)},
        {"limit": ""},
        lambda g: {"limit": own_numbers.esd_critical(g["count"], g["chance"])},
        "NIST/SEMATECH e-Handbook 1.3.5.17.3",
        ("own_numbers.esd_critical",),
        Example(
            {"count": 54, "chance": 0.05}, {"limit": 3.158}, "NIST/SEMATECH e-Handbook 1.3.5.17.3 (printed, cut)", abs=1.2e-3
        ),
    ),
)
