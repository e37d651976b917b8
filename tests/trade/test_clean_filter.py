"""The clean brick and its end plugs: published figures, figures computed elsewhere, the equations integrated here."""

import math

import mpmath
import numpy
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import integrate, stats

from webform.trade.clean_filter import (
    FRICTION,
    HIGHEST_PERMEABILITY,
    LOWEST_PERMEABILITY,
    allowed_band,
    channel_drop,
    channel_speed,
    clean_drop,
    closed_form_drop,
    face_area,
    face_losses,
    geometry,
    mixed_ratio,
    plugged_ratio,
)

INCH, MIL = 0.0254, 0.0000254
CFM = 0.3048**3 / 60  # m³/s, exact by definition of the foot
VISCOSITY, DENSITY = 1.8134e-5, 1.2046  # 20 °C, 101.325 kPa, dry: of every figure below


def brick(diameter_in, length_in, cells, wall_mil):
    return geometry(face_area("round", diameter_in * INCH, 0.0), length_in * INCH, cells, wall_mil * MIL)


def drop(of, cfm, permeability, function=clean_drop):
    return function(brick(*of), cfm * CFM, VISCOSITY, permeability)


SMALL, MIDDLE, LARGE = (5.66, 6, 200, 12), (10.5, 12, 200, 12), (12, 15, 200, 12)
NARROW, SHORT = (10.5, 12, 300, 9), (13, 7, 300, 7)


def test_the_friction_constant_is_the_exact_series_of_a_square_channel():
    # 28.454: Shah and London's series (fRe 14.227), summed here with mpmath: mean speed of the exact Poisson solution
    tail = mpmath.nsum(lambda n: mpmath.tanh((2 * n + 1) * mpmath.pi / 2) / (2 * n + 1) ** 5, [0, mpmath.inf])
    assert pytest.approx(float(12 / (1 - 192 / mpmath.pi**5 * tail)), rel=1e-8) == FRICTION
    assert pytest.approx(28.454, abs=5e-4) == FRICTION


@pytest.mark.parametrize(("of", "cells", "litre"), [(MIDDLE, 17318.0, 17.0275), (LARGE, 22619.5, 27.8)])
def test_geometry_follows_from_cells_per_square_inch(of, cells, litre):
    made = brick(*of)  # inch arithmetic, by the definition of cells per square inch and mil
    assert made["opening_m"] * 1000 == pytest.approx(1.49125, rel=1e-5)
    assert made["pitch_m"] == pytest.approx(INCH / math.sqrt(200), rel=1e-12)
    assert made["cells"] == pytest.approx(cells, rel=1e-5)
    assert made["inlet_cells"] == made["cells"] / 2
    assert made["volume_m3"] * 1000 == pytest.approx(litre, rel=1e-5)
    assert made["open_fraction"] == pytest.approx(0.344694, rel=1e-5)
    assert made["area_m2"] == pytest.approx(made["volume_m3"] / made["length_m"])


def test_faces_that_are_not_round():
    assert face_area("rectangular", 0.30, 0.20) == pytest.approx(0.06)
    assert face_area("oval", 0.30, 0.20) == pytest.approx(math.pi * 0.15 * 0.10)  # π x both half axes
    assert face_area("round", 0.20, 0.0) == face_area("oval", 0.20, 0.20) == pytest.approx(math.pi * 0.01)


@pytest.mark.parametrize("given", [
    (None, 0.3, 200, 3e-4), (0.05, None, 200, 3e-4), (0.05, 0.3, None, 3e-4), (0.05, 0.3, 200, None),
    (0.05, 30.0, 200, 3e-4), (0.05, 0.3, 5, 3e-4), (0.05, 0.3, 200, 12.0), (0.05, 0.3, 200, 1.2e-3), (0.05, 0.3, 200, "3"),
    (0.0, 0.3, 200, 3e-4), (0.05, 0.3, math.nan, 3e-4),
])
def test_figures_that_no_brick_has_give_no_geometry(given):
    assert geometry(0.05, 0.3, 200, 3e-4) is not None
    assert geometry(*given) is None


@pytest.mark.parametrize(("of", "cfm", "permeability", "pascal"), [
    # scipy 1.17.1 solve_bvp of the channel equations, no inertia
    ((9.5, 12, 200, 12), 200, 5e-13, 353.414), (MIDDLE, 200, 5e-13, 289.302), ((12, 12, 200, 12), 400, 5e-13, 442.994),
    (NARROW, 300, 1e-12, 469.818),
])
def test_the_exact_drop_agrees_with_the_equations_solved_elsewhere(of, cfm, permeability, pascal):
    assert drop(of, cfm, permeability) == pytest.approx(pascal, rel=1e-5)


