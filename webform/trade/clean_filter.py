"""The restriction of a clean wall-flow brick from its geometry, and how little end plugs of ash raise it.

It is for plausibility and for corrections; the model's own window is always better. Left out: end plugs of the
brick (about 10 mm each end), coating, cones and pipes of the can, soot in the walls, the fall of density along it.
Symbols: a opening, w wall, L length, k permeability, mu viscosity, rho density, F friction constant of a square
channel, U0 = Q/(face x open fraction) speed into the inlet channels, M = L sqrt(8 F k/(w a³)).
"""

import math

from .figures import deviation, mean, reading, total
from .functions import coth, exp, power
from .intervals import student_95

FRICTION = 28.454154  # dp/dx = F mu U/a² in a square channel; Shah & London's exact series, summed with mpmath 1.3.0
INCH_M = 0.0254
# Wall permeability in m²: from memory, no source. 1e-13 to 1e-12 for bare cordierite, about 1e-12 for silicon carbide.
LOWEST_PERMEABILITY, USUAL_PERMEABILITY, HIGHEST_PERMEABILITY = 1e-13, 5e-13, 2e-12
# What a brick can be: face m², length m, cells per square inch, wall m.
BELIEVED = ((1e-4, 1.0), (0.02, 1.0), (20.0, 1500.0), (2e-5, 3e-3))
LONGEST_PLUG = 0.99  # beyond it the restriction of this model runs away; a cell fully blocked counts as this


def face_area(shape: str, long_m: float, short_m: float) -> float:
    """Area of one face in m²: "round" (long = diameter), "oval" (ellipse over both axes) or "rectangular".

    Source: geometry: pi d²/4, pi long short/4, long short.
    """
    if shape == "rectangular":
        return long_m * short_m
    return math.pi / 4.0 * long_m * (short_m if shape == "oval" else long_m)


def geometry(area_m2: object, length_m: object, cells_per_in2: object, wall_m: object) -> dict[str, float] | None:
    """The brick in figures, or None where one is missing or no brick has it.

    opening_m, pitch_m, wall_m, length_m, area_m2, volume_m3, cells, inlet_cells (half of them are inlets) and
    open_fraction: what share of one face is open. Pitch = 25.4 mm/√(cells per square inch), by definition.
    Source: geometry of square cells. Range: figures above 0 of which the wall is thinner than the pitch.
    """
    given = [reading(x) for x in (area_m2, length_m, cells_per_in2, wall_m)]
    known = [x for x in given if x is not None]
    if len(known) < 4 or not all(BELIEVED[place][0] <= known[place] <= BELIEVED[place][1] for place in range(4)):
        return None
    area, length, density, wall = known
    pitch = INCH_M / math.sqrt(density)
    if wall > 0.6 * pitch:
        return None
    opening = pitch - wall
    cells = area / (pitch * pitch)
    return {"opening_m": opening, "pitch_m": pitch, "wall_m": wall, "length_m": length, "area_m2": area,
            "volume_m3": area * length, "cells": cells, "inlet_cells": cells / 2.0,
            "open_fraction": opening * opening / (2.0 * pitch * pitch)}


def clean_drop(brick: dict[str, float], flow_m3_s: float, viscosity_pa_s: float, permeability_m2: float) -> float:
    """Viscous restriction in Pa: (F mu U0/a²) L [1/2 + coth(M/2)/M], the exact solution of channel friction and wall.

    Source: derived from a dU1/dx = -4 u_w, U1 + U2 = U0, u_w = k (p1 - p2)/(mu w), dp/dx = -F mu U/a²; the tests
    integrate these equations numerically. Laminar: Reynolds number of a channel below about 2000.
    """
    return _friction_pa(brick, flow_m3_s, viscosity_pa_s) * _resistance(_steepness(brick, permeability_m2), 0.0)


