"""From codes and values to sentences, with a catalogue that is passed in (one flat JSON file a language).

A template holds names in braces, "{drop_pa}". The end of a name says what its value is, and so how it is written:
_pa, _g, _m and _k are SI values shown in the catalogue's unit ("number.unit_pa"; the shop's own once in_units has put it
there), _fraction a share shown in per cent.
A text is looked up ("choice-like" words: "reason.brick.cracked") and stands as it is where the catalogue lacks it.
Nothing here escapes markup: what draws the sentence does.
"""

from .figures import fixed, reading, trimmed
from .units import UNITS, from_si

PARTS = ("reasons", "findings", "missing", "settle")
# Of each unit: decimals usually shown, decimals that are kept even where they are zeros, as on a gauge, and the most that
# are shown, enough to tell two quantised figures (0.1 Pa, 0.1 g) apart.
DECIMALS = {"Pa": (0, 0, 1), "inHg": (2, 2, 5), "hPa": (2, 1, 3), "mbar": (2, 1, 3), "kPa": (3, 3, 4), "mmH2O": (1, 0, 2),
            "inH2O": (3, 2, 4), "inH2O (4 °C)": (3, 2, 4), "inH2O (60 °F)": (3, 2, 4),
            "g": (1, 0, 1), "kg": (3, 0, 4), "lb": (2, 0, 4), "mm": (1, 0, 1), "in": (3, 0, 3), "m": (4, 0, 4),
            "K": (0, 0, 1), "°C": (0, 0, 1), "°F": (0, 0, 1)}
OTHER_DECIMALS = (3, 0, 3)
NEAR_A_LIMIT = ("average_fraction", "hard_fraction", "off_fraction", "share_fraction")  # what a limit_fraction is a limit of
LEAST_DIGITS = 2  # of a figure other than 0: a difference of half a gram is no 0
# What the end of a name says: the quantity (as units.UNITS names it) and the unit where the catalogue names none.
SUFFIXES = {"_pa": ("pressure", "Pa"), "_g": ("mass", "g"), "_m": ("length", "mm"), "_k": ("temperature", "°C")}


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


def in_units(catalogue: dict[str, str], units: object) -> dict[str, str]:
    """The catalogue with other units of its figures: {"pressure": "mbar", "mass": "lb", ...}; what does not fit is left.

    The catalogue passed in stays as it is, and is the answer where nothing is asked for.
    """
    own = {}
    for suffix in sorted(SUFFIXES):
        quantity = SUFFIXES[suffix][0]
        unit = units.get(quantity) if isinstance(units, dict) else None
        if type(unit) is str and unit in UNITS and UNITS[unit][0] == quantity:
            own["number.unit" + suffix] = unit
    if not own:
        return catalogue
    found = dict(catalogue)
    found.update(own)
    return found


def figure(catalogue: dict[str, str], name: str, value: float, beside: list[float] | None = None) -> str:
    """An SI value (grams for _g) as text in the catalogue's unit, by the end of its name: "443 Pa", "1.918 inH2O".

    beside: figures of the same kind in the same sentence; as many decimals are shown as it takes to differ from them.

    >>> figure({"number.unit_pa": "Pa"}, "drop_pa", 477.8), figure({"number.unit_pa": "Pa"}, "drop_pa", 477.8, [478.1])
    ('478 Pa', '477.8 Pa')
    """
    suffix = _suffix(name)
    si_unit = SUFFIXES[suffix][1]
    unit = catalogue.get("number.unit" + suffix, si_unit)
    if unit not in UNITS:
        unit = si_unit
    others = [_in_unit(other, suffix, unit) for other in beside or [] if other != value]
    return _decimal(catalogue, _figure(_in_unit(value, suffix, unit), others, unit)) + " " + unit


def _written(catalogue: dict[str, str], name: str, values: dict[str, object]) -> str:
    value = values[name]
    if isinstance(value, str):
        return catalogue.get("reason." + name + "." + value, value)
    if type(value) is not float and type(value) is not int:
        return str(value)
    if name.endswith("_fraction"):
        return _decimal(catalogue, _percent(name, value, values)) + ("" if name == "margin_fraction" else " %")
    suffix = _suffix(name)
    if suffix:
        beside = [reading(values[other]) for other in sorted(values) if _suffix(other) == suffix]
        return figure(catalogue, name, float(value), [other for other in beside if other is not None])
    return _decimal(catalogue, trimmed(float(value), 4))


def _percent(name: str, value: float, values: dict[str, object]) -> str:
    """Whole per cents; a limit and the way to it with a tenth; all with two decimals where a figure is near the limit."""
    is_edge = name in ("low_fraction", "high_fraction")
    is_limit = name in ("limit_fraction", "margin_fraction", "depth_fraction")
    return trimmed(value * 100.0, 2 if not is_edge and _is_near(values) else 1 if is_limit else 0)


def _is_near(values: dict[str, object]) -> bool:
    """Whether a figure lies within half a per cent of the limit beside it, the ends of its interval aside."""
    limit = values.get("limit_fraction")
    if type(limit) is not float:
        return False
    for name in NEAR_A_LIMIT:
        value = values.get(name)
        if type(value) is float and abs(abs(value) - limit) < 0.005:
            return True
    return False


def _suffix(name: str) -> str:
    """The end of a name that says which quantity it is; "" where it says none."""
    end = "_pa" if name[-3:] == "_pa" else name[-2:]
    return end if end in SUFFIXES else ""


def _in_unit(value: float, suffix: str, unit: str) -> float:
    return from_si(value / 1000.0 if suffix == "_g" else value, unit)


def _figure(x: float, others: list[float], unit: str) -> str:
    """x with the unit's decimals, or with as many more as it takes to differ from the others and not to vanish."""
    decimals, kept, most = DECIMALS.get(unit, OTHER_DECIMALS)
    text = fixed(x, decimals)
    while decimals < most and (_is_vague(x, text) or text in [fixed(other, decimals) for other in others]):
        decimals = decimals + 1
        text = fixed(x, decimals)
    while text[-1] == "0" and "." in text and len(text) - text.find(".") - 1 > kept:
        text = text[:-1]
    return text[:-1] if text[-1] == "." else text


def _is_vague(x: float, text: str) -> bool:
    return x != 0.0 and len(text.replace("-", "").replace(".", "").lstrip("0")) < LEAST_DIGITS


def _decimal(catalogue: dict[str, str], text: str) -> str:
    """The text with the language's decimal mark."""
    return text.replace(".", catalogue.get("number.decimal_mark", "."))
