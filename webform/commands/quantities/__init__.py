"""THE registry of single quantities: list, reading, computing and documentation of `ashbook calc` follow from it.

A new formula of webform/trade gets an entry in the file of its topic, or a line below that says why it is no quantity.
"""

from . import air, ash, bench, decision, filter, instruments, rod, statistics, tags
from .quantity import Quantity

TOPICS: tuple[tuple[str, tuple[Quantity, ...]], ...] = (
    ("Units and room air", air.QUANTITIES),
    ("Flow bench", bench.QUANTITIES),
    ("Clean filter and end plugs", filter.QUANTITIES),
    ("Rod", rod.QUANTITIES),
    ("Uncertainty and decision", decision.QUANTITIES),
    ("Statistics and own limits", statistics.QUANTITIES),
    ("Scale, check weights, control chart", instruments.QUANTITIES),
    ("Ash and next service", ash.QUANTITIES),
    ("Tag", tags.QUANTITIES),
)
QUANTITIES: dict[str, Quantity] = {entry.name: entry for _, entries in TOPICS for entry in entries}

# Public functions of webform/trade that are no single quantity, and why.
NO_QUANTITIES = {
    "a verdict or a part of it: `ashbook judge`": (
        "judge.judge",
        "judge.as_judged",
        "visual.note",
        "weight.note",
        "weight.worth",
        "weight.is_cold_and_dry",
        "weight.counts",
        "weight.is_alike",
        "weight.least_change_g",
        "weight.readings_between",
        "rod.note",
        "light.note",
        "lasting.note",
        "flow.note",
        "flow.note_no_reading",
        "together.note",
        "together.note_figures",
        "remains.note",
        "bench.is_good",
        "bench.carried",
        "bench.reference_air",
        "bench.flow_today",
        "bench.told",
        "flow.readable",
    ),
    "reads a case, computes nothing": (
        "flow.usable",
        "flow.raw",
        "rod.counted",
        "rod.shares",
        "rod.hard_shares",
        "remains.weighings_of",
        "remains.burnt_and_last",
        "ash.factor_ranges",
        "light.fewest",
        "light.most",
        "scales.state_of",
    ),
    "the rule table": ("rules.rows_of", "rules.read_aloud"),
    "sentences": ("words.sentence", "words.sentences", "words.figure", "words.in_units"),
    "which check covers which reading, by names": ("chart.covering_check", "chart.to_recheck"),
    "elementary, compared with mpmath in tests/trade": (
        "functions.exp",
        "functions.ln",
        "functions.power",
        "functions.coth",
        "distributions.log_gamma",
        "distributions.gamma_shares",
        "distributions.beta_below",
        "distributions.root",
        "distributions.chi_nodes",
        "figures.fixed",
        "figures.trimmed",
        "figures.quantise",
        "figures.reading",
    ),
}