def closed_form_drop(brick: dict[str, float], flow_m3_s: float, viscosity_pa_s: float, permeability_m2: float) -> float:
    """mu Q/(2 V) (a+w)² [w/(k a) + 8 F L²/(3 a⁴)] in Pa: for comparison only, it takes the wall flow as even.

    It always overestimates: 0.5 % on short bricks, up to 10 % on long, narrow or very permeable ones. Source:
    Konstandopoulos and Johnson, SAE 890405 (1989), from memory.
    """
    a, pitch, length = brick["opening_m"], brick["pitch_m"], brick["length_m"]
    shape = brick["wall_m"] / (permeability_m2 * a) + 8.0 * FRICTION * length * length / (3.0 * a * a * a * a)
    return viscosity_pa_s * flow_m3_s / (2.0 * brick["volume_m3"]) * pitch * pitch * shape


def channel_drop(
    brick: dict[str, float], flow_m3_s: float, viscosity_pa_s: float, density_kg_m3: float, permeability_m2: float,
) -> float:
    """Restriction in Pa with the air's momentum in the channels (momentum factor 1), without face losses; flow above 0.

    Source: the equations of clean_drop with - rho d(U²)/dx added to both. With x from 0 to 1 and y = (U1 - U2)/U0
    they become y" = 2 e y' + M² y, y(0) = 1, y(1) = -1, where C = mu w a U0/(4 k L) and e = rho U0²/C; then
    drop = -C y'(0)/2 + B (1 - ∫y dx)/2 + rho U0², B = F mu U0 L/a².
    """
    speed = channel_speed(brick, flow_m3_s)
    friction_pa = _friction_pa(brick, flow_m3_s, viscosity_pa_s)
    m = _steepness(brick, permeability_m2)
    wall_pa = 2.0 * friction_pa / (m * m)
    momentum_pa = density_kg_m3 * speed * speed
    e = momentum_pa / wall_pa
    rising = e + math.sqrt(e * e + m * m)
    falling = -m * m / rising  # e - sqrt(e² + M²) without its cancellation
    far, near = exp(-rising), exp(falling)
    by_falling = (1.0 + far) / (1.0 - far * near)
    by_rising = -1.0 - by_falling * near
    slope = by_rising * rising * far + by_falling * falling
    area = by_rising * (1.0 - far) / rising + by_falling * (near - 1.0) / falling
    return -0.5 * wall_pa * slope + 0.5 * friction_pa * (1.0 - area) + momentum_pa


def face_losses(brick: dict[str, float], flow_m3_s: float, density_kg_m3: float) -> float:
    """Loss at both faces in Pa: rho U0²/2 [0.42 (1 - s) + (1 - s)²], s the open fraction. Good to about a quarter.

    Source: textbook sudden contraction, and Borda and Carnot's sudden expansion (from memory).
    """
    speed, closed = channel_speed(brick, flow_m3_s), 1.0 - brick["open_fraction"]
    return 0.5 * density_kg_m3 * speed * speed * (0.42 * closed + closed * closed)


def channel_speed(brick: dict[str, float], flow_m3_s: float) -> float:
    """U0, the mean speed at the inlet of an inlet channel, in m/s.

    Source: continuity, flow / (face area x open fraction); flow in m³/s.
    """
    return flow_m3_s / (brick["area_m2"] * brick["open_fraction"])


def plugged_ratio(brick: dict[str, float], permeability_m2: float, fraction: float) -> float:
    """Restriction over clean when every inlet channel is filled over that fraction of its length from the end.

    [(1-f)/2 + coth(M (1-f)/2)/M + f] / [1/2 + coth(M/2)/M]: wall flow over the free part, then the outlet channel
    carries everything past the plug. Source: as clean_drop. Viscous only; f is cut to 0 to 0.99.
    """
    m = _steepness(brick, permeability_m2)
    return _resistance(m, fraction) / _resistance(m, 0.0)


