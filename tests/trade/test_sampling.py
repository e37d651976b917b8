"""How many cells settle it, an even spread over the face, and patterns: against scipy, exact integers and geometry."""

import math
import random
import statistics

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from webform.trade import intervals, sampling

THIRD = 1 / 3
shapes = st.sampled_from(["round", "oval", "rectangular"])


@pytest.mark.parametrize(("share", "cells"), [(0.25, 123), (0.30, 769)])  # closed form and a search on the interval
def test_cells_that_clear_a_third_if_the_share_stays(share, cells):
    assert sampling.cells_for_share(share, THIRD) == cells


@pytest.mark.parametrize(("average", "spread", "cells"), [(0.25, 0.2, 25), (0.28, 0.2, 57), (0.30, 0.15, 81)])
def test_cells_that_clear_a_third_if_the_average_stays(average, spread, cells):
    assert sampling.cells_for_mean(average, spread, THIRD) == cells  # scipy 1.17.1 stats.t.interval search


@pytest.mark.parametrize(("count", "most_below", "fewest_above"), [(24, 3, 13), (50, 10, 24)])
def test_counts_that_clear_a_third_from_below_and_from_above(count, most_below, fewest_above):
    # Wilson interval inversion, and the score test's z against a third
    below = [hits for hits in range(count + 1) if intervals.of_share(hits, count)[1] < THIRD]
    above = [hits for hits in range(count + 1) if intervals.of_share(hits, count)[0] > THIRD]
    assert (max(below), min(above)) == (most_below, fewest_above)
    for hits in range(count + 1):
        is_clear = sampling.more_cells_for_share(hits, count, THIRD)["code"] == "cells.clear"
        assert is_clear == (hits <= most_below or hits >= fewest_above)


@pytest.mark.parametrize(("bad", "chance", "abs_"), [(500, 0.23945, 1e-5), (866, 0.079459, 1e-5)])
def test_chance_that_24_cells_miss_every_bad_one(bad, chance, abs_):
    # scipy 1.17.1 hypergeom and exact integers
    assert sampling.chance_all_missed(8659, bad, 24) == pytest.approx(chance, abs=abs_)


@pytest.mark.parametrize(("cells", "probed", "factor", "abs_"), [
    (600, 38, 0.9686, 5e-5),  # published homework solution (read)
    (2516, 30, 0.9942179, 1e-6)])  # formula; by algebra
def test_probing_without_putting_back_hardly_narrows_a_share(cells, probed, factor, abs_):
    # the finite population factor: why no formula here has one. With one bad cell the variance shows it.
    missed = sampling.chance_all_missed(cells, 1, probed)  # 1 - n/N
    assert math.sqrt(missed * cells / (cells - 1)) == pytest.approx(factor, abs=abs_)


def test_everything_probed_misses_nothing():
    assert sampling.chance_all_missed(10, 1, 10) == 0.0
    assert sampling.chance_all_missed(10, 0, 10) == 1.0


@pytest.mark.parametrize(("fractions", "code", "more"), [
    ([0.0] * 24, "cells.clear", 0), ([0.6] * 12 + [0.5] * 12, "cells.clear", 0),
    ([0.5, 0.0] * 12, "cells.person", 0), ([THIRD] * 24, "cells.person", 0), ([0.2], "cells.few", 0), ([], "cells.few", 0)])
def test_when_more_cells_are_asked_for(fractions, code, more):
    assert sampling.more_cells(fractions, THIRD) == {"code": code, "more": more, "cells": len(fractions)}


def test_so_many_more_cells_as_settle_it_by_scipy():
    fractions = [0.5, 0.0] * 9 + [0.0] * 2  # mean 0.225
    found = sampling.more_cells(fractions, THIRD)
    spread = stats.tstd(fractions)

    def half(n):
        return stats.t.ppf(0.975, n - 1) * spread / math.sqrt(n)

    needed = found["cells"] + found["more"]
    assert found["code"] == "cells.more" and 1 <= found["more"] <= 12
    assert half(needed) < THIRD - 0.225 <= half(needed - 1)
    assert sampling.more_cells(fractions, THIRD, most=found["more"] - 1)["code"] == "cells.person"


@pytest.mark.parametrize(("fractions", "code", "more"), [
    # t of NIST e-Handbook 1.3.6.7.2; the worst better face by hand in tests/trade/test_tricky_filters.py
    ([0.28] * 24, "cells.clear", 0), ([0.32] * 24, "cells.more", 2), ([0.33] * 24, "cells.person", 0),
    ([THIRD] * 24, "cells.person", 0), ([0.9] * 24, "cells.person", 0), ([0.0] * 24, "cells.clear", 0),
    ([0.2], "cells.few", 0), ([], "cells.few", 0)])