@pytest.mark.parametrize(("of", "cfm", "permeability", "pascal"), [
    # Konstandopoulos and Johnson, SAE 890405 (1989), form from memory, computed elsewhere in its per-channel form
    ((9.5, 12, 200, 12), 200, 5e-13, 363.288), (MIDDLE, 200, 5e-13, 297.386), (LARGE, 200, 2e-13, 322.665),
    (SHORT, 200, 2e-12, 113.479),
])
def test_the_closed_form_is_the_published_one(of, cfm, permeability, pascal):
    assert drop(of, cfm, permeability, closed_form_drop) == pytest.approx(pascal, rel=1e-4)


@pytest.mark.parametrize(("of", "permeability", "percent"), [
    # against scipy 1.17.1 solve_bvp
    (SMALL, 5e-13, 0.48), (MIDDLE, 5e-13, 2.79), ((12, 12, 200, 12), 5e-13, 2.79), (SHORT, 2e-12, 8.48),
])
def test_the_closed_form_overestimates(of, permeability, percent):
    over = drop(of, 200, permeability, closed_form_drop) / drop(of, 200, permeability) - 1
    assert over * 100 == pytest.approx(percent, abs=0.02)


@pytest.mark.parametrize(("of", "cfm", "pascal"), [
    # scipy 1.17.1 solve_bvp with the momentum of the channels, second route solve_ivp shooting; the last digit is theirs
    (SMALL, 100, 432.691), ((9.5, 12, 200, 12), 200, 356.304), (MIDDLE, 200, 290.891), ((12, 12, 200, 12), 400, 448.671),
])
def test_momentum_in_the_channels_agrees_with_the_equations_solved_elsewhere(of, cfm, pascal):
    assert channel_drop(brick(*of), cfm * CFM, VISCOSITY, DENSITY, 5e-13) == pytest.approx(pascal, abs=6e-4)


def integrated(made, flow_m3_s, permeability, density):
    """The restriction by numerical solution of the four channel equations (scipy solve_bvp), faces left out.

    Written in pressures and speeds, as physics states them; no step is shared with the solution under test."""
    a, wall, length = made["opening_m"], made["wall_m"], made["length_m"]
    start = flow_m3_s / (made["inlet_cells"] * a * a)
    scale = FRICTION * VISCOSITY * start * length / (a * a)

    def equations(x, state):
        inlet, outlet, p1, p2 = state[0], state[1], state[2] * scale, state[3] * scale
        through = permeability * (p1 - p2) / (VISCOSITY * wall)
        grow = 4 * through / a * length / start
        lose = FRICTION * VISCOSITY * length / (a * a)
        momentum = 2 * density * start * start
        return numpy.vstack([-grow, grow, (-lose * inlet * start + momentum * inlet * grow) / scale,
                             (-lose * outlet * start - momentum * outlet * grow) / scale])

    def ends(left, right):
        return numpy.array([left[0] - 1, left[1], right[0], right[3]])

    x = numpy.linspace(0, 1, 81)
    first = numpy.vstack([1 - x, x, numpy.full_like(x, 1.5), 0.5 - 0.5 * x])
    solved = integrate.solve_bvp(equations, ends, x, first, tol=1e-9, max_nodes=40000)
    assert solved.success, solved.message
    return solved.sol(0)[2] * scale


CASES = [(SMALL, 200, 2e-13), (MIDDLE, 200, 5e-13), (LARGE, 100, 1e-12), (NARROW, 300, 2e-12), (SHORT, 400, 1e-13)]


@pytest.mark.parametrize(("of", "cfm", "permeability"), CASES)
def test_the_exact_drop_is_the_numerical_solution(of, cfm, permeability):
    numerical = integrated(brick(*of), cfm * CFM, permeability, 0.0)
    assert drop(of, cfm, permeability) == pytest.approx(numerical, rel=1e-8)


@pytest.mark.parametrize(("of", "cfm", "permeability"), CASES)
def test_the_drop_with_momentum_is_the_numerical_solution(of, cfm, permeability):
    made = brick(*of)
    ours = channel_drop(made, cfm * CFM, VISCOSITY, DENSITY, permeability)
    assert ours == pytest.approx(integrated(made, cfm * CFM, permeability, DENSITY), rel=1e-7)
    assert ours > drop(of, cfm, permeability)


