"""Gamma and beta functions, and the distributions that a few readings ask for: chi-square, Student's t, binomial limits.

From + - * / and sqrt only, through functions.py, so that phone and server agree to the last digit. Tests compare each
with scipy and mpmath to better than 1e-8. Outside the stated ranges nothing is promised. Numbers of equations in
Abramowitz & Stegun: from memory.
"""

import math

from .functions import SQRT_2_PI, exp, ln, normal_cdf

HALF_LN_2_PI = 0.9189385332046727
STEADY = 1e-17  # a series has ended when its next term is below this share of the sum
SETTLED = 4e-16  # a continued fraction has ended when a step changes it by less than this share
MOST_TERMS = 20000
TINY = 1e-300
WIDEST_STEP = 0.6  # of ln(s/sigma), times |delta|: up to here the trapezoidal rule errs by less than 1e-12
Z_STEP = 0.5


def log_gamma(x: float) -> float:
    """The natural logarithm of the gamma function of x > 0.

    Source: Abramowitz & Stegun 6.1.41 (Stirling's series) from x = 10 up; below it 6.1.15 (recurrence).

    >>> log_gamma(1.0) < 1e-14, abs(log_gamma(5.0) - 3.1780538303479458) < 1e-14
    (True, True)
    """
    below = 1.0
    while x < 10.0:
        below = below * x
        x = x + 1.0
    square = 1.0 / (x * x)
    series = 0.0
    for part in (1 / 156, -691 / 360360, 1 / 1188, -1 / 1680, 1 / 1260, -1 / 360, 1 / 12):
        series = series * square + part
    return (x - 0.5) * ln(x) - x + HALF_LN_2_PI + series / x - ln(below)


def gamma_shares(a: float, x: float) -> tuple[float, float]:
    """The regularised incomplete gamma functions (P below x, Q above x), a > 0; each accurate where it is small too.

    Source: Abramowitz & Stegun 6.5.29 (series) below x = a + 1; above it 6.5.31 (continued fraction, Lentz's method).
    """
    if x <= 0.0:
        return 0.0, 1.0
    front = exp(a * ln(x) - x - log_gamma(a))
    if x < a + 1.0:
        term, result, under = 1.0 / a, 1.0 / a, a
        while term > STEADY * result:
            under = under + 1.0
            term = term * x / under
            result = result + term
        below = min(1.0, front * result)
        return below, 1.0 - below
    over = x + 1.0 - a
    upper, lower = 1.0 / TINY, 1.0 / over
    fraction, place = lower, 0
    while place == 0 or (abs(lower * upper - 1.0) > SETTLED and place < MOST_TERMS):
        place = place + 1
        step = -place * (place - a)
        over = over + 2.0
        lower = 1.0 / _not_zero(step * lower + over)
        upper = _not_zero(over + step / upper)
        fraction = fraction * lower * upper
    above = min(1.0, front * fraction)
    return 1.0 - above, above