def test_how_many_more_cells_show_that_the_average_is_below(fractions, code, more):
    assert sampling.more_cells_to_pass(fractions, THIRD) == {"code": code, "more": more, "cells": len(fractions)}


def test_more_cells_to_pass_is_the_interval_of_the_worst_better_face_by_scipy():
    # The worst of 5000 faces that are nowhere more blocked than this one, and of the corners, by scipy.
    draws = random.Random(11)
    face = [0.6, 0.5, 0.5] + [0.2] * 6 + [0.05] * 3 + [0.0] * 12

    def upper(cells):
        return statistics.mean(cells) + stats.t.ppf(0.975, 23) * statistics.stdev(cells) / math.sqrt(24)

    corner = max(upper(sorted(face, reverse=True)[:kept] + [0.0] * (24 - kept)) for kept in range(1, 25))
    assert max(upper([share * draws.choice((0, 1, draws.random())) for share in face]) for _ in range(5000)) <= corner
    assert sampling.more_cells_to_pass(face, corner + 1e-6)["code"] == "cells.clear"
    assert sampling.more_cells_to_pass(face, corner - 1e-6)["code"] == "cells.more"


@settings(max_examples=200)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=36), st.data())
def test_a_worse_cell_never_makes_the_answer_clearer(fractions, data):
    order = ["cells.clear", "cells.more", "cells.person"]
    worse = list(fractions)
    place = data.draw(st.integers(0, len(worse) - 1))
    worse[place] = data.draw(st.floats(worse[place], 1))
    here, there = sampling.more_cells_to_pass(fractions, THIRD), sampling.more_cells_to_pass(worse, THIRD)
    assert order.index(there["code"]) >= order.index(here["code"])
    if here["code"] == there["code"]:
        assert there["more"] >= here["more"]


@pytest.mark.parametrize(("hits", "count", "code", "more"), [
    (0, 24, "cells.clear", 0), (3, 24, "cells.clear", 0), (11, 24, "cells.person", 0), (8, 24, "cells.person", 0),
    (4, 30, "cells.clear", 0), (4, 24, "cells.more", 7), (12, 24, "cells.more", 7), (0, 0, "cells.few", 0)])
def test_when_more_cells_are_asked_for_by_share(hits, count, code, more):
    # 4 or 12 of 24 lie a sixth off: z² 2/9 / (1/6)² = 30.7, so 31 cells, 7 more (by hand)
    assert sampling.more_cells_for_share(hits, count, THIRD) == {"code": code, "more": more, "cells": count}


def test_a_share_on_the_limit_is_never_cleared():
    assert sampling.cells_for_share(THIRD, THIRD) is None
    assert sampling.cells_for_mean(THIRD, 0.2, THIRD) is None


@settings(max_examples=40)
@given(st.lists(st.floats(0, 1), max_size=40), st.floats(0.05, 0.95))
def test_every_set_of_cells_has_an_answer_of_at_most_twelve(fractions, limit):
    found = sampling.more_cells(fractions, limit)
    assert 0 <= found["more"] <= 12 and (found["more"] > 0) == (found["code"] == "cells.more")
    hits = len([share for share in fractions if share > limit])
    assert 0 <= sampling.more_cells_for_share(hits, len(fractions), limit)["more"] <= 12


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0.05, 0.95))
def test_the_nearer_to_the_limit_the_more_cells(share, other, limit):
    near, far = sorted([share, other], key=lambda value: abs(value - limit))
    many, few = sampling.cells_for_share(near, limit), sampling.cells_for_share(far, limit)
    assert many is None or few <= many


@given(st.integers(0, 60), shapes)
def test_a_spread_has_that_many_different_cells_on_the_face(count, shape):
    cells = sampling.spread_cells(count, shape)
    assert len(set(cells)) == count and cells == sampling.spread_cells(count, shape)
    for x, y in cells:
        assert abs(x) < 1 and abs(y) < 1 and (shape == "rectangular" or math.hypot(x, y) < 1)


@given(st.integers(4, 60), shapes)
def test_a_spread_is_balanced_about_the_centre(count, shape):
    cells = sampling.spread_cells(count, shape)
    assert abs(sum(x for x, _ in cells)) < 0.01 and abs(sum(y for _, y in cells)) < 0.01 * count + 0.7


