"""Ash: what the engine's oil should have left in the filter, against what came out, what the rod says, and what next.

All of it is a guide with a wide range, never a reason to condemn: sulfated ash is a laboratory figure, oil also leaks,
and ash packs differently in every filter. Ranges are kept and shown; a question is asked only outside of them.
"""

import math

from .figures import quantise, reading
from .functions import exp, ln

# Most sulfated ash in an oil of that category, percent of mass (ASTM D874). CJ-4: ASTM D4485 limits as printed in two
# public articles (read). The others: API 1509, ACEA sequences (from memory).
CEILING_PERCENT = {"CJ-4": 1.0, "CK-4": 1.0, "FA-4": 1.0, "E6": 1.0, "E8": 1.0, "E9": 1.0, "E11": 1.0,
                   "E4": 2.0, "E7": 2.0}
LOW_ASH_PERCENT = 1.0  # what a filter bears; more is high-ash oil

# Shop's starting values, from memory: density in kg/L; the share of the oil lost that is burned and reaches the filter.
DENSITY_KG_L = 0.86
REACHING = 0.8
# Ranges as ratios (low, high) to the middle figure, about 95 %; shop's starting values.
OIL_WITHIN = 0.3  # either side, when the oil use is a rate; the caller may say better
RATIOS = {"density": (0.98, 1.02), "known_ash": (0.9, 1.1), "ceiling": (0.75, 1.0), "laboratory": (0.8, 1.2),
          "known_reaching": (0.9, 1.1), "reaching": (0.75, 1.25), "duty": (0.8, 1.25)}
# Packing density of ash in an end plug, g/cm³: low, middle, high (from memory of SAE 2009-01-1086 and 2010-01-1213).
PACKING = (0.17, 0.30, 0.45)
LEAST_IN_PLUG = 0.5  # at least this share of the ash lies in the plug, the rest on the walls; shop's starting value
SERVICE_SHARE = 0.25  # of every inlet channel full: time for the next service, short of the third that condemns

MORE = ("oil_burning", "additive", "turbo", "injector", "coolant", "wrong_oil")
LESS = ("left_inside", "leak", "cleaned_before", "oil_leaked", "use_wrong")


def oil_used_l(use: dict[str, object]) -> float | None:
    """Litres of oil lost, from the first of these that is complete; None without any.

    {"oil_l"}; {"hours", "oil_l_per_h"}; {"distance_km", "oil_l_per_1000_km"}; {"fuel_l", "oil_share_of_fuel"}.
    Source: by definition, use times rate. Range: at least 0.001 L, at most 1e8 of a use at 1e3 of a rate.
    """
    for amount, rate, scale in (("oil_l", "", 1.0), ("hours", "oil_l_per_h", 1.0),
                                ("distance_km", "oil_l_per_1000_km", 0.001), ("fuel_l", "oil_share_of_fuel", 1.0)):
        first, second = _between(use.get(amount), 0.0, 1e8), _between(use.get(rate), 0.0, 1e3) if rate else 1.0
        if first is not None and second is not None and first * second * scale >= 0.001:
            return first * second * scale
    return None


def expected_ash(use: dict[str, object], oil: dict[str, object]) -> dict[str, object]:
    """{"ok": True, "low_g", "mid_g", "high_g", "oil_l", "ash_percent", "is_ceiling", "is_high_ash"}, or a code.

    use: as oil_used_l, and "within", the half range of the oil use as a share of it. oil: {"category", "ash_percent",
    "density_kg_l", "reaching"}, any of them None. m = V ρ w η: volume, density, ash share of the mass, share that
    reaches the filter. Ranges of the factors combine as squares of logarithms (GUM, JCGM 100:2008 5.1.6). Without the
    oil's own ash_percent its category's ceiling counts, and the range reaches down only. Codes: ash.no_use, ash.no_oil.
    Source: mass balance; ceilings and starting values with theirs above. Range: ash 0.01 to 5 %, density 0.5 to 1.5 kg/L.
    """
    volume_l = oil_used_l(use)
    known = _between(oil.get("ash_percent"), 0.01, 5.0)
    percent = known if known is not None else CEILING_PERCENT.get(str(oil.get("category")))
    if volume_l is None or percent is None:
        return {"ok": False, "code": "ash.no_use" if volume_l is None else "ash.no_oil"}
    density = _between(oil.get("density_kg_l"), 0.5, 1.5) or DENSITY_KG_L
    reaching = _between(oil.get("reaching"), 0.01, 1.0)
    mid_g = volume_l * density * 1000.0 * percent / 100.0 * (REACHING if reaching is None else reaching)
    low, high = _combined(factor_ranges(use, oil))
    return {"ok": True, "low_g": mid_g * low, "mid_g": mid_g, "high_g": mid_g * high, "oil_l": volume_l,
            "ash_percent": percent, "is_ceiling": known is None, "is_high_ash": percent > LOW_ASH_PERCENT}