def beta_below(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function of x from 0 to 1, a and b > 0.

    Source: Abramowitz & Stegun 26.5.8 (continued fraction, Lentz's method), 26.5.2 (symmetry).
    """
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    front = exp(log_gamma(a + b) - log_gamma(a) - log_gamma(b) + a * ln(x) + b * ln(1.0 - x))
    if x < (a + 1.0) / (a + b + 2.0):
        return min(1.0, front * _beta_fraction(a, b, x) / a)
    return max(0.0, 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b)


def root(f, low: float, high: float) -> float:  # type: ignore[no-untyped-def]
    """Where f, of opposite sign at low and high, crosses 0.

    Source: Chandrupatla, Advances in Engineering Software 28 (1997) 145-149: inverse quadratic steps where they are
    safe, halving elsewhere.
    """
    new, f_new, far, f_far, share = high, f(high), low, f(low), 0.5
    least, f_best, steps = 0.0, 1.0, 0
    while least <= 0.5 and f_best != 0.0 and steps < 200:
        steps = steps + 1
        x = new + share * (far - new)
        f_x = f(x)
        if (f_x > 0.0) == (f_new > 0.0):
            old, f_old = new, f_new
        else:
            old, f_old, far, f_far = far, f_far, new, f_new
        new, f_new = x, f_x
        best, f_best = (new, f_new) if abs(f_new) < abs(f_far) else (far, f_far)
        least = (4e-16 * abs(best) + TINY) / max(abs(far - new), TINY)
        place, rise = (new - far) / (old - far), (f_new - f_far) / (f_old - f_far)
        share = 0.5
        if rise * rise < place and (1.0 - rise) * (1.0 - rise) < 1.0 - place:
            share = (f_new / (f_far - f_new) * f_old / (f_far - f_old)
                     + (old - new) / (far - new) * f_new / (f_old - f_new) * f_far / (f_old - f_far))
        share = min(1.0 - least, max(least, share))
    return best


def chi_square_quantile(share: float, freedom: float) -> float:
    """The value below which that share (0 < share < 1) of chi-square lies; freedom > 0.

    Source: Abramowitz & Stegun 26.4.19, gamma_shares turned round.
    """
    high = freedom
    while gamma_shares(freedom / 2.0, high / 2.0)[0] < share:
        high = high * 2.0
    low = high / 2.0
    while gamma_shares(freedom / 2.0, low / 2.0)[0] > share:
        low = low / 2.0
    return root(lambda x: gamma_shares(freedom / 2.0, x / 2.0)[0] - share, low, high)


def student_above(t: float, freedom: float) -> float:
    """The share of Student's t above t >= 0; freedom > 0. Source: Abramowitz & Stegun 26.7.1, 26.5.27."""
    square = t * t
    if square < 3.0:  # beyond it a half less nearly a half would lose the digits
        return 0.5 - 0.5 * beta_below(0.5, freedom / 2.0, square / (freedom + square))
    return 0.5 * beta_below(freedom / 2.0, 0.5, freedom / (freedom + square))


def student_quantile(share: float, freedom: float) -> float:
    """The t below which that share (0 < share < 1) of Student's distribution lies; freedom > 0.

    Source: as student_above, turned round.
    """
    if share < 0.5:
        return -student_quantile(1.0 - share, freedom)
    high = 1.0
    while student_above(high, freedom) > 1.0 - share:
        high = high * 2.0
    return root(lambda t: 1.0 - share - student_above(t, freedom), 0.0, high)


def clopper_pearson(hits: int, count: int, confidence: float) -> tuple[float, float]:
    """The exact two-sided interval of a share, hits of count (count >= 1).

    Source: NIST/SEMATECH e-Handbook 7.2.4.1; by the beta distribution.
    """
    rest = (1.0 - confidence) / 2.0
    low, high = 0.0, 1.0
    if hits > 0:
        low = root(lambda x: beta_below(float(hits), count - hits + 1.0, x) - rest, 0.0, 1.0)
    if hits < count:
        high = root(lambda x: 1.0 - rest - beta_below(hits + 1.0, float(count - hits), x), 0.0, 1.0)
    return low, high


def chi_nodes(freedom: float) -> list[tuple[float, float]]:
    """(scale, weight) pairs whose weighted mean of f(scale) is the mean of f over s/sigma of that many degrees.

    The logarithm of the scale is summed at even steps (trapezoidal rule): for a smooth f on the whole line that is
    exact to about 1e-12, because both tails die away. Range: freedom >= 1.
    Source: the density of chi-square, Abramowitz & Stegun 26.4.1.
    """
    step = _chi_step(freedom)
    nodes = []
    for direction in (-1, 1):
        place = 0 if direction == 1 else -1
        while True:
            at = place * step
            square = exp(2.0 * at)
            fall = freedom * (at - square / 2.0 + 0.5)
            if fall < -40.0:
                break
            nodes.append((exp(at), exp(fall)))
            place = place + direction
    weight = 0.0
    for node in nodes:
        weight = weight + node[1]
    return [(node[0], node[1] / weight) for node in nodes]


def noncentral_t_cdf(t: float, freedom: float, delta: float) -> float:
    """The share of the noncentral t distribution below t; freedom >= 1, |delta| < 250.

    Source: its definition, (Z + delta) / (s/sigma), summed over the distribution of s/sigma or over that of Z.
    """
    share: float = _share_below(freedom, delta)(t)
    return min(1.0, share)


def noncentral_t_quantile(share: float, freedom: float, delta: float) -> float:
    """The t below which that share (0 < share < 1) of the noncentral t distribution lies; freedom >= 1, |delta| < 250.

    Source: as noncentral_t_cdf, turned round.
    """
    below = _share_below(freedom, delta)

    def missing(t: float) -> float:
        difference: float = below(t) - share
        return difference

    low, high, step = delta, delta, 1.0
    while missing(low) > 0.0:
        low, step = low - step, step * 2.0
    step = 1.0
    while missing(high) <= 0.0:
        high, step = high + step, step * 2.0
    return root(missing, low, high)


def _share_below(freedom: float, delta: float):  # type: ignore[no-untyped-def]
    """The share of the noncentral t distribution below t, as a function of t.

    Seen from s/sigma the share turns within 1/|delta|, seen from Z within |delta|/sqrt(2 freedom): the sum is over the
    one whose steps are narrow beside that.
    """
    if _chi_step(freedom) * abs(delta) > WIDEST_STEP:
        return _summed_over_z(freedom, delta)
    nodes = chi_nodes(freedom)

    def below(t: float) -> float:
        result = 0.0
        for scale, weight in nodes:
            result = result + weight * normal_cdf(t * scale - delta)
        return result

    return below


def _summed_over_z(freedom: float, delta: float):  # type: ignore[no-untyped-def]
    """As _share_below: P(Z + delta < t s/sigma) for each Z from -9 to 9 by the chi-square distribution of s."""
    nodes = [(delta + place * Z_STEP, Z_STEP * exp(-0.5 * (place * Z_STEP) * (place * Z_STEP)) / SQRT_2_PI)
             for place in range(-18, 19)]

    def below(t: float) -> float:
        result = 0.0
        for x, weight in nodes:
            if t * x <= 0.0:  # s is above 0: certain where x is the smaller
                share = 1.0 if x < t else 0.0
            else:
                ratio = min(1e6, x / t)  # beyond it s/sigma never is, with one degree of freedom or more
                shares = gamma_shares(freedom / 2.0, freedom / 2.0 * ratio * ratio)
                share = shares[1] if t > 0.0 else shares[0]
            result = result + weight * share
        return result

    return below


def _chi_step(freedom: float) -> float:
    return (0.125 if freedom < 4.0 else 0.25) / math.sqrt(2.0 * freedom)


def _beta_fraction(a: float, b: float, x: float) -> float:
    lower = 1.0 / _not_zero(1.0 - (a + b) * x / (a + 1.0))
    upper, fraction, place = 1.0, lower, 0
    while place == 0 or (abs(lower * upper - 1.0) > SETTLED and place < MOST_TERMS):
        place = place + 1
        double = 2.0 * place
        step = place * (b - place) * x / ((a + double - 1.0) * (a + double))
        lower, upper = 1.0 / _not_zero(1.0 + step * lower), _not_zero(1.0 + step / upper)
        fraction = fraction * lower * upper
        step = -(a + place) * (a + b + place) * x / ((a + double) * (a + double + 1.0))
        lower, upper = 1.0 / _not_zero(1.0 + step * lower), _not_zero(1.0 + step / upper)
        fraction = fraction * lower * upper
    return fraction


def _not_zero(x: float) -> float:
    return x if abs(x) > TINY else TINY
