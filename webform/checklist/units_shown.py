"""The units in which a shop reads its figures: picked at the desk, used in every sentence. Portable Python.

Only sentences follow: what is stored stays as it was typed, the calculation stays in SI, and no answer of this step feeds
a verdict, so neither a sign-off nor an issued report moves when a shop reads in other units.
"""

from ..trade.words import in_units


def in_units_of(shop, catalogue):
    """The catalogue with the units that the shop picked. shop: its view ("shop:rules"), or None."""
    held = shop["fields"].get("units") if shop is not None else None
    return in_units(catalogue, held["used"] if held is not None else None)
