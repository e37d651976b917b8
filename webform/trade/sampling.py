"""Which cells to rod, how many more would settle it, and where on the face the blocked ones lie.

Intervals assume cells taken at random; the even spread makes them a guide. More cells are asked for only when so many
more could settle the question at what was found so far, and at most MOST_MORE of them: then a person decides.
"""

import math

from .figures import deviation, mean, quantise, total
from .intervals import NORMAL_95, student_95

MOST_MORE = 12  # shop's starting value
MOST_CELLS = 100000  # more than any face has
# The chance that scattered blocked cells look like one given group, over all groups about 6 in 100. Shop's starting value.
CHANCE = 0.02

# The phone's face: zones 1 to 12 in three rows of four, row by row from the top left.
COLUMNS, ROWS = 4, 3
ZONES = tuple(range(1, COLUMNS * ROWS + 1))
CENTRE = (6, 7)
RING = (1, 2, 3, 4, 5, 8, 9, 10, 11, 12)
SIDES = ((1, 5, 9), (1, 2, 5, 6, 9, 10), (3, 4, 7, 8, 11, 12), (4, 8, 12),
         (1, 2, 3, 4), (1, 2, 3, 4, 5, 6, 7, 8), (5, 6, 7, 8, 9, 10, 11, 12), (9, 10, 11, 12))


def cells_for_share(share: float, limit: float) -> int | None:
    """How many cells clear the limit (0 < limit < 1) if the share stays; None if more than any face has.

    The Wilson interval is the score test turned round: it clears the limit as soon as n > z² p0 (1-p0)/(p-p0)².
    Source: Newcombe, Statistics in Medicine 17 (1998) 857-872, method 3.
    """
    z, apart = NORMAL_95, quantise(share - limit, 9)
    if apart * apart * MOST_CELLS <= z * z * limit * (1.0 - limit):
        return None
    return math.floor(z * z * limit * (1.0 - limit) / (apart * apart)) + 1


def cells_for_mean(average: float, spread: float, limit: float, fewest: int = 2, most: int = MOST_CELLS) -> int | None:
    """How many cells, of fewest to most, clear the limit if average and standard deviation stay; None if none of these.

    The fewest n with t s/√n < |limit - average|. Source: NIST/SEMATECH e-Handbook 1.3.5.2.
    """
    apart = abs(quantise(limit - average, 9))

    def is_clear(n: int) -> bool:
        return student_95(n - 1) * spread / math.sqrt(n) < apart

    if is_clear(fewest):
        return fewest
    if not is_clear(most):
        return None
    low, high = fewest, most  # low is not enough, high is
    while high - low > 1:
        middle = (low + high) // 2
        if is_clear(middle):
            high = middle
        else:
            low = middle
    return high


def more_cells(fractions: list[float], limit: float, most: int = MOST_MORE) -> dict[str, object]:
    """{"code", "more", "cells"} for the average blockage against its limit; fractions: blocked share of each cell.

    Codes: cells.clear, the interval clears the limit; cells.more, rod so many more; cells.person, most of them would not
    settle it (more is 0), so a person decides; cells.few, from fewer than two cells nothing can be said.
    Source: cells_for_mean. Range: fractions from 0 to 1.
    """
    if len(fractions) < 2:
        return {"code": "cells.few", "more": 0, "cells": len(fractions)}
    count = len(fractions)
    needed = cells_for_mean(mean(fractions), deviation(fractions), limit, count, count + most)
    return _asked(needed, count, most)


def more_cells_to_pass(fractions: list[float], limit: float, most: int = MOST_MORE) -> dict[str, object]:
    """As more_cells, to show that the average is below the limit; here a worse cell never makes the answer clearer.

    By itself it could: an even face has a small deviation, so one more blocked cell may narrow the interval by more than
    it moves the average. So the interval must clear the limit for every better face too: for each k the k most blocked
    cells stay and the others count as free. Between these corners the upper end lies no higher, for it is convex in
    the cells and alike in all of them. Source: as more_cells; convexity of mean + t s/√n derived here.
    """
    if len(fractions) < 2:
        return {"code": "cells.few", "more": 0, "cells": len(fractions)}
    count, needed = len(fractions), len(fractions)
    ordered = sorted(fractions)
    kept, squares = 0.0, 0.0
    for place in range(count):
        share = ordered[count - 1 - place]
        kept, squares = kept + share, squares + share * share
        average = kept / count
        spread = math.sqrt(max(0.0, (squares - kept * average) / (count - 1)))
        enough = cells_for_mean(average, spread, limit, count, count + most) if average < limit else None
        if enough is None:
            return _asked(None, count, most)
        needed = max(needed, enough)
    return _asked(needed, count, most)


def more_cells_for_share(hits: int, count: int, limit: float, most: int = MOST_MORE) -> dict[str, object]:
    """As more_cells, for the share of cells that count as hard-blocked: hits of count.

    Source: cells_for_share. Range: 0 <= hits <= count.
    """
    if count < 1:
        return {"code": "cells.few", "more": 0, "cells": count}
    return _asked(cells_for_share(hits / count, limit), count, most)


