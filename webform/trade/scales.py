"""Is the scale right today? A check weight's reading against the error that the scale's class allows at that load.

Masses are in grams. Every problem is a code. A check proves the scale good or out only where the check weight's own
error cannot turn the answer round; else it says that the weight is too coarse.
"""

from .figures import quantise, reading, total

DECIMALS = 4  # grams; the finest check weight limit here is 0.5 mg

# OIML R 76-1:2006 Table 6, initial verification (read in a public table extract): up to so many divisions, so many e.
R76_STEPS = {"II": ((5000, 0.5), (20000, 1.0), (100000, 1.5)), "III": ((500, 0.5), (2000, 1.0), (10000, 1.5))}
# NIST Handbook 44 section 2.20 Table 6, maintenance (from memory; two rows of class III confirmed in a forum thread).
HB44_STEPS = {"II": ((5000, 1.0), (20000, 2.0), (100000, 3.0)),
              "III": ((500, 1.0), (2000, 2.0), (4000, 3.0), (10000, 5.0))}
# OIML R 76-1:2006 Table 3 (read in a public table extract): division from, to (g), fewest and most divisions.
CLASSES = {"II": ((0.001, 0.05, 100, 100000), (0.1, None, 5000, 100000)),
           "III": ((0.1, 2.0, 100, 10000), (5.0, None, 500, 10000))}
# NIST Handbook 44 section 2.20 Table 3 has the same rows (read on a page of a scale's manual), and in class III rows in
# inch-pound units: 0.0002 lb to 0.125 oz and from 0.01 lb (4.54 g), here in grams as such a scale's data round them.
HB44_CLASSES = {"II": CLASSES["II"], "III": ((0.09, 3.55, 100, 10000), (4.5, None, 500, 10000))}
# OIML R 111-1:2004 Table 1, maximum permissible error in mg by nominal mass in g (M1 to M3 read in a national
# regulation, F1 and F2 in two public reprints of the table).
R111_MG = {
    "F1": {100: 0.5, 200: 1.0, 500: 2.5, 1000: 5.0, 2000: 10.0, 5000: 25.0, 10000: 50.0, 20000: 100.0, 50000: 250.0},
    "F2": {100: 1.6, 200: 3.0, 500: 8.0, 1000: 16.0, 2000: 30.0, 5000: 80.0, 10000: 160.0, 20000: 300.0, 50000: 800.0},
    "M1": {100: 5.0, 200: 10.0, 500: 25.0, 1000: 50.0, 2000: 100.0, 5000: 250.0, 10000: 500.0, 20000: 1000.0,
           50000: 2500.0},
    "M2": {100: 16.0, 200: 30.0, 500: 80.0, 1000: 160.0, 2000: 300.0, 5000: 800.0, 10000: 1600.0, 20000: 3000.0,
           50000: 8000.0},
    "M3": {100: 50.0, 200: 100.0, 500: 250.0, 1000: 500.0, 2000: 1000.0, 5000: 2500.0, 10000: 5000.0, 20000: 10000.0,
           50000: 25000.0},
}
# Rule of a scale: how many times the steps of the table count. In service R 76 allows twice (from memory, 3.5.2);
# acceptance in Handbook 44 is half of maintenance.
RULES = {"r76_initial": 1.0, "r76_in_service": 2.0, "hb44_acceptance": 0.5, "hb44_maintenance": 1.0, "own": 0.0}


def divisions(load_g: float, division_g: float) -> float:
    """How many divisions a load is, to a thousandth of one.

    Source: by definition, load over division, both in g and above 0.
    """
    return quantise(load_g / division_g, 3)


def most_divisions(scale_class: str) -> int:
    """The largest number of divisions, Max/e, of class II or III. Source: OIML R 76-1:2006 Table 3."""
    return CLASSES[scale_class][0][3]


def classes_allowed(max_g: float, division_g: float, rule: str = "r76_initial") -> list[str]:
    """The classes of II and III that a scale of this capacity and division may have; rule: one of RULES but "own".

    Source: OIML R 76-1:2006 Table 3; NIST Handbook 44 section 2.20 Table 3, also in pounds and ounces.

    >>> classes_allowed(30000.0, 1.0), classes_allowed(50000.0, 5.0)
    (['II'], ['II', 'III'])
    """
    count = divisions(max_g, division_g)
    found = []
    for name in ("II", "III"):
        for low_g, high_g, fewest, most in (HB44_CLASSES if rule[:4] == "hb44" else CLASSES)[name]:
            if division_g >= low_g and (high_g is None or division_g <= high_g) and fewest <= count <= most:
                found.append(name)
    return found


def limit_g(rule: str, scale_class: str, division_g: float, load_g: float) -> float | None:
    """The largest error allowed at that load, in grams; None beyond the class. rule: one of RULES but "own".

    Source: OIML R 76-1:2006 Table 6; NIST Handbook 44 section 2.20 Table 6. Loads and divisions in g.

    >>> limit_g("r76_initial", "III", 5.0, 2500.0), limit_g("hb44_maintenance", "III", 5.0, 2500.0)
    (2.5, 5.0)
    """
    count = divisions(load_g, division_g)
    for most, step in (HB44_STEPS if rule[:4] == "hb44" else R76_STEPS)[scale_class]:
        if count <= most:
            return step * RULES[rule] * division_g
    return None


def weights_limit_g(weights_g: list[float], weight_class: str) -> float | None:
    """The largest error of a stack of check weights, in grams: their limits added; None for one not in the table.

    Source: OIML R 111-1:2004 Table 1; limits of a stack add at worst. Range: nominal 100 g to 50 kg.
    """
    result = 0.0
    for weight_g in weights_g:
        mg = R111_MG.get(weight_class, {}).get(int(weight_g)) if weight_g == int(weight_g) else None
        if mg is None:
            return None
        result = result + mg / 1000.0
    return result


