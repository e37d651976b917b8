"""Numbers as people type them, and the units of a workshop.

A number has a decimal point or a decimal comma and no thousands separators. What could be read in two ways is refused
with a code, never guessed. Numbers stay stored as typed; to_si says what they mean.
"""

from .figures import trimmed

DIGITS = "0123456789"
SPACES = " \t\r\n"
MOST_DIGITS = 15
# Units that nobody reads to a thousandth: there "1.780" may well be one thousand seven hundred and eighty; in metres
# altitudes are typed, and lengths below one of them begin with a nought.
COARSE = ("", "g", "Pa", "mmH2O", "min", "h", "m", "ft", "km", "mi")

# unit: (quantity, factor to the SI unit). Exact by definition or by NIST SP 811 (2008), Appendix B.8: inch of water
# (conventional) 25.4 mm x 9.80665 Pa/mm, of mercury (conventional) 25.4 mm x 13.5951 x 9.80665 Pa/mm, pound 0.45359237 kg,
# inch 0.0254 m, foot 0.3048 m, mile 1609.344 m. The two other inches of water are printed there in five or six digits, at
# 39.2 °F (4 °C) 2.490 82 E+02 and at 60 °F 2.4884 E+02. Between them lie 0.1 %: what a digital manometer shows is one of the
# three, named in its manual, and it is stored as that one.
UNITS = {
    "": ("count", 1.0),
    "Pa": ("pressure", 1.0), "hPa": ("pressure", 100.0), "mbar": ("pressure", 100.0), "kPa": ("pressure", 1000.0),
    "inH2O": ("pressure", 249.08891), "inH2O (4 °C)": ("pressure", 249.082), "inH2O (60 °F)": ("pressure", 248.84),
    "mmH2O": ("pressure", 9.80665), "inHg": ("pressure", 3386.388640341),
    "g": ("mass", 0.001), "kg": ("mass", 1.0), "lb": ("mass", 0.45359237),
    "mm": ("length", 0.001), "in": ("length", 0.0254), "m": ("length", 1.0), "ft": ("length", 0.3048),
    "km": ("length", 1000.0), "mi": ("length", 1609.344), "mil": ("length", 0.0000254),
    "K": ("temperature", 1.0), "°C": ("temperature", 1.0), "°F": ("temperature", 1.0),
    "s": ("time", 1.0), "min": ("time", 60.0), "h": ("time", 3600.0),
    "m³/s": ("flow", 1.0), "m3/s": ("flow", 1.0), "m³/h": ("flow", 1.0 / 3600.0), "m3/h": ("flow", 1.0 / 3600.0),
    "cfm": ("flow", 0.028316846592 / 60.0),
    "%": ("count", 0.01), "L": ("volume", 0.001),
}


def to_si(text: object, unit: object) -> dict[str, object]:
    """{"ok": True, "value": in the SI unit} of a typed number, or {"ok": False, "code", "values"}.

    SI units: Pa, kg, m, K, s, m³/s, m³, and 1 for a count or a share.
    Source: UNITS. Range: at most MOST_DIGITS digits, no exponent; temperatures from absolute zero up.
    """
    if type(unit) is not str or unit not in UNITS:
        return _refused("number.unknown_unit", unit)
    code, number = _number(text, unit in COARSE)
    if code:
        return _refused(code, text)
    value = number * UNITS[unit][1]
    if unit == "°C":
        value = number + 273.15
    elif unit == "°F":
        value = (number + 459.67) / 1.8
    if UNITS[unit][0] == "temperature" and value < 0:
        return _refused("number.below_absolute_zero", text)
    return {"ok": True, "value": value}


def from_si(value: float, unit: str) -> float:
    """An SI value in that unit. Source: UNITS. Range: a unit of UNITS, a value in its SI unit."""
    if unit == "°C":
        return value - 273.15
    if unit == "°F":
        return value * 1.8 - 459.67
    return value / UNITS[unit][1]


def shown(value: float, unit: str, decimals: int) -> str:
    """An SI value as text in that unit, without trailing zeros.

    Source: UNITS, as from_si.

    >>> shown(684.9945025, "inH2O", 3)
    '2.75 inH2O'
    """
    text = trimmed(from_si(value, unit), decimals)
    return text + " " + unit if unit else text


def _number(text: object, is_coarse: bool) -> tuple[str, float]:
    """Error code ("" when there is none) and the number."""
    if type(text) is not str:
        return "number.not_a_number", 0.0
    head, mark, tail = text.partition(".")
    is_plain = head and not (head + tail).strip(DIGITS) and len(text) <= MOST_DIGITS
    if is_plain and (tail if mark and not is_coarse else not mark):
        return "", _scaled(head + tail, len(tail))  # what nearly everybody types; what follows reads the rest
    typed = _stripped(text)
    if not typed:
        return "number.empty", 0.0
    sign = 1.0
    if typed[0] in "+-−":
        sign = 1.0 if typed[0] == "+" else -1.0
        typed = typed[1:]
    digits, marks, code = _scanned(typed)
    if code:
        return code, 0.0
    if not digits:
        return "number.not_a_number", 0.0
    if len(digits) > MOST_DIGITS:
        return "number.too_long", 0.0
    if len(marks) > 1:
        return "number.grouped", 0.0
    if not marks:
        return "", sign * float(int(digits))
    mark, place = marks[0]
    after = len(digits) - place
    if (mark == "," or is_coarse) and after == 3 and 1 <= place <= 3 and digits[0] != "0":
        return "number.ambiguous", 0.0
    return "", sign * _scaled(digits, after)


def _scaled(digits: str, decimals: int) -> float:
    """The nearest float of some digits, the last of them decimals."""
    scale = 1
    for _ in range(decimals):
        scale = scale * 10
    return float(int(digits)) / float(scale)


def _scanned(typed: str) -> tuple[str, list[tuple[str, int]], str]:
    """The digits, the separators with the number of digits before each, and an error code or ""."""
    digits, grouped = "", ""
    marks: list[tuple[str, int]] = []
    for char in typed:
        if char in DIGITS:
            digits = digits + char
        elif char in ".,":
            marks.append((char, len(digits)))
        elif char in " '’\u00a0\u202f_" and digits:
            grouped = "number.grouped"
        elif char in "eE" and digits:
            return "", [], "number.exponent"
        else:
            return "", [], "number.not_a_number"
    return digits, marks, grouped


def _stripped(text: str) -> str:
    start, end = 0, len(text)
    while start < end and text[start] in SPACES:
        start = start + 1
    while end > start and text[end - 1] in SPACES:
        end = end - 1
    return text[start:end]


def _refused(code: str, given: object) -> dict[str, object]:
    text = str(given)
    return {"ok": False, "code": code, "values": {"given": text if len(text) <= 40 else text[:40] + "…"}}