def chance_all_missed(cells: int, bad: int, probed: int) -> float:
    """The chance that cells probed at random, 0 <= probed <= cells, meet none of the bad ones (exact, hypergeometric).

    Source: hypergeometric distribution at 0, the product of (cells - bad - i)/(cells - i).

    >>> chance_all_missed(4, 1, 2)
    0.5
    """
    result = 1.0
    for place in range(probed):
        result = result * max(0, cells - bad - place) / (cells - place)
    return result


def spread_cells(count: int, shape: str) -> list[tuple[float, float]]:
    """(x, y) of each cell to rod, from -1 to 1 across the face; shape "round", "oval" or "rectangular".

    Each stands for the same area of the face. Round: rings of equal area a cell, every ring cut in equal sectors, a cell
    in the middle of each; oval: the same, stretched by the axes. Rectangle: rows whose height follows their cells.
    Source: own construction; tests hold that each ring and sector has its share.
    """
    if count < 1:
        return []
    return _rows(count) if shape == "rectangular" else _rings(count)


def zone_at(x: float, y: float) -> int:
    """The zone, 1 to 12, of a place from -1 to 1 across the face, y upwards. Source: the phone's face, ZONES."""
    column = min(COLUMNS - 1, max(0, math.floor((x + 1.0) / 2.0 * COLUMNS)))
    return min(ROWS - 1, max(0, math.floor((1.0 - y) / 2.0 * ROWS))) * COLUMNS + column + 1


def position_pattern(cells: list[dict[str, object]]) -> str:
    """Where the blocked cells lie: "centre", "ring", "one_side" or "none"; cells: {"zone": 1 to 12, "is_blocked"}.

    Fisher's exact test, one-sided, of each group of zones against the rest; the least likely group names the pattern,
    where chance alone would do that in fewer than CHANCE of such faces. Blocked all over is "none".
    Source: Fisher's exact test, by the hypergeometric distribution.
    """
    known = [cell for cell in cells if cell.get("zone") in ZONES]
    pattern, least = "none", CHANCE
    for name, groups in (("centre", (CENTRE,)), ("ring", (RING,)), ("one_side", SIDES)):
        for zones in groups:
            chance = quantise(_chance_of_group(known, zones), 9)
            if chance < least:
                pattern, least = name, chance
    return pattern


def _asked(needed: int | None, count: int, most: int) -> dict[str, object]:
    if needed is not None and needed <= count:
        return {"code": "cells.clear", "more": 0, "cells": count}
    if needed is None or needed - count > most:
        return {"code": "cells.person", "more": 0, "cells": count}
    return {"code": "cells.more", "more": needed - count, "cells": count}


def _chance_of_group(cells: list[dict[str, object]], zones: tuple[int, ...]) -> float:
    """The chance that at least so many of the blocked cells fall into these zones, if they fell anywhere alike."""
    inside = [cell for cell in cells if cell.get("zone") in zones]
    blocked = len([cell for cell in cells if cell.get("is_blocked") is True])
    hits = len([cell for cell in inside if cell.get("is_blocked") is True])
    ways = []
    for more in range(hits, min(len(inside), blocked) + 1):
        ways.append(_ways(len(inside), more) * _ways(len(cells) - len(inside), blocked - more))
    return total(ways) / _ways(len(cells), blocked)


def _ways(count: int, taken: int) -> float:
    """How many ways there are to take so many of count; 0 where there are too few."""
    result = 1.0
    for place in range(taken):
        result = result * max(0, count - place) / (place + 1)
    return result


def _rings(count: int) -> list[tuple[float, float]]:
    rings = max(1, math.floor(math.sqrt(count / 3.0) + 0.5))
    found: list[tuple[float, float]] = []
    done = 0
    for ring in range(rings):
        # Cells of a ring grow as 1, 3, 5, ...: rings of about equal width. What is left over goes to the last one.
        upto = math.floor(count * (ring + 1) * (ring + 1) / (rings * rings) + 0.5)
        here = upto - done
        radius = 0.0 if here == 1 and done == 0 else math.sqrt((done + here / 2.0) / count)
        for place in range(here):
            cosine, sine = _turned((place + (0.5 if ring % 2 else 0.0)) / here)
            found.append((quantise(radius * cosine, 4), quantise(radius * sine, 4)))
        done = upto
    return found


def _rows(count: int) -> list[tuple[float, float]]:
    rows = max(1, math.floor(math.sqrt(count) + 0.5))
    found: list[tuple[float, float]] = []
    done = 0
    for row in range(rows):
        upto = count * (row + 1) // rows
        here = upto - done
        y = 1.0 - (done + upto) / count
        for place in range(here):
            found.append((quantise((2.0 * place + 1.0) / here - 1.0, 4), quantise(y, 4)))
        done = upto
    return found


def _turned(turn: float) -> tuple[float, float]:
    """Cosine and sine of a part of a full turn, 0 to 1, by their series: the C library's differ between processors."""
    angle = (turn if turn <= 0.5 else turn - 1.0) * 2.0 * math.pi
    cosine, sine, term = 0.0, 0.0, 1.0
    for place in range(0, 40, 2):
        cosine = cosine + term
        term = term * angle / (place + 1)
        sine = sine + term
        term = -term * angle / (place + 2)
    return cosine, sine