def factor_ranges(use: dict[str, object], oil: dict[str, object]) -> list[tuple[float, float]]:
    """(low, high) as ratios of each factor of expected_ash: oil use, density, laboratory, ash of the oil, share reaching."""
    within = _between(use.get("within"), 0.0, 0.9)
    within = OIL_WITHIN if within is None else within
    is_known, is_reaching = _between(oil.get("ash_percent"), 0.01, 5.0), _between(oil.get("reaching"), 0.01, 1.0)
    return [(1.0 - within, 1.0 + within), RATIOS["density"], RATIOS["laboratory"],
            RATIOS["ceiling" if is_known is None else "known_ash"],
            RATIOS["reaching" if is_reaching is None else "known_reaching"]]


def ash_out(weighings: list[dict[str, object]], within_g: float) -> dict[str, object]:
    """{"ok": True, "low_g", "mid_g", "high_g"}: what came out after the first oven burn, or a code.

    weighings, in their order: {"after": "found", "oven", "air" or "wash", "mass_g", "is_final": cold and dry}. What the
    burn itself took off was soot and water. within_g: smallest change between two weighings that counts. Codes:
    ash.no_burn, no final weighing after an oven; ash.not_weighed, none after that one.
    Source: common practice, no source: an oven burns soot and dries, it leaves the ash where it is.
    """
    burnt_g, last_g = None, None
    for entry in weighings:
        mass_g = _between(entry.get("mass_g"), 0.0, 1e6)
        if mass_g is None or entry.get("is_final") is not True:
            continue
        if burnt_g is not None:
            last_g = mass_g
        elif entry.get("after") == "oven":
            burnt_g = mass_g
    if burnt_g is None or last_g is None:
        return {"ok": False, "code": "ash.no_burn" if burnt_g is None else "ash.not_weighed"}
    removed_g = max(0.0, burnt_g - last_g)
    return {"ok": True, "low_g": max(0.0, removed_g - within_g), "mid_g": removed_g, "high_g": removed_g + within_g}


def ash_balance(expected: dict[str, object], out: dict[str, object]) -> dict[str, object]:
    """{"ok": True, "code", "ratio", "low_ratio", "high_ratio", "questions"}: what came out over what was expected.

    expected and out as expected_ash and ash_out give them; a refusal of either is passed on. Codes: ash.more, ash.less
    (only where the whole range says so), ash.as_expected. questions: codes to ask the owner, the likely ones first.
    Source: a quotient of two ranges, its ends by interval arithmetic: low over high, high over low.
    """
    for part in (expected, out):
        if part.get("ok") is not True:
            return {"ok": False, "code": part.get("code")}
    ratio = _ratio(out, "mid_g", expected, "mid_g")
    low, high = _ratio(out, "low_g", expected, "high_g"), _ratio(out, "high_g", expected, "low_g")
    code = "ash.as_expected"
    questions: list[str] = []
    if low > 1.0:
        code, questions = "ash.more", list(MORE)
        if expected.get("is_high_ash") is True:
            questions = ["wrong_oil"] + [name for name in MORE if name != "wrong_oil"]
    elif high < 1.0:
        code, questions = "ash.less", list(LESS)
    return {"ok": True, "code": code, "ratio": ratio, "low_ratio": low, "high_ratio": high, "questions": questions}


def inlet_volume_l(volume_l: float, cells_m2: float, wall_m: float) -> float:
    """The volume of all inlet channels of a brick, in litres: half of its cells, without the walls.

    Square cells at a pitch of 1/√cells; no skin, no plugs. Range: the wall is thinner than the pitch, else 0.
    Source: geometry; volume in L, cells in 1/m², wall in m.
    """
    opening = max(0.0, 1.0 - wall_m * math.sqrt(cells_m2))
    return volume_l * opening * opening / 2.0


def plug_g(share: float, inlet_l: float, packing_g_cm3: float) -> float:
    """The mass of ash, in grams, that fills that share of the length of every inlet channel.

    Source: volume times density; 1 L holds 1000 cm³. Range: share 0 to 1.
    """
    return share * inlet_l * 1000.0 * packing_g_cm3


