"""The flow plate of the day: what it should read in today's air, and how far the bench has drifted from that.

A plate's drop goes with density times the square of the flow, so on a hill it reads lower without any fault. What is
said here is about the bench only: a filter's restriction is never scaled by its plate (correction.py says why).
"""

import math

from .figures import quantise, reading
from .uncertainty import combined_uncertainty

# How a bench sets its flow: what it holds from day to day.
BENCH_MODES = ("constant_volume", "constant_mass", "uncorrected_element")
DRIFT_LIMIT = 0.03  # shop's starting value, no source
DRIFT_DECIMALS, PA_DECIMALS = 4, 1
# The discharge coefficient moves with the Reynolds number: the full ISO 5167-2 solution reads 0.33 % less at 1600 m
# than the density alone would give (computed with fluids 1.3.1). Rectangular.
U_COEFFICIENT = 0.002
CLEAR = 2.0  # a drift is told for certain when it lies this many standard uncertainties from the limit

LEAST_PLATE_PA = 1.0  # less is no plate that a bench could read


def flow_ratio(density: float, reference_density: float, bench_mode: str) -> float:
    """Q_ref/Q: the flow this bench sets in air of the reference density, for each m³/s that it sets in today's air.

    Constant volume: 1. Constant mass: rho/rho_ref. A pressure element whose drop is held without correcting for
    density (drop = constant x rho Q²): sqrt(rho/rho_ref). Densities above 0 in kg/m³, bench_mode one of BENCH_MODES.
    Source: by definition of each mode; the element by ISO 5167-2:2003, drop = constant x rho Q².

    >>> [flow_ratio(1.0, 1.5625, mode) for mode in BENCH_MODES]
    [1.0, 0.64, 0.8]
    """
    if bench_mode == "constant_volume":
        return 1.0
    ratio = density / reference_density
    return ratio if bench_mode == "constant_mass" else math.sqrt(ratio)


def plate_expected(own_pa: float, own_density: float, density: float, bench_mode: str) -> float:
    """What the plate should read today in Pa: its own value, taken in air of own_density, x rho/rho_own x (Q/Q_own)².

    Source: ISO 5167-2:2003 (drop = constant x rho Q² where the discharge coefficient stays); multipliers by hand:
    constant volume rho/rho_own, constant mass rho_own/rho, uncorrected element 1.

    >>> [plate_expected(400.0, 1.0, 0.25, mode) for mode in BENCH_MODES]
    [100.0, 1600.0, 400.0]
    """
    back = flow_ratio(density, own_density, bench_mode)
    return own_pa * (density / own_density) / (back * back)


def bench_drift(read_pa: float, expected_pa: float) -> float:
    """How far the plate reads from what it should, as a share of that: 0.01 is one per cent too high.

    Source: by definition, read/expected - 1; both in Pa, expected above 0.
    """
    return read_pa / expected_pa - 1.0


def plate_check(
    read_pa: object, own_pa: object, own_density: object, air: dict[str, object] | None, bench_mode: str,
    limit_fraction: float = DRIFT_LIMIT, u_read_pa: float = 0.0, u_own_pa: float = 0.0,
) -> dict[str, object] | None:
    """Today's plate against its own value in today's air; None where something needed is missing.

    own_density: of the air in which the own value was taken. "ok": the drift, to 0.0001, is not beyond the limit.
    "is_clear": it lies more than two standard uncertainties from the limit; air that is only guessed blurs it.
    Source: plate_expected; parts by GUM 5.1.2. Range: an own value of LEAST_PLATE_PA or more, densities above 0 in kg/m³.
    """
    read, own, own_air = reading(read_pa), reading(own_pa), reading(own_density)
    density = None if air is None else reading(air.get("density_kg_m3"))
    if read is None or own is None or own_air is None or density is None or bench_mode not in BENCH_MODES:
        return None
    if own < LEAST_PLATE_PA or own_air <= 0.0 or density <= 0.0:
        return None
    expected_pa = plate_expected(own, own_air, density, bench_mode)
    u_density = 0.0 if air is None else reading(air.get("u_density_kg_m3")) or 0.0
    by_density = 0.0 if bench_mode == "uncorrected_element" else u_density / density
    u_expected_pa = expected_pa * combined_uncertainty([by_density, u_own_pa / own, U_COEFFICIENT])
    drift = quantise(bench_drift(read, expected_pa), DRIFT_DECIMALS)
    u_drift = combined_uncertainty([u_read_pa, u_expected_pa * read / expected_pa]) / expected_pa
    return {
        "ok": abs(drift) <= limit_fraction, "is_clear": abs(abs(drift) - limit_fraction) > CLEAR * u_drift,
        "read_pa": quantise(read, PA_DECIMALS), "expected_pa": quantise(expected_pa, PA_DECIMALS),
        "u_expected_pa": quantise(u_expected_pa, PA_DECIMALS), "drift_fraction": drift,
        "u_drift_fraction": quantise(u_drift, DRIFT_DECIMALS), "limit_fraction": limit_fraction,
        "multiplier": quantise(expected_pa / own, DRIFT_DECIMALS), "bench_mode": bench_mode}
