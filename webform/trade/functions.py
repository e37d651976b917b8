"""Exponential, logarithm, power and the normal distribution from + - * / and sqrt only.

The C library's exp and log differ in the last bits between processors and interpreters; these do not. Each is within
a few parts in 10^15 (normal_cdf: 10^14) of the true value over the range it states; tests compare them with mpmath. Numbers
of equations in Abramowitz & Stegun: from memory.
"""

import math

LN_2_HIGH = 0.6931471803691238  # ln 2 = high + low; high has spare bits, so that whole multiples of it are exact
LN_2_LOW = 1.9082149292705877e-10
SQRT_2 = 1.4142135623730951
SQRT_2_PI = 2.5066282746310002
LARGEST_EXPONENT = 700.0


def exp(x: float) -> float:
    """e to the x for -700 <= x <= 700; beyond that the value at the end of the range.

    Source: Abramowitz & Stegun 4.2.1 (series), after 4.2.18 with whole halvings taken out.

    >>> exp(0.0), abs(exp(1.0) - 2.718281828459045) < 1e-15
    (1.0, True)
    """
    x = max(-LARGEST_EXPONENT, min(LARGEST_EXPONENT, x))
    halvings = math.floor(x / (LN_2_HIGH + LN_2_LOW) + 0.5)
    rest = (x - halvings * LN_2_HIGH) - halvings * LN_2_LOW
    term, result, place = rest, 1.0, 1
    while result + term != result:
        result = result + term
        place = place + 1
        term = term * rest / place
    return result * _power_of_two(halvings)


def ln(x: float) -> float:
    """The natural logarithm of x > 0.

    Source: Abramowitz & Stegun 4.1.27 (series of (x-1)/(x+1)), halvings taken out.

    >>> ln(1.0), ln(2.0)
    (0.0, 0.6931471805599453)
    """
    halvings = 0
    while x > SQRT_2:
        x, halvings = x / 2.0, halvings + 1
    while x < SQRT_2 / 2.0:
        x, halvings = x * 2.0, halvings - 1
    ratio = (x - 1.0) / (x + 1.0)
    squared = ratio * ratio
    result, power = 0.0, ratio
    for place in range(1, 42, 2):
        result = result + power / place
        power = power * squared
    return halvings * LN_2_HIGH + (2.0 * result + halvings * LN_2_LOW)


def power(base: float, exponent: float) -> float:
    """base to the exponent, base > 0. Source: e^(exponent ln base). Range: as exp."""
    return exp(exponent * ln(base))


def coth(x: float) -> float:
    """The hyperbolic cotangent of x > 0: (1 + e^-2x) / (1 - e^-2x); below 1e-4 its series 1/x + x/3.

    Source: its definition; Abramowitz & Stegun 4.5.67 (series).
    """
    if x < 1e-4:
        return 1.0 / x + x / 3.0
    small = exp(-2.0 * x)
    return (1.0 + small) / (1.0 - small)


def normal_cdf(z: float) -> float:
    """The share of a standard normal distribution below z.

    Source: Abramowitz & Stegun 26.2.10/11 (series) to |z| = 3; beyond it 26.2.14 (continued fraction).

    >>> normal_cdf(0.0)
    0.5
    """
    size = abs(z)
    if size > 38.0:
        return 0.0 if z < 0 else 1.0
    density = exp(-0.5 * size * size) / SQRT_2_PI
    if size < 3.0:
        term, result, place = size, size, 1
        while term > 1e-18 * result:
            place = place + 2
            term = term * size * size / place
            result = result + term
        above = 0.5 - density * result
    else:
        fraction = size
        for place in range(200, 0, -1):
            fraction = size + place / fraction
        above = density / fraction
    return above if z < 0 else 1.0 - above


def normal_quantile(share: float) -> float:
    """The z below which that share (0 < share < 1) of a standard normal distribution lies; by bisection.

    Source: normal_cdf turned round.
    """
    low, high = -38.0, 38.0
    for _ in range(70):
        middle = (low + high) / 2.0
        if normal_cdf(middle) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _power_of_two(exponent: int) -> float:
    base = 2.0 if exponent >= 0 else 0.5
    result = 1.0
    for _ in range(abs(exponent)):
        result = result * base
    return result