def blocked_by(ash_g: float, inlet_l: float) -> dict[str, float]:
    """{"low", "mid", "high"}: the average blockage, 0 to 1, that so much ash explains; inlet_l > 0.

    low: half of it on the walls, the rest densely packed; mid: all in the plug, at the middle density; high: loose.
    Source: plug_g turned round, PACKING and LEAST_IN_PLUG.
    """
    loose, middle, dense = (ash_g / plug_g(1.0, inlet_l, packing) for packing in PACKING)
    return {"low": min(1.0, dense * LEAST_IN_PLUG), "mid": min(1.0, middle), "high": min(1.0, loose)}


def rod_agreement(out: dict[str, object], inlet_l: float, before: float, after: float,
                  within: float = 0.05) -> dict[str, object]:
    """{"ok": True, "code", "observed", "low", "mid", "high"}: average blockage lost, against the ash that came out.

    before, after: average blockage by the rod; within: how far the observed change may be off, a shop's starting value.
    Codes: ash.rod_agrees; ash.rod_more, the rod gained more depth than the ash explains; ash.rod_less; ash.no_brick;
    or a refusal that is passed on. Source: blocked_by. Range: average blockages from 0 to 1, inlet_l in L.
    """
    if out.get("ok") is not True:
        return {"ok": False, "code": out.get("code")}
    if not inlet_l > 0.0:
        return {"ok": False, "code": "ash.no_brick"}
    low = blocked_by(_g(out, "low_g"), inlet_l)["low"]
    mid, high = blocked_by(_g(out, "mid_g"), inlet_l)["mid"], blocked_by(_g(out, "high_g"), inlet_l)["high"]
    observed, code = quantise(before - after, 4), "ash.rod_agrees"
    if observed > quantise(high + within, 4):
        code = "ash.rod_more"
    elif observed < quantise(low - within, 4):
        code = "ash.rod_less"
    return {"ok": True, "code": code, "observed": observed, "low": low, "mid": mid, "high": high}


def next_service(ash: dict[str, object], used: object, limit_g: float, left_g: float = 0.0,
                 most: float | None = None) -> dict[str, object]:
    """{"ok": True, "code", "low", "mid", "high"}: use until the next service, in the unit of used (hours or km).

    ash: low_g, mid_g, high_g gathered over used, measured (ash_out) or expected; limit_g: the load at which to service;
    left_g: what is still inside; most: never later than that (a maker's interval). high is None where there is no end.
    The range adds that the next stretch is driven otherwise. Codes: ash.next; ash.due_now; ash.no_use; ash.none_out;
    or a refusal that is passed on.
    Source: proportion, used x (limit - left)/ash; ranges by GUM 5.1.6. Range: used from 1e-3 to 1e8; masses in g.
    """
    amount = _between(used, 1e-3, 1e8)
    if ash.get("ok") is not True:
        return {"ok": False, "code": ash.get("code")}
    if amount is None or not _g(ash, "mid_g") > 0.0:
        return {"ok": False, "code": "ash.no_use" if amount is None else "ash.none_out"}
    room_g = max(0.0, limit_g - left_g)
    mid = amount * room_g / max(_g(ash, "mid_g"), 1e-6)
    low_ratio, high_ratio = RATIOS["duty"]
    low = mid * _combined([(min(1.0, _g(ash, "mid_g") / max(_g(ash, "high_g"), 1e-6)), 1.0), (low_ratio, 1.0)])[0]
    high: float | None = None
    if _g(ash, "low_g") > 0.0:
        spread = max(1.0, _g(ash, "mid_g") / max(_g(ash, "low_g"), 1e-6))
        high = mid * _combined([(1.0, spread), (1.0, high_ratio)])[1]
    if most is not None:
        low, mid, high = min(low, most), min(mid, most), most if high is None else min(high, most)
    return {"ok": True, "code": "ash.next" if room_g > 0.0 else "ash.due_now", "low": low, "mid": mid, "high": high}


def _combined(ratios: list[tuple[float, float]]) -> tuple[float, float]:
    """The low and the high ratio of a product whose factors vary on their own."""
    below, above = 0.0, 0.0
    for low, high in ratios:
        below, above = below + ln(low) * ln(low), above + ln(high) * ln(high)
    return exp(-math.sqrt(below)), exp(math.sqrt(above))


def _ratio(over: dict[str, object], upper: str, under: dict[str, object], lower: str) -> float:
    return quantise(_g(over, upper) / max(_g(under, lower), 1e-6), 3)


def _g(part: dict[str, object], name: str) -> float:
    return reading(part.get(name)) or 0.0


def _between(value: object, low: float, high: float) -> float | None:
    """The value as a float where it lies between the two, else None."""
    found = reading(value)
    return found if found is not None and low <= found <= high else None
