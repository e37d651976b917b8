"""What came off round by round, what is still inside, and what the engine's oil says about it. Nothing here condemns.

Only what comes off after an oven burn counts as ash: before it, soot, ash and water leave together; the burn itself
takes soot. Masses are net and in grams; only cold, dry weighings count.
"""

from . import ash, rod, weight
from .bench import geometry_of
from .figures import mean, quantise, reading
from .notes import Notes
from .rules import Table

DECIMALS = 1
ROUND_CODES = {"soot": "round_soot", "ash": "round_ash", "mixed": "round_mixed", "nothing": "round_nothing",
               "heavier": "round_heavier", "together": "rounds_together", "ash_together": "rounds_ash"}
BALANCE_CODES = {"ash.more": "ash_more", "ash.less": "ash_less", "ash.as_expected": "ash_as_expected"}
AGREEMENT_CODES = {"ash.rod_agrees": "rod_agrees", "ash.rod_more": "rod_gained_more", "ash.rod_less": "rod_gained_less"}
LOST_CODES = {"less_deep": "rod_lost"}
ASK_CODES = {
    "oil_burning": "ask_oil_burning", "additive": "ask_additive", "turbo": "ask_turbo", "injector": "ask_injector",
    "coolant": "ask_coolant", "wrong_oil": "ask_wrong_oil", "left_inside": "ask_left_inside", "leak": "ask_leak",
    "cleaned_before": "ask_cleaned_before", "oil_leaked": "ask_oil_leaked", "use_wrong": "ask_use_wrong"}


def note(case: dict[str, object], table: Table, notes: Notes) -> None:
    """Adds the findings of one stage; those of ash and service only after cleaning."""
    if case["stage"] != "after":
        return
    weighings = weighings_of(case)
    _note_rounds(weighings, table, notes)
    _note_left(case, weighings, table, notes)
    ends = burnt_and_last(weighings)
    out = ash.ash_out(weighings, weight.least_change_g(table, *ends))
    if len(ends) == 2 and not weight.is_alike(ends[0], ends[1]):
        out = {"ok": False, "code": "ash.not_weighed"}  # with other things on it: what came off nobody knows
    _note_balance(case, out, table, notes)
    _note_rod(case, out, table, notes)
    _note_next(case, out, table, notes)


def weighings_of(case: dict[str, object]) -> list[dict[str, object]]:
    """As found, after each round and at the end, in their order; a round that was not weighed has no mass."""
    before, readings, rounds = case.get("before"), case.get("readings"), case.get("rounds")
    found = _final(before.get("weight") if isinstance(before, dict) else None, "found")
    listed = [entry for entry in rounds if isinstance(entry, dict)] if isinstance(rounds, list) else []
    steps = [{"after": str(entry.get("method")), "mass_g": entry.get("mass_g"), "is_final": True,
              "parts": entry.get("parts"), "left_on": entry.get("left_on")} for entry in listed]
    last = _final(readings.get("weight") if isinstance(readings, dict) else None, "")
    if last["is_final"]:
        steps = steps or [last]
        for name in ("mass_g", "parts", "left_on"):
            steps[len(steps) - 1][name] = last[name]
    return [found] + steps


def _final(weighing: object, after: str) -> dict[str, object]:
    found = weighing if isinstance(weighing, dict) else {}
    return {"after": after, "mass_g": found.get("mass_g"), "is_final": weight.counts(weighing), "parts": found.get("parts"),
            "left_on": found.get("left_on")}


def burnt_and_last(weighings: list[dict[str, object]]) -> list[dict[str, object]]:
    """The weighing after the first oven burn and the last one: those that ash.ash_out compares; fewer where they lack."""
    weighed = [entry for entry in weighings if entry["is_final"] and reading(entry["mass_g"]) is not None]
    while weighed and weighed[0]["after"] != "oven":
        weighed = weighed[1:]
    return weighed[:1] + weighed[1:][-1:]


def _note_rounds(weighings: list[dict[str, object]], table: Table, notes: Notes) -> None:
    """What each weighed round took off, and what that was, told by what went before it; of one round `removed` tells.

    Rounds that nobody weighed are told together with the next one that was: what they took off stands in its figure.
    """
    if len(weighings) < 3:
        return
    last, since, was_burnt = weighings[0], 0, False  # the last weighing, rounds since then, whether it was burnt by then
    is_burnt, last_g = False, reading(weighings[0]["mass_g"]) if weighings[0]["is_final"] else None
    for place, entry in enumerate(weighings[1:]):
        mass_g, since = reading(entry["mass_g"]), since + 1
        is_burnt = is_burnt or entry["after"] == "oven"
        if mass_g is not None and last_g is not None and weight.is_alike(last, entry):
            noise_g = weight.least_change_g(table, last, entry)
            values: dict[str, object] = {"round": place + 1, "removed_g": quantise(last_g - mass_g, DECIMALS),
                                         "limit_g": quantise(noise_g, DECIMALS), "method": str(entry["after"])}
            kind = "ash" if was_burnt else "soot" if entry["after"] == "oven" else "mixed"
            if since > 1:
                kind, values["first"] = "ash_together" if was_burnt else "together", place + 2 - since
            kind = kind if last_g - mass_g > noise_g else "heavier" if mass_g - last_g > noise_g else "nothing"
            if kind == "heavier":
                values["heavier_g"] = quantise(mass_g - last_g, DECIMALS)
            notes.findings.append(table.reason(ROUND_CODES[kind], "scale_u_g", values))
        if mass_g is not None:
            last, last_g, since, was_burnt = entry, mass_g, 0, is_burnt