def test_without_density_momentum_vanishes():
    thin = channel_drop(brick(*MIDDLE), 200 * CFM, VISCOSITY, 1e-9, 5e-13)
    assert thin == pytest.approx(drop(MIDDLE, 200, 5e-13), rel=1e-9)


def test_losses_at_the_faces_worked_by_hand():
    made = brick(*MIDDLE)
    # 200 cfm = 0.0943895 m³/s over 0.0558645 m² x 0.344694: 4.9017 m/s; 1 - s = 0.655306;
    # 1.2046 x 4.9017²/2 = 14.471 Pa x (0.275228 + 0.429426) = 10.197 Pa
    assert channel_speed(made, 200 * CFM) == pytest.approx(4.9017, abs=1e-4)
    assert face_losses(made, 200 * CFM, DENSITY) == pytest.approx(10.197, abs=0.002)


@pytest.mark.parametrize(("of", "permeability", "fraction", "ratio"), [
    # scipy 1.17.1 solve_bvp: wall flow over the free part, then the outlet channel carries everything
    (MIDDLE, 5e-13, 0.1, 1.0722), (MIDDLE, 5e-13, 0.2, 1.1497), (MIDDLE, 5e-13, 1 / 3, 1.2663),
    (SMALL, 2e-13, 0.5, 1.8079), (LARGE, 5e-13, 1 / 3, 1.2561), (NARROW, 2e-12, 0.5, 1.4182),
])
def test_end_plugs_raise_the_restriction_only_a_little(of, permeability, fraction, ratio):
    assert plugged_ratio(brick(*of), permeability, fraction) == pytest.approx(ratio, abs=5e-4)


def test_half_the_cells_half_plugged():
    # cells in parallel: 1.1846 from the ratios of the solved equations
    for weights in ([0.5, 0.5], [2.0, 2.0], None):
        assert mixed_ratio(brick(*MIDDLE), 5e-13, [0.0, 0.5], weights) == pytest.approx(1.1846, abs=0.001)
    # one cell in four half plugged: r = 1/(2/1.1846 - 1) = 1.4527, 1/(0.75 + 0.25/1.4527) = 1.0845 by hand
    assert mixed_ratio(brick(*MIDDLE), 5e-13, [0.0, 0.5], [0.75, 0.25]) == pytest.approx(1.0845, abs=0.001)


def test_a_cell_plugged_to_the_top_counts_as_nearly_shut():
    made = brick(*MIDDLE)
    assert plugged_ratio(made, 5e-13, 1.0) == plugged_ratio(made, 5e-13, 0.99) > 20
    assert plugged_ratio(made, 5e-13, -0.1) == 1.0
    # half the cells shut: nearly twice the restriction
    assert 1.9 < mixed_ratio(made, 5e-13, [0.0, 1.0]) < 2.0


def test_the_rod_s_cells_allow_a_wide_band_that_holds_the_model():
    made = brick(*MIDDLE)
    assert allowed_band(made, []) is None
    low, high = allowed_band(made, [0.0] * 24)
    # nothing found: clean, or 1 - 0.05^(1/24) = 11.7 % of the face missed and shut: 1/0.883 = 1.133, and 2 % of depth
    assert low == 1.0
    assert 1.133 < high < 1.17
    low, high = allowed_band(made, [1 / 3] * 24)
    assert low < plugged_ratio(made, HIGHEST_PERMEABILITY, 1 / 3) < plugged_ratio(made, LOWEST_PERMEABILITY, 1 / 3) < high
    assert low < 1.25 and high > 1.4, "a quarter to two fifths are both allowed"


