"""Figures that no verdict reaches, for two interpreters: tolerance, own numbers, scales, chart, air, bricks, intervals.

quantities() gives {"name", "request"} for the phone's door, always the same. All inputs invented; no answers stored.
"""

from tests.vectors.parts import Draws


def quantities():
    """Requests of every kind, a few of each with figures drawn by rule."""
    draws = Draws(20261127)
    made = []
    for maker in MAKERS:
        for number in range(8):
            name, given = maker(draws, number)
            made.append({"name": f"{name} {number}", "request": {"op": "quantity", "name": name, "given": given}})
    for n, coverage, confidence in ((5, 0.95, 0.95), (10, 0.9, 0.99), (43, 0.99, 0.9)):
        made.append({"name": f"two_sided {n}", "request": {"op": "quantity", "name": "two_sided",
                                                           "given": [n, coverage, confidence]}})
    return made


def room(draws, number):
    pressure_pa = draws.one_of(None, draws.between(7e4, 1e5))
    return "room_air", [{"temperature_k": draws.between(270, 310), "pressure_pa": pressure_pa,
                         "altitude_m": draws.between(0, 3000), "humidity": draws.between(0, 1)}]


def spread(draws, number):
    return "spread_cells", [1 + draws.below(40), draws.one_of("round", "oval", "rectangular")]


def share_limits(draws, number):
    count = 5 + draws.below(40)
    return "clopper_pearson", [draws.below(count + 1), count, draws.one_of(0.9, 0.95, 0.99)]


def one_sided(draws, number):
    return "one_sided", [3 + draws.below(30), draws.one_of(0.9, 0.95, 0.99), draws.one_of(0.9, 0.95)]


def own(draws, number):
    middle = draws.between(300, 600)
    values = [middle + draws.between(-20, 20) for _ in range(4 + 2 * number)]
    return "own_limits", [values + [middle * draws.one_of(1, 1, 10), draws.one_of(None, middle)]]


def scale(draws, number):
    kind = {"rule": draws.one_of("r76_initial", "r76_in_service", "hb44_maintenance"), "class": "III", "division_g": 5.0,
            "max_g": 50000.0}
    return "scale_check", [20000.0 + draws.between(-12, 12), draws.one_of(20000.0, [10000.0, 10000.0]),
                                  draws.one_of("M1", "M2", "M3"), kind]


def individuals(draws, number):
    return "individuals", [[500 + draws.between(-4, 4) for _ in range(8 + draws.below(12))]]


def signals(draws, number):
    return "signals", [[draws.between(-3.4, 3.4) for _ in range(20)]]


def recheck(draws, number):
    checks = [{"id": f"c{place}", "instrument": "scale", "before": f"c{place - 1}" if place else None,
               "ok": draws.below(3) > 0} for place in range(6)]
    taken = [{"id": f"r{place}", "check": f"c{draws.below(6)}", "instrument": "scale"} for place in range(8)]
    return "to_recheck", [checks, taken]


def expected(draws, number):
    return "expected_ash", [{"hours": draws.between(100, 9000), "oil_l_per_h": draws.between(0.002, 0.02)},
                                {"category": draws.one_of("CK-4", "E4"), "ash_percent": draws.one_of(None, 1.2)}]


def drop(draws, number):
    return "geometry", [draws.between(0.03, 0.09), draws.between(0.2, 0.35), draws.one_of(100, 200, 300),
                                     draws.between(0.0002, 0.0004)]


def ratio(draws, number):
    brick = {"opening_m": draws.between(0.001, 0.002), "wall_m": 0.0003, "length_m": draws.between(0.2, 0.35)}
    return "mixed_ratio", [brick, 5e-13, [draws.between(0, 0.9) for _ in range(6)]]


def chance(draws, number):
    return "conformance_probability", [draws.between(350, 550), draws.between(1, 30), 398.5, 498.2]


def freedom(draws, number):
    parts = [draws.between(0.1, 3) for _ in range(4)]
    return "effective_freedom", [parts, [None, 4, 9, 1 + draws.below(50)]]


def quantile(draws, number):
    return "student_quantile", [draws.between(0.01, 0.99), draws.between(1, 60)]


def noncentral(draws, number):
    return "noncentral_t_cdf", [draws.between(-2, 12), draws.between(2, 40), draws.between(0, 9)]


MAKERS = (room, spread, share_limits, one_sided, own, scale, individuals, signals, recheck, expected, drop, ratio, chance,
          freedom, quantile, noncentral)
