"""Tolerance factors: limits mean ± k·s that hold at least that share of a normal population, with that confidence.

Exact by numerical integration; the approximation has its author's name. Range of every function: n >= 2 readings,
0.5 <= coverage < 1, 0 < confidence < 1.
"""

import math

from .distributions import chi_square_quantile, gamma_shares, noncentral_t_quantile, root
from .functions import SQRT_2_PI, exp, normal_cdf, normal_quantile

STEP = 0.25  # of the trapezoidal rule, in standard deviations of the mean; at half of it k2 moves by less than 1e-10
STEPS = 34


def one_sided(n: int, coverage: float, confidence: float) -> float:
    """k1: mean + k1·s lies above that share of the population. Source: NIST/SEMATECH e-Handbook 7.2.6.3, noncentral t."""
    delta = normal_quantile(coverage) * math.sqrt(n)
    return noncentral_t_quantile(confidence, n - 1.0, delta) / math.sqrt(n)


def two_sided(n: int, coverage: float, confidence: float) -> float:
    """k2: mean ± k2·s holds that share of the population.

    Source: the equation behind ISO 16269-6 and Odeh & Owen's tables: 2√n ∫ P(chi² > (n-1) r(x)²/k²) φ(√n x) dx =
    confidence over x > 0, where r(x) is the half width that holds the coverage around a mean that is x off.
    """
    nodes = _half_widths(n, coverage)

    def missing(k: float) -> float:
        result = -confidence
        for half_width, weight in nodes:
            ratio = half_width / k
            result = result + weight * gamma_shares((n - 1) / 2.0, (n - 1) / 2.0 * ratio * ratio)[1]
        return result

    low = high = howe(n, coverage, confidence)
    while missing(low) > 0.0:
        low = low * 0.9
    while missing(high) <= 0.0:
        high = high * 1.1
    return root(missing, low, high)


def howe(n: int, coverage: float, confidence: float) -> float:
    """Howe's approximation of k2, within about 1 % from n = 5 on. Source: NIST/SEMATECH e-Handbook 7.2.6.3."""
    chi_square = chi_square_quantile(1.0 - confidence, n - 1.0)
    return normal_quantile((1.0 + coverage) / 2.0) * math.sqrt((n - 1) * (1.0 + 1.0 / n) / chi_square)


def _half_widths(n: int, coverage: float) -> list[tuple[float, float]]:
    """(half width, weight) for means that are 0, 1, 2, ... steps off, both signs counted in the weight."""
    half_width = normal_quantile((1.0 + coverage) / 2.0)
    nodes = [(half_width, STEP / SQRT_2_PI)]
    for place in range(1, STEPS + 1):
        off = place * STEP
        x = off / math.sqrt(n)
        # From max(the last one, x) on the curve bends one way, so that Newton's steps come in from one side.
        half_width = max(half_width, x)
        change, turns = 1.0, 0
        while abs(change) > 1e-13 * half_width and turns < 50:
            turns = turns + 1
            near, far = half_width - x, half_width + x
            slope = (exp(-near * near / 2.0) + exp(-far * far / 2.0)) / SQRT_2_PI
            change = (coverage - normal_cdf(far) + normal_cdf(-near)) / slope
            half_width = half_width + change
        nodes.append((half_width, 2.0 * STEP * exp(-off * off / 2.0) / SQRT_2_PI))
    return nodes
