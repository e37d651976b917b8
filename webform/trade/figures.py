"""Arithmetic that gives the same answer in every Python: fixed texts, quantised figures, ordered sums and sorts.

Only + - * / and sqrt are used: these agree bit for bit on every processor. Built-in round, sum and format do not
agree between interpreters and versions; nothing in this package uses them.
"""

import math

# Beyond this a figure is no reading of a workshop instrument; below it every step here is exact enough.
ABSURD = 1e12
LARGEST_EXACT = 9007199254740992.0
HALF_SLACK = 1e-9  # of the last decimal: far above what a conversion of units adds, far below what an instrument shows


def fixed(x: float, decimals: int) -> str:
    """x as text with that many decimals, halves away from zero.

    >>> fixed(2.5, 0), fixed(-0.04, 1), fixed(1.005, 1)
    ('3', '0.0', '1.0')
    """
    scale = _power_of_ten(decimals)
    if abs(x) * scale >= LARGEST_EXACT:
        scale, decimals = 1, 0
    if not abs(x) < 1e300:
        return "-∞" if x < 0 else "∞"
    whole = math.floor(abs(x) * scale + 0.5)
    text = str(whole // scale)
    if decimals:
        rest = str(whole % scale)
        text = text + "." + "0" * (decimals - len(rest)) + rest
    return "-" + text if x < 0 and whole else text


def trimmed(x: float, decimals: int) -> str:
    """x as text with at most that many decimals and no trailing zeros.

    >>> trimmed(2.750, 3), trimmed(290.0, 1)
    ('2.75', '290')
    """
    text = fixed(x, decimals)
    if "." not in text:
        return text
    while text[-1] == "0":
        text = text[:-1]
    return text[:-1] if text[-1] == "." else text


def quantise(x: float, decimals: int) -> float:
    """x to that many decimals, halves away from zero; done before every comparison with a limit.

    What lies within HALF_SLACK of a half counts as a half: 4.4345 mbar and 443.45 Pa are one reading, their floats not.

    >>> quantise(0.33335, 4), quantise(-2.25, 1)
    (0.3334, -2.3)
    """
    scale = _power_of_ten(decimals)
    if not abs(x) * scale < LARGEST_EXACT:
        return x
    whole = float(math.floor(abs(x) * scale + 0.5 + HALF_SLACK)) / scale
    return -whole if x < 0 else whole


def reading(x: object) -> float | None:
    """x as a float when it is a number of believable size, else None.

    >>> reading(3), reading(float("nan")), reading("3"), reading(True)
    (3.0, None, None, None)
    """
    if type(x) is not float and type(x) is not int:
        return None
    return float(x) if -ABSURD < x < ABSURD else None


def total(xs: list[float]) -> float:
    """The sum, added from the smallest to the largest, so that the order given cannot matter. Source: by definition."""
    result = 0.0
    for x in sorted(xs):
        result = result + x
    return result


def mean(xs: list[float]) -> float:
    """The arithmetic mean of at least one figure. Source: by definition."""
    return total(xs) / len(xs)


def deviation(xs: list[float]) -> float:
    """The sample standard deviation of at least two figures (divisor n - 1). Source: NIST/SEMATECH e-Handbook 1.3.5.6."""
    middle = mean(xs)
    return math.sqrt(total([(x - middle) * (x - middle) for x in xs]) / (len(xs) - 1))


def _power_of_ten(decimals: int) -> int:
    result = 1
    for _ in range(decimals):
        result = result * 10
    return result