def mixed_ratio(
    brick: dict[str, float], permeability_m2: float, fractions: list[float], weights: list[float] | None = None,
) -> float:
    """Restriction over clean of cells with different plug fractions in parallel: 1 / mean of 1/plugged_ratio.

    weights: shares of the face, above 0 in all; equal ones where they are left out.
    Source: parallel flow under one pressure drop: the conductances add.
    """
    flows = [1.0 / plugged_ratio(brick, permeability_m2, fraction) for fraction in fractions]
    if weights is None:
        return 1.0 / mean(flows)
    return total(weights) / total([weights[place] * flows[place] for place in range(len(flows))])


def allowed_band(
    brick: dict[str, float], fractions: list[float], lowest_m2: float = LOWEST_PERMEABILITY,
    highest_m2: float = HIGHEST_PERMEABILITY, u_fraction: float = 0.01,
) -> tuple[float, float] | None:
    """Lowest and highest restriction over clean that the rod's cells allow (95 %), or None without a cell.

    fractions: blocked share of the length of each probed cell, free ones as 0; u_fraction: standard uncertainty of one
    (3 mm of 290 mm). Wide on purpose: it spans the permeabilities, twice u_fraction, the spread from cell to cell
    (Student's t) and the part of the face that so many cells may miss altogether (1 - 0.05^(1/n), which may be clean or
    shut). Soot in the walls and losses of the can come on top; a restriction inside the band proves nothing.
    Source: mixed_ratio; the part missed altogether by the binomial (1 - p)^n = 0.05.
    """
    count = len(fractions)
    if not count:
        return None
    missed = 1.0 - power(0.05, 1.0 / count)
    lows, highs = [], []
    for k in (lowest_m2, math.sqrt(lowest_m2 * highest_m2), highest_m2):
        most = _flows(brick, k, [fraction - 2.0 * u_fraction for fraction in fractions])
        least = _flows(brick, k, [fraction + 2.0 * u_fraction for fraction in fractions])
        best, worst = mean(most), mean(least)
        lows.append(max(best + _half_width(most), best + missed * (1.0 - best)))
        highs.append(min(worst - _half_width(least), worst * (1.0 - missed)))
    return 1.0 / min(1.0, max(lows)), 1.0 / max(1.0 - LONGEST_PLUG, min(highs))


def _flows(brick: dict[str, float], permeability_m2: float, fractions: list[float]) -> list[float]:
    """1/plugged_ratio of each fraction; equal ones, as all free cells are, are worked out once."""
    m = _steepness(brick, permeability_m2)
    clean = _resistance(m, 0.0)
    known: dict[float, float] = {}
    for fraction in fractions:
        if fraction not in known:
            known[fraction] = 1.0 / (_resistance(m, fraction) / clean)
    return [known[fraction] for fraction in fractions]


def _half_width(xs: list[float]) -> float:
    return student_95(len(xs) - 1) * deviation(xs) / math.sqrt(len(xs)) if len(xs) > 1 else 0.0


def _friction_pa(brick: dict[str, float], flow_m3_s: float, viscosity_pa_s: float) -> float:
    """F mu U0 L/a²: friction if the whole flow went down the whole channel."""
    a = brick["opening_m"]
    return FRICTION * viscosity_pa_s * channel_speed(brick, flow_m3_s) * brick["length_m"] / (a * a)


def _steepness(brick: dict[str, float], permeability_m2: float) -> float:
    """M: how unevenly the wall is used; small = evenly."""
    a = brick["opening_m"]
    return brick["length_m"] * math.sqrt(8.0 * FRICTION * permeability_m2 / (brick["wall_m"] * a * a * a))


def _resistance(m: float, fraction: float) -> float:
    """Drop over F mu U0 L/a² with that fraction of each inlet channel plugged; m = M of the brick."""
    fraction = min(LONGEST_PLUG, max(0.0, fraction))
    free = 1.0 - fraction
    return free / 2.0 + coth(m * free / 2.0) / m + fraction

