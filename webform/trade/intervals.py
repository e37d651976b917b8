"""Ninety-five per cent intervals from a few cells: of a mean (Student's t) and of a share (Wilson).

They assume cells taken at random; a fixed spread over the face makes them a guide, not a proof.
"""

import math

from .figures import deviation, mean

# Two-sided 95 % quantiles of the normal and of Student's t for 1, 2, 3, ... degrees of freedom. Computed by
# integrating the density; tests compare them with the three decimals printed in NIST/SEMATECH e-Handbook 1.3.6.7.2.
NORMAL_95 = 1.959964
STUDENT_95 = (
    12.706205, 4.302653, 3.182446, 2.776445, 2.570582, 2.446912, 2.364624, 2.306004, 2.262157, 2.228139,
    2.200985, 2.178813, 2.160369, 2.144787, 2.131450, 2.119905, 2.109816, 2.100922, 2.093024, 2.085963,
    2.079614, 2.073873, 2.068658, 2.063899, 2.059539, 2.055529, 2.051831, 2.048407, 2.045230, 2.042272,
    2.039513, 2.036933, 2.034515, 2.032245, 2.030108, 2.028094, 2.026192, 2.024394, 2.022691, 2.021075,
    2.019541, 2.018082, 2.016692, 2.015368, 2.014103, 2.012896, 2.011741, 2.010635, 2.009575, 2.008559,
    2.007584, 2.006647, 2.005746, 2.004879, 2.004045, 2.003241, 2.002465, 2.001717, 2.000995, 2.000298,
)
# Beyond the table: t = NORMAL_95 + g1/n + g2/n² + ..., Abramowitz & Stegun 26.7.5; g1 to g4 of z = 1.959964 by mpmath.
BEYOND = (2.372271, 2.822499, 2.555850, 1.589534)


def student_95(freedom: int) -> float:
    """The two-sided 95 % quantile of t, to six decimals; freedom >= 1.

    Source: the table above; beyond it Abramowitz & Stegun 26.7.5.
    """
    if freedom <= len(STUDENT_95):
        return STUDENT_95[freedom - 1]
    result = 0.0
    for place in range(len(BEYOND) - 1, -1, -1):
        result = (result + BEYOND[place]) / freedom
    return NORMAL_95 + result


def of_mean(fractions: list[float]) -> tuple[float, float] | None:
    """Interval of the mean of fractions, cut to 0..1: mean ± t s/√n; None from fewer than two cells.

    Source: NIST/SEMATECH e-Handbook 1.3.5.2.
    """
    if len(fractions) < 2:
        return None
    middle = mean(fractions)
    half = student_95(len(fractions) - 1) * deviation(fractions) / math.sqrt(len(fractions))
    return max(0.0, middle - half), min(1.0, middle + half)


def of_share(hits: int, count: int) -> tuple[float, float]:
    """Wilson score interval of a share, hits of count cells (count at least 1).

    Source: Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.
    """
    share = hits / count
    squared = NORMAL_95 * NORMAL_95
    centre = share + squared / (2 * count)
    half = NORMAL_95 * math.sqrt(share * (1 - share) / count + squared / (4 * count * count))
    below = 1 + squared / count
    low = 0.0 if hits == 0 else max(0.0, (centre - half) / below)
    high = 1.0 if hits == count else min(1.0, (centre + half) / below)
    return low, high
