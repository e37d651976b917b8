"""A filter's restriction as it would read in the air of its flow spec, with its standard uncertainty.

A filter is nearly all viscous, a plate all inertial: at 1600 m the plate reads 18 % low while the filter hardly moves.
So the two parts are carried over one by one, by viscosity and by density; the plate's ratio is no input here, and a
filter is never scaled by it. Raw and corrected stand side by side; nothing is judged here.
"""

import math

from .clean_filter import HIGHEST_PERMEABILITY, LOWEST_PERMEABILITY, USUAL_PERMEABILITY, channel_drop, clean_drop, face_losses
from .figures import reading
from .plate import BENCH_MODES, flow_ratio
from .uncertainty import combined_uncertainty, rectangular

# Share of the drop that goes with density, where the brick's geometry is not on file. Bricks of 9.5 to 13 inches that
# read 150 to 1200 Pa at 100 to 400 cfm have 0.7 to 10.6 % (clean_filter.py, 90 % of a grid), check values of solved
# channel equations 3.9 to 8.5 %; narrow cones of a can add to it. A small brick pushed hard has 18 % and more: give its
# geometry. The two together cover all but that.
BAND_SHARE, U_BAND_SHARE = 0.07, 0.04
U_LOSSES = 0.25  # relative: how well textbook losses at the faces are known
U_FLOW_FRACTION = 0.01  # how well the bench sets its flow: shop's starting value, no source
FLOWS_M3_S = (1e-3, 2.0)


def inertial_share(
    brick: dict[str, float] | None, flow_m3_s: object, air: dict[str, object] | None,
    permeability_m2: float = USUAL_PERMEABILITY, drop_pa: object = None,
) -> dict[str, object]:
    """The share of a restriction that goes with density and flow squared: {"share", "u_share", "from"}, 0 to 1.

    flow_m3_s: as it goes through the brick, in the air given.

    From "geometry" (channel momentum and both faces, over the clean drop, or over the drop that was read: a loaded
    filter has the same inertial pascals in a larger drop), else "band", BAND_SHARE ± U_BAND_SHARE.
    Source: clean_filter; the band is a shop's starting value, no source.
    """
    flow, drop = reading(flow_m3_s), reading(drop_pa)
    here = _properties(air)
    if brick is None or here is None or flow is None or not FLOWS_M3_S[0] <= flow <= FLOWS_M3_S[1]:
        return {"share": BAND_SHARE, "u_share": U_BAND_SHARE, "from": "band"}
    density, viscosity = here
    shares = []
    for k in (permeability_m2, LOWEST_PERMEABILITY, HIGHEST_PERMEABILITY):
        viscous_pa = clean_drop(brick, flow, viscosity, k)
        inertial_pa = channel_drop(brick, flow, viscosity, density, k) - viscous_pa + face_losses(brick, flow, density)
        whole_pa = drop if drop is not None and drop > 0.0 else viscous_pa + inertial_pa
        shares.append(min(1.0, inertial_pa / whole_pa))
    by_permeability = rectangular((max(shares) - min(shares)) / 2.0)
    return {"share": shares[0], "u_share": combined_uncertainty([U_LOSSES * shares[0], by_permeability]),
            "from": "geometry"}


def corrected_drop(
    drop_pa: object, air: dict[str, object] | None, reference: dict[str, object] | None, bench_mode: str,
    share: float = BAND_SHARE, u_share: float = U_BAND_SHARE, u_drop_pa: float = 0.0,
    u_flow_fraction: float = U_FLOW_FRACTION,
) -> dict[str, object] | None:
    """The restriction in air of the reference conditions, or None where something needed is missing; all in Pa.

    drop [(1 - phi) (mu_ref/mu) (Q_ref/Q) + phi (rho_ref/rho) (Q_ref/Q)²], phi = share, of the drop as it was read.
    air, reference: as room_air gives them; the reference is exact by definition. u_drop_pa: of the raw reading.
    "parts" are independent; u_pa is their root sum of squares (GUM 5.1.2). Temperature moves density and viscosity
    together, so it is one part and the rest of either another.
    Source: two terms, viscous ~ mu Q and inertial ~ rho Q²; parts by GUM (JCGM 100:2008) 5.1.2.
    """
    raw = reading(drop_pa)
    here, there = _properties(air), _properties(reference)
    if raw is None or here is None or there is None or air is None or bench_mode not in BENCH_MODES:
        return None
    flow = flow_ratio(here[0], there[0], bench_mode)
    viscous, inertial = there[1] / here[1] * flow, there[0] / here[0] * flow * flow
    factor = (1.0 - share) * viscous + share * inertial
    viscous_pa, inertial_pa = raw * (1.0 - share) * viscous, raw * share * inertial
    parts = _air_parts(viscous_pa, inertial_pa, air, here, bench_mode)
    parts["reading_pa"] = factor * u_drop_pa
    parts["split_pa"] = raw * (inertial - viscous) * u_share
    parts["flow_pa"] = (viscous_pa + 2.0 * inertial_pa) * u_flow_fraction
    parts = {name: abs(parts[name]) for name in sorted(parts)}
    return {"raw_pa": raw, "corrected_pa": raw * factor, "factor": factor, "parts": parts, "share": share,
            "u_pa": combined_uncertainty([parts[name] for name in sorted(parts)]), "bench_mode": bench_mode}


def _air_parts(
    viscous_pa: float, inertial_pa: float, air: dict[str, object], here: tuple[float, float], bench_mode: str,
) -> dict[str, float]:
    """What the air adds, signed: its temperature, the rest of its density, the rest of its viscosity."""
    density, viscosity = here
    # Q_ref/Q goes with density to the power n = 0, 1 or 1/2, so the two terms go with it to n and 2 n - 1.
    n = {"constant_volume": 0.0, "constant_mass": 1.0, "uncorrected_element": 0.5}[bench_mode]
    by_density = (n * viscous_pa + (2.0 * n - 1.0) * inertial_pa) / density
    by_viscosity = -viscous_pa / viscosity
    t_density, t_viscosity = _part(air, "temperature_density_kg_m3"), _part(air, "temperature_viscosity_pa_s")
    u_density, u_viscosity = _part(air, "u_density_kg_m3"), _part(air, "u_viscosity_fraction") * viscosity
    return {"temperature_pa": by_density * t_density + by_viscosity * t_viscosity,
            "density_pa": by_density * _rest(u_density, t_density),
            "viscosity_pa": by_viscosity * _rest(u_viscosity, t_viscosity)}


def _properties(air: dict[str, object] | None) -> tuple[float, float] | None:
    """Density and viscosity, both above 0, or None."""
    if air is None:
        return None
    density, viscosity = reading(air.get("density_kg_m3")), reading(air.get("viscosity_pa_s"))
    if density is None or viscosity is None or density <= 0.0 or viscosity <= 0.0:
        return None
    return density, viscosity


def _part(air: dict[str, object], name: str) -> float:
    return reading(air.get(name)) or 0.0


def _rest(whole: float, part: float) -> float:
    """What is left of a standard uncertainty without one of its parts."""
    return math.sqrt(max(0.0, whole * whole - part * part))
