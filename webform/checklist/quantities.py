"""Functions of the calculation that no verdict reaches, by name: for the phone's checks, and to compare interpreters.

Portable Python.
"""

from ..trade import air, ash, chart, clean_filter, distributions, own_numbers, sampling, scales, tolerance, uncertainty

QUANTITIES = {
    "room_air": air.room_air, "expected_ash": ash.expected_ash, "individuals": chart.individuals, "signals": chart.signals,
    "to_recheck": chart.to_recheck, "geometry": clean_filter.geometry, "mixed_ratio": clean_filter.mixed_ratio,
    "clopper_pearson": distributions.clopper_pearson, "student_quantile": distributions.student_quantile,
    "noncentral_t_cdf": distributions.noncentral_t_cdf, "own_limits": own_numbers.own_limits,
    "spread_cells": sampling.spread_cells, "scale_check": scales.scale_check, "one_sided": tolerance.one_sided,
    "two_sided": tolerance.two_sided, "conformance_probability": uncertainty.conformance_probability,
    "effective_freedom": uncertainty.effective_freedom,
}
