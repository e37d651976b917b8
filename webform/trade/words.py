"""From codes and values to sentences, with a catalogue that is passed in (one flat JSON file a language).

A template holds names in braces, "{drop_pa}". The end of a name says what its value is, and so how it is written:
_pa, _g, _m and _k are SI values shown in the catalogue's unit ("number.unit_pa"), _fraction a share shown in per cent.
A text is looked up ("choice-like" words: "reason.brick.cracked") and stands as it is where the catalogue lacks it.
Nothing here escapes markup: what draws the sentence does.
"""

from .figures import fixed, trimmed
from .units import UNITS, from_si

PARTS = ("reasons", "findings", "missing", "settle")
# Decimals shown in each unit, enough to tell two quantised figures apart.
DECIMALS = {"Pa": 1, "hPa": 3, "mbar": 3, "kPa": 4, "inH2O": 3, "mmH2O": 2, "g": 1, "kg": 4, "lb": 3, "mm": 1, "in": 3,
            "m": 4, "K": 0, "°C": 0, "°F": 0}
# Decimals that are kept even where they are zeros, as on a gauge.
KEPT = {"mbar": 1, "hPa": 1, "kPa": 3, "inH2O": 2}
SUFFIXES = ("_pa", "_g", "_m", "_k")


def sentence(catalogue: dict[str, str], key: str, values: dict[str, object]) -> str:
    """The sentence of one code; the code itself where the catalogue has no such key."""
    template = catalogue.get(key)
    if template is None:
        return key
    pieces = template.split("{")
    text = pieces[0]
    for piece in pieces[1:]:
        name, closed, rest = piece.partition("}")
        if closed and name in values:
            text = text + _written(catalogue, name, values) + rest
        else:
            text = text + "{" + piece
    return text


def sentences(verdict: dict[str, object], catalogue: dict[str, str]) -> dict[str, list[str]]:
    """{"reasons", "findings", "missing", "settle"}: lists of texts, beside the verdict's lists of the same name."""
    texts = {}
    for part in PARTS:
        reasons = verdict[part]
        found = []
        for reason in reasons if isinstance(reasons, list) else []:
            found.append(sentence(catalogue, "reason." + reason["code"], reason["values"]))
        texts[part] = found
    return texts


def _written(catalogue: dict[str, str], name: str, values: dict[str, object]) -> str:
    value = values[name]
    if isinstance(value, str):
        return catalogue.get("reason." + name + "." + value, value)
    if type(value) is not float and type(value) is not int:
        return str(value)
    if name.endswith("_fraction"):
        return _decimal(catalogue, _percent(name, value, values)) + ("" if name == "margin_fraction" else " %")
    for suffix in SUFFIXES:
        if name.endswith(suffix):
            return _quantity(catalogue, suffix, float(value))
    return _decimal(catalogue, trimmed(float(value), 4))


def _percent(name: str, value: float, values: dict[str, object]) -> str:
    """Whole per cents, with as many decimals as it takes to differ from the limit beside it."""
    limit = values.get("limit_fraction")
    is_near = type(limit) is float and name != "limit_fraction" and abs(value - limit) < 0.005
    if name in ("low_fraction", "high_fraction"):
        is_near = False
    return trimmed(value * 100.0, 2 if is_near or name in ("limit_fraction", "margin_fraction") else 0)


def _quantity(catalogue: dict[str, str], suffix: str, value: float) -> str:
    si_unit = {"_pa": "Pa", "_g": "g", "_m": "mm", "_k": "°C"}[suffix]
    unit = catalogue.get("number.unit" + suffix, si_unit)
    if unit not in UNITS:
        unit = si_unit
    si_value = value / 1000.0 if suffix == "_g" else value
    text = fixed(from_si(si_value, unit), DECIMALS.get(unit, 3))
    kept = KEPT.get(unit, 0)
    while text[-1] == "0" and "." in text and len(text) - text.find(".") - 1 > kept:
        text = text[:-1]
    if text[-1] == ".":
        text = text[:-1]
    return _decimal(catalogue, text) + " " + unit


def _decimal(catalogue: dict[str, str], text: str) -> str:
    """The text with the language's decimal mark."""
    return text.replace(".", catalogue.get("number.decimal_mark", "."))