@given(st.integers(12, 60))
def test_a_round_spread_stands_for_equal_areas(count):
    # within any radius lie as many cells as its area asks for, but for one ring's worth: its cells stand at its middle
    cells = sampling.spread_cells(count, "round")
    for radius in (0.3, 0.5, 0.7, 0.9):
        inside = len([1 for x, y in cells if math.hypot(x, y) < radius])
        rings = max(1, math.floor(math.sqrt(count / 3) + 0.5))
        assert abs(inside - count * radius**2) <= count * (2 * rings - 1) / rings**2 / 2 + 1.5


@given(st.integers(12, 60))
def test_no_sector_of_a_round_face_is_left_out(count):
    cells = sampling.spread_cells(count, "round")
    for sector in range(6):
        angle = 2 * math.pi * sector / 6
        assert any(x * math.cos(angle) + y * math.sin(angle) > math.cos(math.pi / 6) * math.hypot(x, y) - 1e-3
                   and math.hypot(x, y) > 0.3 for x, y in cells)


def test_one_cell_is_the_middle():
    assert sampling.spread_cells(1, "round") == sampling.spread_cells(1, "rectangular") == [(0.0, 0.0)]


def test_four_cells_of_a_rectangle_are_the_middles_of_its_quarters():
    assert sampling.spread_cells(4, "rectangular") == [(-0.5, 0.5), (0.5, 0.5), (-0.5, -0.5), (0.5, -0.5)]


def test_four_cells_of_a_round_face_halve_its_area():
    # radius √½: half of the face's area within (by geometry)
    cells = sampling.spread_cells(4, "round")
    assert cells == [(0.7071, 0.0), (0.0, 0.7071), (-0.7071, 0.0), (0.0, -0.7071)]


@pytest.mark.parametrize(("x", "y", "zone"), [
    (-0.9, 0.9, 1), (0.9, 0.9, 4), (-0.1, 0.0, 6), (0.1, 0.0, 7), (-0.9, -0.9, 9), (1.0, -1.0, 12), (-1.0, 1.0, 1)])
def test_zones_lie_in_three_rows_of_four(x, y, zone):
    assert sampling.zone_at(x, y) == zone


def test_every_zone_belongs_to_the_centre_or_to_the_ring():
    assert sorted(sampling.CENTRE + sampling.RING) == list(sampling.ZONES)


def face(blocked, each=2):
    return [{"zone": zone, "is_blocked": zone in blocked} for zone in sampling.ZONES for _ in range(each)]


@pytest.mark.parametrize(("blocked", "pattern"), [
    ((6, 7), "centre"), (sampling.RING, "ring"), ((1, 5, 9), "one_side"), ((1, 2, 5, 6, 9, 10), "one_side"),
    ((4, 8, 12), "one_side"), ((1, 2, 3, 4), "one_side"), (range(5, 13), "one_side"), ((), "none"),
    (range(1, 13), "none"), ((1, 12, 7), "none"), ((1,), "none")])
def test_where_the_blocked_cells_lie(blocked, pattern):
    assert sampling.position_pattern(face(blocked)) == pattern


def test_one_cell_a_zone_is_enough_for_a_clear_centre_or_ring():
    assert sampling.position_pattern(face((6, 7), each=1)) == "centre"  # chance 1/66 (by hand: 12 choose 2)
    assert sampling.position_pattern(face(sampling.RING, each=1)) == "ring"


def test_a_centre_with_a_few_strays_is_still_a_centre():
    cells = face((6, 7))
    cells[0]["is_blocked"] = cells[23]["is_blocked"] = True  # chance 20 choose 2 / 24 choose 6 = 0.0014 (by hand)
    assert sampling.position_pattern(cells) == "centre"


def test_the_chance_of_a_group_agrees_with_fishers_test():
    cells = face((6, 7))
    cells[0]["is_blocked"] = True
    expected = stats.fisher_exact([[4, 0], [1, 19]], alternative="greater").pvalue
    assert sampling._chance_of_group(cells, sampling.CENTRE) == pytest.approx(expected, rel=1e-9)


@given(st.lists(st.fixed_dictionaries({"zone": st.one_of(st.none(), st.integers(-1, 14), st.text(max_size=1)),
                                       "is_blocked": st.one_of(st.none(), st.booleans())}), max_size=40))
def test_every_face_has_a_pattern_whatever_the_order(cells):
    found = sampling.position_pattern(cells)
    assert found in ("centre", "ring", "one_side", "none")
    assert sampling.position_pattern(cells[::-1]) == found