def test_bands_worked_by_hand_where_the_permeability_and_the_depths_are_known():
    made = brick(*MIDDLE)
    # 24 cells may miss 1 - 0.05^(1/24) = 0.11734 of the face. All free: 1/0.88266 = 1.13294.
    assert allowed_band(made, [0.0] * 24, 5e-13, 5e-13, 0.0) == pytest.approx((1.0, 1.13294), abs=1e-4)
    # All a third full, 1.2663 each (solve_bvp, above): flow 0.78970 each. The missed part clean: 0.78970 + 0.11734 x
    # 0.21030 = 0.81438, 1/that = 1.2279; shut: 0.78970 x 0.88266 = 0.69704, 1/that = 1.4346.
    assert allowed_band(made, [1 / 3] * 24, 5e-13, 5e-13, 0.0) == pytest.approx((1.2279, 1.4346), abs=3e-4)
    # Every depth may be 2 x 0.01 off: 24 free cells may hold plugs of 2 %
    assert allowed_band(made, [0.0] * 24, 5e-13, 5e-13, 0.01)[1] == pytest.approx(
        1.13294 * plugged_ratio(made, 5e-13, 0.02), abs=1e-4)
    # Half of 60 cells free, half plugged by 0.9: mean flow ± t(59) s/√60, t from scipy 1.17.1
    flow = 1 / plugged_ratio(made, 5e-13, 0.9)
    half = stats.t.ppf(0.975, 59) * (1 - flow) / 2 * math.sqrt(60 / 59) / math.sqrt(60)
    expected = (2 / (1 + flow + 2 * half), 2 / (1 + flow - 2 * half))
    assert allowed_band(made, [0.0, 0.9] * 30, 5e-13, 5e-13, 0.0) == pytest.approx(expected, rel=1e-6)


def test_more_cells_and_a_known_permeability_narrow_the_band():
    made = brick(*MIDDLE)
    few, many = allowed_band(made, [0.0, 0.5] * 6), allowed_band(made, [0.0, 0.5] * 60)
    assert few[0] < many[0] < many[1] < few[1]
    known = allowed_band(made, [0.0, 0.5] * 60, 5e-13, 5e-13, 0.0)
    assert many[0] < known[0] < 1.1846 < known[1] < many[1]  # 1.1846: the solved equations, as above


BRICKS = st.builds(brick, st.floats(4, 15), st.floats(4, 16), st.floats(90, 400), st.floats(6, 17))
FLOWS, PERMEABILITIES = st.floats(20 * CFM, 600 * CFM), st.floats(1e-14, 1e-11)


@given(BRICKS, FLOWS, PERMEABILITIES, st.floats(1.5e-5, 2.1e-5), st.floats(0.5, 1.5))
def test_every_believable_brick_has_a_finite_drop(made, flow, permeability, viscosity, density):
    viscous = clean_drop(made, flow, viscosity, permeability)
    assert 0 < viscous < closed_form_drop(made, flow, viscosity, permeability) < 1e7
    moved = channel_drop(made, flow, viscosity, density, permeability)
    assert viscous * (1 - 1e-9) <= moved < 1e7
    assert 0 < face_losses(made, flow, density) < 1e6


@given(BRICKS, FLOWS, PERMEABILITIES, st.floats(1.01, 2))
def test_the_drop_rises_with_flow_and_viscosity_and_falls_with_permeability(made, flow, permeability, more):
    base = clean_drop(made, flow, VISCOSITY, permeability)
    assert clean_drop(made, flow * more, VISCOSITY, permeability) == pytest.approx(base * more, rel=1e-9)
    assert clean_drop(made, flow, VISCOSITY * more, permeability) == pytest.approx(base * more, rel=1e-9)
    assert clean_drop(made, flow, VISCOSITY, permeability * more) < base
    assert channel_drop(made, flow * more, VISCOSITY, DENSITY, permeability) > \
        channel_drop(made, flow, VISCOSITY, DENSITY, permeability)


@given(BRICKS, PERMEABILITIES, st.floats(0, 0.95), st.floats(0.001, 0.05))
def test_a_longer_plug_never_lowers_the_restriction(made, permeability, fraction, more):
    assert 1.0 <= plugged_ratio(made, permeability, fraction) <= plugged_ratio(made, permeability, fraction + more)


@given(BRICKS, st.lists(st.floats(0, 1), min_size=1, max_size=40), st.randoms())
def test_bands_hold_the_mixed_ratio_in_any_order_of_cells(made, fractions, random):
    low, high = allowed_band(made, fractions)
    shuffled = list(fractions)
    random.shuffle(shuffled)
    assert allowed_band(made, shuffled) == (low, high)
    assert 1.0 <= low < high <= 1 / 0.01 + 1e-9
    for permeability in (LOWEST_PERMEABILITY, 5e-13, HIGHEST_PERMEABILITY):
        middle = mixed_ratio(made, permeability, fractions)
        assume(middle < 100)
        assert low <= middle * (1 + 1e-12) and middle <= high * (1 + 1e-12)