def _note_left(case: dict[str, object], weighings: list[dict[str, object]], table: Table, notes: Notes) -> None:
    """What remains against the filter's own last after-weight, else the model's."""
    last = weighings[len(weighings) - 1]
    reference, last_g = case.get("reference"), reading(last["mass_g"])
    if not isinstance(reference, dict) or last_g is None or len(weighings) < 2 or not weight.is_alike(reference, last):
        return
    clean_g = reading(reference.get("mass_g"))
    if clean_g is not None:
        values: dict[str, object] = {"after_g": quantise(last_g, DECIMALS), "clean_g": quantise(clean_g, DECIMALS),
                                     "left_g": quantise(abs(last_g - clean_g), DECIMALS),
                                     "reference": str(reference.get("origin"))}
        code = "mass_left" if last_g >= clean_g else "mass_below"
        notes.findings.append(table.reason(code, "mass_left", values))


def _note_balance(case: dict[str, object], out: dict[str, object], table: Table, notes: Notes) -> None:
    use = case.get("use")
    if not isinstance(use, dict):
        return
    expected = ash.expected_ash(use, use)
    found = ash.ash_balance(expected, out)
    if found["ok"] is not True:
        return
    values: dict[str, object] = {"removed_g": _g(out["mid_g"]), "expected_g": _whole(expected["mid_g"]),
                                 "least_g": _whole(expected["low_g"]), "most_g": _whole(expected["high_g"])}
    notes.findings.append(table.reason(BALANCE_CODES[str(found["code"])], "ash", values))
    questions = found["questions"]
    for question in questions if isinstance(questions, list) else []:
        notes.findings.append(table.reason(ASK_CODES[str(question)], "ash", {}))


def _note_rod(case: dict[str, object], out: dict[str, object], table: Table, notes: Notes) -> None:
    """The depth that the rod gained, against the ash that came out."""
    body, before, readings = geometry_of(case.get("brick")), case.get("before"), case.get("readings")
    if body is None or not isinstance(before, dict) or not isinstance(readings, dict):
        return
    found, now = _average(before.get("rod"), case), _average(readings.get("rod"), case)
    if found is None or now is None:
        return
    agreement = ash.rod_agreement(out, _inlet_l(body), found, now)
    if agreement["ok"] is True:
        gained, code = quantise(found - now, 4), AGREEMENT_CODES[str(agreement["code"])]
        values: dict[str, object] = {"gained_fraction": max(0.0, gained), "removed_g": _g(out["mid_g"]),
                                     "low_fraction": _share(agreement["low"]), "high_fraction": _share(agreement["high"])}
        if code == "rod_gained_less" and gained < 0.0:
            code, values["lost_fraction"] = LOST_CODES["less_deep"], -gained
        notes.findings.append(table.reason(code, "ash", values))


def _note_next(case: dict[str, object], out: dict[str, object], table: Table, notes: Notes) -> None:
    """The next service, from the ash that came out over what was driven since the last one."""
    use, body = case.get("use"), geometry_of(case.get("brick"))
    if not isinstance(use, dict) or body is None:
        return
    for name, unit in (("hours", "h"), ("distance_km", "km")):
        used = reading(use.get(name))
        if used is None:
            continue
        limit_g = ash.plug_g(ash.SERVICE_SHARE, _inlet_l(body), ash.PACKING[1])
        found = ash.next_service(out, used, limit_g)
        if found["ok"] is not True:
            continue
        values: dict[str, object] = {"low": _about(found["low"]), "mid": _about(found["mid"]), "unit": unit}
        high = reading(found["high"])
        if high is not None:
            values["high"] = _about(high)
        code = "next_service" if high is not None else "next_service_open"
        notes.findings.append(table.reason(code, "ash", values))
        return


def _average(rodding: object, case: dict[str, object]) -> float | None:
    """Average blockage of hard cells, None where the rod was not read or a depth is unknown."""
    if not isinstance(rodding, dict) or not isinstance(rodding.get("cells"), list):
        return None
    brick = case.get("brick")
    if None in rod.shares(rodding, brick):
        return None
    shares = rod.hard_shares(rodding, brick)
    return mean(shares) if shares else None


def _inlet_l(body: dict[str, float]) -> float:
    cells_m2 = 1.0 / (body["pitch_m"] * body["pitch_m"])
    return ash.inlet_volume_l(body["area_m2"] * body["length_m"] * 1000.0, cells_m2, body["wall_m"])


def _g(mass_g: object) -> float:
    return quantise(reading(mass_g) or 0.0, DECIMALS)


def _share(share: object) -> float:
    return quantise(reading(share) or 0.0, 4)


def _about(amount: object) -> float:
    """To two leading digits: a forecast knows no more."""
    whole, step = _whole(amount), 1.0
    while whole >= 100.0 * step:
        step = step * 10.0
    return quantise(whole / step, 0) * step


def _whole(amount: object) -> float:
    return quantise(reading(amount) or 0.0, 0)
