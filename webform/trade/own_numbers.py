"""Limits learned from the shop's own accepted filters of a model: a two-sided normal tolerance interval.

Promises: one bad entry in ten cannot move the limits; what is set aside is listed with its reason, never dropped in
silence; too few readings are refused, with how many it takes. The readings must be of one model on one bench, at one
reference air, and filters that were accepted for other reasons than this number.
"""

import math

from .distributions import student_quantile
from .figures import deviation, mean, quantise, reading
from .tolerance import two_sided

# Fewest readings. With 10 the 95/95 factor is 3.39, limits 1.7 times as wide as a large sample would give; with 5 it
# is 5.08 (2.6 times), a window that passes nearly anything. From 10 on a gross mistake is found for certain: it reaches
# 2.85 standard deviations, Grubbs's critical value there is 2.48. Shop's starting value; below LEAST none is given.
FEWEST = 10
LEAST = 5
CHANCE = 0.01  # that a sound set of readings loses one; shop's starting value
DECIMALS = 3  # limits are given to a thousandth of a pascal or a gram


def own_limits(values: object, coverage: float = 0.95, confidence: float = 0.95,
               fewest: int = FEWEST) -> dict[str, object]:
    """{"ok": True, "low", "high", "n", "mean", "deviation", "factor", "set_aside"} of readings, all in Pa or all in g.

    Or {"ok": False, "code", "n", "needed", "set_aside"}: own.too_few; own.no_spread, where all readings are equal, so
    that nothing is known about their spread; own.bad_share, coverage not in 0.5..0.999 or confidence not in 0.5..0.999.
    set_aside lists {"place": index in values, "value", "code": "own.unreadable" or "own.far_off"} in that order.
    Source: ISO 16269-6, mean ± k s with k of tolerance.two_sided; outliers as far_off. Range: readings from 0 up.
    """
    given = values if isinstance(values, list) else []
    readings = [reading(value) for value in given]
    aside = {place: "own.unreadable" for place in range(len(given)) if (readings[place] or 0.0) < 0.0
             or readings[place] is None}
    kept = [(place, value) for place, value in enumerate(readings) if value is not None and place not in aside]
    needed = max(LEAST, fewest)
    code = "own.too_few" if len(kept) < needed else ""
    if not (0.5 <= coverage <= 0.999 and 0.5 <= confidence <= 0.999):
        code = "own.bad_share"
    if not code:
        for place in far_off([value for _, value in kept], max(1, len(kept) // 10), CHANCE):
            aside[kept[place][0]] = "own.far_off"
        kept = [entry for entry in kept if entry[0] not in aside]
        code = "own.too_few" if len(kept) < needed else ""
    set_aside = [{"place": place, "value": readings[place], "code": aside[place]} for place in sorted(aside)]
    sound = [value for _, value in kept]
    if not code and _q(deviation(sound)) == 0.0:
        code = "own.no_spread"
    if code:
        return {"ok": False, "code": code, "n": len(sound), "needed": needed, "set_aside": set_aside}
    middle, spread = mean(sound), deviation(sound)
    factor = two_sided(len(sound), coverage, confidence)
    return {"ok": True, "low": _q(max(0.0, middle - factor * spread)), "high": _q(middle + factor * spread),
            "n": len(sound), "mean": _q(middle), "deviation": _q(spread), "factor": _q(factor), "set_aside": set_aside}


def far_off(values: list[float], most: int, chance: float) -> list[int]:
    """The places of at most that many values that cannot belong to one normal population with the others.

    Source: NIST/SEMATECH e-Handbook 1.3.5.17.3, generalised extreme studentised deviate test (Rosner 1983); with
    most = 1 it is Grubbs's test, 1.3.5.17.1. Unlike one Grubbs test after another, two bad entries can't hide each
    other. Needs most + 3 values or more.
    """
    left = [(values[place], place) for place in range(len(values))]
    taken: list[int] = []
    count = 0
    while len(taken) < most and len(left) > 3:
        now = [value for value, _ in left]
        middle, spread = mean(now), deviation(now)
        if spread == 0.0:
            break
        ratio, place, at = 0.0, 0, 0
        for here in range(len(left)):
            this = abs(left[here][0] - middle) / spread
            # Equal distances: the larger value goes, so that the order of the readings cannot matter.
            if this > ratio or (this == ratio and left[here][0] > left[at][0]):
                ratio, place, at = this, left[here][1], here
        critical = esd_critical(len(left), chance)
        taken.append(place)
        left = left[:at] + left[at + 1:]
        if ratio > critical:
            count = len(taken)
    return taken[:count]


def esd_critical(n: int, chance: float) -> float:
    """The largest believable |x - mean|/s among n values, two-sided; n >= 3. Source: as far_off."""
    t = student_quantile(1.0 - chance / (2.0 * n), n - 2.0)
    return (n - 1) * t / math.sqrt((n - 2 + t * t) * n)


def _q(x: float) -> float:
    return quantise(x, DECIMALS)
