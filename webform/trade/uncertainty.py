"""Standard uncertainties put together, and the chance that a true value lies within limits.

Everything here is in the unit of the reading that it is about. Source of the rules: JCGM 100:2008 (GUM) for the
parts and their sum, JCGM 106:2012 clause 7 for the chance (normal distribution, nothing known beforehand).
"""

import math

from .figures import total
from .functions import normal_cdf


def rectangular(half_width: float) -> float:
    """Standard uncertainty of what lies anywhere within ± half_width: half_width/√3. Source: GUM 4.3.7."""
    return half_width / math.sqrt(3.0)


def resolution(step: float) -> float:
    """Standard uncertainty of a display that shows whole steps: step/√12. Source: GUM F.2.2.1."""
    return step / math.sqrt(12.0)


def combined_uncertainty(parts: list[float]) -> float:
    """Root sum of squares of independent parts, each already times its sensitivity. Source: GUM 5.1.2, equation 10.

    >>> combined_uncertainty([3.0, -4.0])
    5.0
    """
    return math.sqrt(total([part * part for part in parts]))


def effective_freedom(parts: list[float], freedoms: list[float | None]) -> float | None:
    """Welch-Satterthwaite degrees of freedom of the combined parts; None where they are without limit.

    freedoms: one for each part, None for a part that is known exactly (a specification). Source: GUM G.4.1, equation G.2b.
    """
    combined = combined_uncertainty(parts)
    spread = []
    for place in range(len(parts)):
        freedom = freedoms[place]
        if freedom is not None and freedom > 0.0 and combined > 0.0:
            share = (parts[place] / combined) * (parts[place] / combined)
            spread.append(share * share / freedom)
    below = total(spread)
    return 1.0 / below if below > 0.0 else None


def conformance_probability(value: float, u: float, low: float | None, high: float | None) -> float:
    """The chance, 0 to 1, that the true value is within low to high; a limit that is None does not exist.

    Source: JCGM 106:2012 clause 7. With u = 0 a value on a limit conforms.

    >>> conformance_probability(4.0, 0.12, None, 4.0)
    0.5
    """
    if u <= 0.0:
        return 1.0 if (low is None or value >= low) and (high is None or value <= high) else 0.0
    above = 0.0 if high is None else normal_cdf((value - high) / u)
    below = 0.0 if low is None else normal_cdf((low - value) / u)
    if high is not None and value > high:  # on one side of both: what is left of 1 would lose a small chance
        return max(0.0, normal_cdf((high - value) / u) - below)
    if low is not None and value < low:
        return max(0.0, normal_cdf((value - low) / u) - above)
    return max(0.0, 1.0 - above - below)