def is_fine_enough(weight_limit_g: float, scale_limit_g: float) -> bool:
    """Whether a check weight's error is at most a third of the scale's. Source: OIML R 76-1 3.7.1 (from memory)."""
    return quantise(3.0 * weight_limit_g, DECIMALS) <= quantise(scale_limit_g, DECIMALS)


def scale_check(reading_g: object, weight_g: object, weight_class: str, scale: dict[str, object],
                known_within_g: object = None) -> dict[str, object]:
    """{"ok", "code", "error_g", "limit_g", "weight_limit_g", "divisions", "problems"} of one check weighing.

    weight_g: nominal mass in g, or a list of them for a stack. weight_class: F1, F2, M1, M2, M3, or any other text with
    known_within_g, how well a calibrated or home-made weight is known. scale: {"rule": one of RULES, "class": "II" or
    "III", "division_g", "max_g", "limit_g": for rule "own"}. code: scale.good or scale.good_coarse_weight (proven though
    the one-third rule is broken), else the first problem: scale.bad_data, scale.beyond_max, scale.class_impossible,
    scale.beyond_class, scale.unknown_weight, scale.out, scale.weight_too_coarse. Figures are None where unknown.
    Source: limit_g, weights_limit_g, is_fine_enough and classes_allowed.
    """
    answer: dict[str, object] = {"ok": False, "code": "", "error_g": None, "limit_g": None, "weight_limit_g": None,
                                 "divisions": None, "problems": []}
    weights = _positive(weight_g if isinstance(weight_g, list) else [weight_g])
    shown_g, known_g = reading(reading_g), reading(known_within_g)
    if not weights or shown_g is None or not _is_scale(scale):
        return _with(answer, ["scale.bad_data"])
    load_g = total(weights)
    weight_limit = known_g if known_g is not None and known_g >= 0.0 else weights_limit_g(weights, weight_class)
    allowed, problems = _allowed(scale, load_g)
    if weight_limit is None:
        problems.append("scale.unknown_weight")
    answer["error_g"] = quantise(shown_g - load_g, DECIMALS)
    answer["divisions"] = divisions(load_g, reading(scale["division_g"]) or 1.0)
    answer["limit_g"], answer["weight_limit_g"] = _q(allowed), _q(weight_limit)
    if problems or allowed is None or weight_limit is None:
        return _with(answer, problems)
    return _with(answer, _weighed(abs(shown_g - load_g), allowed, weight_limit))


def state_of(check: dict[str, object]) -> str:
    """What a scale_check says of the weighings under it: "good"; "out", proven; "unproven", where it says neither."""
    problems = check.get("problems")
    is_out = isinstance(problems, list) and "scale.out" in problems
    return "good" if check.get("ok") is True else "out" if is_out else "unproven"


def _is_scale(scale: dict[str, object]) -> bool:
    """Whether the scale's own data can be used."""
    is_own = scale.get("rule") == "own"
    sizes = [reading(scale.get(name)) for name in ("division_g", "max_g", "limit_g")[:3 if is_own else 2]]
    return (scale.get("rule") in RULES and (is_own or scale.get("class") in CLASSES)
            and len([size for size in sizes if size is not None and size >= 0.001]) == len(sizes))


def _allowed(scale: dict[str, object], load_g: float) -> tuple[float | None, list[str]]:
    """The error that the scale may have at this load, and what is wrong with the scale or the load."""
    division_g, max_g = reading(scale["division_g"]) or 1.0, reading(scale["max_g"]) or 0.0
    problems = ["scale.beyond_max"] if load_g > max_g else []
    if scale["rule"] == "own":
        return reading(scale["limit_g"]), problems
    scale_class = str(scale["class"])
    if scale_class not in classes_allowed(max_g, division_g, str(scale["rule"])):
        problems.append("scale.class_impossible")
    allowed = limit_g(str(scale["rule"]), scale_class, division_g, load_g)
    if allowed is None:
        problems.append("scale.beyond_class")
    return allowed, problems


def _weighed(error_g: float, allowed_g: float, weight_limit: float) -> list[str]:
    """Codes of an error against its limit, guarded by the weight's own where the weight is coarse."""
    if is_fine_enough(weight_limit, allowed_g):
        is_out = quantise(error_g, DECIMALS) > quantise(allowed_g, DECIMALS)
        return ["scale.out"] if is_out else ["scale.good"]
    if quantise(error_g - weight_limit, DECIMALS) > quantise(allowed_g, DECIMALS):
        return ["scale.out", "scale.weight_too_coarse"]
    is_proven = quantise(error_g + weight_limit, DECIMALS) <= quantise(allowed_g, DECIMALS)
    return ["scale.good_coarse_weight"] if is_proven else ["scale.weight_too_coarse"]


def _with(answer: dict[str, object], codes: list[str]) -> dict[str, object]:
    answer["code"] = codes[0]
    answer["ok"] = codes[0] in ("scale.good", "scale.good_coarse_weight")
    answer["problems"] = [] if answer["ok"] else codes
    return answer


def _positive(weights: list[object]) -> list[float]:
    """The masses as floats; an empty list when one of them is none."""
    found = [weight for weight in [reading(weight) for weight in weights] if weight is not None and weight > 0.0]
    return found if len(found) == len(weights) else []


def _q(x: float | None) -> float | None:
    return None if x is None else quantise(x, DECIMALS)
