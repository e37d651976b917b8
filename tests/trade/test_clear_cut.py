"""Jobs that no technician would argue about: none of them may read hold or close, so that caution can't hide a weak rule.

One row a job: kind of unit, when, verdict, what was found in words, and the readings that differ from a filter in good
order. All invented, common practice. Brick 290 mm deep, window 1.60 to 2.00 inH2O, u 0.05; free cells, dry and cold.
"""

from collections import Counter

import pytest

from tests.trade.readings import (
    HILL_M,
    NO_LIGHT,
    VISUAL,
    after,
    before,
    bench_check,
    flow,
    good,
    in_zones,
    lit,
    rod,
    rounds,
    weight,
)
from webform.trade.judge import judge

BLACK, GREY, OILY = {**VISUAL, "outlet": "black"}, {**VISUAL, "outlet": "grey"}, {**VISUAL, "wet": "oil"}
ONE, TWO = rounds(13780.0), rounds(14100.0, 13780.0)  # the last of two took off 320 g: another one is worth it
SPENT = rounds(14100.0, 13785.0, 13780.0)  # the last of three took off 5 g: no other one is
AS_READ = "as found"
CLEANED = "after"


def brick(state):
    """The outside with the brick in that state."""
    return {"visual": {**VISUAL, "brick": state}}


def bench(inches, plate, mode="constant_volume", **air):
    """Restriction on a bench that was checked with its plate of 2.10 inH2O."""
    return {"flow": flow(inches, check=bench_check(plate, mode, **air))}


def through(kind):
    """Light through damage."""
    return {"light": {"kind": kind, "lit": "none", "count": None}}


JOBS = [
    # --- OK to reinstall ------------------------------------------------------------------------------------------
    ("wall_flow", AS_READ, "ok_to_reinstall", "everything in order, nothing to do", {}),
    ("wall_flow", AS_READ, "ok_to_reinstall", "weighed while still warm, else in order", {"weight": weight(13780, "warm")}),
    ("wall_flow", AS_READ, "ok_to_reinstall", "can dented, else in order", {"visual": {**VISUAL, "can": "dented"}}),
    ("wall_flow", AS_READ, "ok_to_reinstall", "grey dust on the outlet, else in order", {"visual": GREY}),
    ("one_box", AS_READ, "ok_to_reinstall", "one-box in order", {}),
    ("flow_through", AS_READ, "ok_to_reinstall", "flow-through brick in order", {}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "all free, in the middle of the window", {"flow": flow(1.78)}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "all free, near the lower end but inside", {"flow": flow(1.62)}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "three of 24 hard to the half, the rest free",
     {"rod": rod((3, "hard", 145), (21, "free", None))}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "one hard cell at the rim", {"rod": rod((1, "hard", 40), (23, "free", None))}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "three lit cells, outlet clean", {"light": lit(3)}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "chipped edge, else in order", brick("chipped")),
    ("wall_flow", CLEANED, "ok_to_reinstall", "30 free cells and 4 end plugs",
     {"rod": rod((30, "free", None), (4, "end_plug", None))}),
    ("wall_flow", CLEANED, "ok_to_reinstall", "on the hill, bench good", bench(1.78, 1.74, altitude_m=HILL_M)),
    ("wall_flow", CLEANED, "ok_to_reinstall", "constant mass on the hill, raw above the window",
     bench(2.15, 2.55, "constant_mass", pressure_pa=83500.0)),
    ("wall_flow", CLEANED, "ok_to_reinstall", "no further round worth it, none needed", {"done": SPENT}),
    ("one_box", CLEANED, "ok_to_reinstall", "one-box cleaned, within its window", {"flow": flow(1.80)}),
    ("flow_through", CLEANED, "ok_to_reinstall", "flow-through cleaned; stray rod readings do not count",
     {"rod": rod((24, "hard", 20))}),
    # --- clean ----------------------------------------------------------------------------------------------------
    ("wall_flow", AS_READ, "clean", "all cells soft, restriction high", {"rod": rod((24, "soft", 170)), "flow": flow(2.75)}),
    ("wall_flow", AS_READ, "clean", "soft to the face in all cells", {"rod": rod((24, "soft", 0)), "flow": flow(4.0)}),
    ("wall_flow", AS_READ, "clean", "restriction high, cells free: soot in the walls", {"flow": flow(2.60)}),
    ("wall_flow", AS_READ, "clean", "half of the cells soft, restriction still in the window",
     {"rod": rod((12, "soft", 200), (12, "free", None))}),
    ("wall_flow", AS_READ, "clean", "centre packed hard, outlet clean",
     {"rod": in_zones({6: ("hard", 160), 7: ("hard", 160)})}),
    ("wall_flow", AS_READ, "clean", "8 of 24 hard to the half", {"rod": rod((8, "hard", 145), (16, "free", None))}),
    ("wall_flow", AS_READ, "clean", "outlet black, nothing else", {"visual": BLACK}),
    ("wall_flow", AS_READ, "clean", "wet with oil, all else in order", {"visual": OILY}),
    ("wall_flow", AS_READ, "clean", "soft, and the rest left for the shop",
     {"rod": rod((24, "soft", 150)), "flow": {"skipped": "at_shop"}, "weight": None, "light": None}),
    ("wall_flow", AS_READ, "clean", "soft, bench not checked",
     {"rod": rod((24, "soft", 150)), "flow": flow(2.5, bench="not_checked")}),
    ("wall_flow", AS_READ, "clean", "restriction high and no flow spec, cells soft",
     {"rod": rod((24, "soft", 150)), "spec": None}),
    ("wall_flow", AS_READ, "clean", "on the hill, raw inside and above in the spec's air",
     bench(1.99, 1.74, altitude_m=HILL_M)),
    ("one_box", AS_READ, "clean", "one-box, restriction high", {"flow": flow(3.0)}),
    ("one_box", AS_READ, "clean", "one-box, outlet black", {"visual": BLACK}),
    ("flow_through", AS_READ, "clean", "flow-through, restriction high", {"flow": flow(2.4)}),
    ("flow_through", AS_READ, "clean", "flow-through wet with fuel", {"visual": {**VISUAL, "wet": "fuel"}}),
    # --- clean again ----------------------------------------------------------------------------------------------
    ("wall_flow", CLEANED, "clean_again", "soft left after the first round",
     {"rod": rod((10, "soft", 220), (14, "free", None)), "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "soft left, the last round took off 320 g",
     {"rod": rod((4, "soft", 220), (20, "free", None)), "done": TWO}),
    ("wall_flow", CLEANED, "clean_again", "one cell still soft after one round",
     {"rod": rod((1, "soft", 250), (23, "free", None)), "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "above the window after one round", {"flow": flow(2.30), "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "above the window, the last round took off 320 g",
     {"flow": flow(2.30), "done": TWO}),
    ("wall_flow", CLEANED, "clean_again", "above in two readings", {"flow": flow(2.20, 2.24), "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "outlet black again, no light", {"visual": BLACK, "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "soft, some hard, above the window",
     {"rod": rod((10, "soft", 200), (3, "hard", 180), (11, "free", None)), "flow": flow(2.4), "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "only soft cells seen, flow left for later",
     {"rod": rod((6, "soft", 200), (18, "free", None)), "flow": None, "done": ONE}),
    ("wall_flow", CLEANED, "clean_again", "on the hill, above the window in the spec's air",
     {**bench(1.99, 1.74, altitude_m=HILL_M), "done": ONE}),
    ("one_box", CLEANED, "clean_again", "one-box above its window after one round", {"flow": flow(2.3), "done": ONE}),
    ("one_box", CLEANED, "clean_again", "one-box, outlet black after the first round", {"visual": BLACK, "done": ONE}),
    ("flow_through", CLEANED, "clean_again", "flow-through above, the last round took off 320 g",
     {"flow": flow(2.5), "done": TWO}),
    ("flow_through", CLEANED, "clean_again", "flow-through, outlet black", {"visual": BLACK, "done": ONE}),
    # --- replace --------------------------------------------------------------------------------------------------
    ("wall_flow", AS_READ, "replace", "brick cracked", brick("cracked")),
    ("wall_flow", AS_READ, "replace", "brick melted, nothing else looked at",
     {**brick("melted"), "weight": None, "rod": None, "light": None, "flow": None}),
    ("wall_flow", AS_READ, "replace", "20 of 24 hard at 130 mm", {"rod": rod((20, "hard", 130), (4, "free", None))}),
    ("wall_flow", AS_READ, "replace", "14 of 24 hard to the half, flow passes",
     {"rod": rod((14, "hard", 145), (10, "free", None))}),
    ("wall_flow", AS_READ, "replace", "hard and black: melted inside",
     {"rod": rod((3, "hard", 200), (21, "free", None)), "visual": BLACK}),
    ("wall_flow", AS_READ, "replace", "a plug is missing", {"rod": rod((1, "through", None), (23, "free", None))}),
    ("wall_flow", AS_READ, "replace", "light through a crack", through("crack")),
    ("wall_flow", AS_READ, "replace", "34 cells lit", {"light": lit(34)}),
    ("one_box", AS_READ, "replace", "one-box, brick loose in the mat", brick("loose")),
    ("flow_through", AS_READ, "replace", "flow-through, brick cracked", brick("cracked")),
    ("wall_flow", CLEANED, "replace", "14 of 24 still hard, flow passes",
     {"rod": rod((14, "hard", 145), (10, "free", None)), "flow": flow(1.90), "done": TWO}),
    ("wall_flow", CLEANED, "replace", "average hard blockage 0.41", {"rod": rod((24, "hard", 170))}),
    ("wall_flow", CLEANED, "replace", "above the window, no round helps any more", {"flow": flow(2.30), "done": SPENT}),
    ("wall_flow", CLEANED, "replace", "light at the mat", through("edge")),
    ("wall_flow", CLEANED, "replace", "light through a melted hole, all else in order", through("melted")),
    ("wall_flow", CLEANED, "replace", "34 cells lit behind a black outlet", {"light": lit(34), "visual": BLACK}),
    ("wall_flow", CLEANED, "replace", "hard cell with light and grey outlet: melted",
     {"rod": rod((2, "hard", 150), (22, "free", None)), "light": lit(2), "visual": GREY}),
    ("wall_flow", CLEANED, "replace", "brick loose, weighed warm and wet",
     {**brick("loose"), "weight": weight(14500, "warm", "wet")}),
    ("one_box", CLEANED, "replace", "one-box above its window, no round helps", {"flow": flow(2.6), "done": SPENT}),
    ("flow_through", CLEANED, "replace", "flow-through melted", brick("melted")),
]


@pytest.mark.parametrize(("unit", "stage", "verdict", "words", "given"), JOBS, ids=[" ".join(job[:4]) for job in JOBS])
def test_a_clear_case_is_decided(unit, stage, verdict, words, given):
    parts = dict(given)
    done, spec = parts.pop("done", ONE), {"spec": parts.pop("spec")} if "spec" in parts else {}
    readings = good(**parts)
    made = (before(readings, unit_kind=unit, **spec) if stage == AS_READ
            else after(readings, {"weight": weight(14480)}, done, unit_kind=unit, **spec))
    found = judge(made)
    assert (found["verdict"], found["close"]) == (verdict, False), (words, found["reasons"])
    assert found["settle"] == [] or {reason["code"] for reason in found["settle"]} == {"settle_tell_owner"}


def test_the_list_is_long_enough_and_covers_every_kind_of_unit_at_both_stages():
    assert len(JOBS) >= 60 and len({job[3] for job in JOBS}) == len(JOBS)
    verdicts = Counter(job[2] for job in JOBS)
    assert sorted(verdicts) == ["clean", "clean_again", "ok_to_reinstall", "replace"] and min(verdicts.values()) >= 10
    pairs = Counter((job[0], job[1]) for job in JOBS)
    assert len(pairs) == 6 and min(pairs.values()) >= 4, pairs
    assert good()["light"] == NO_LIGHT, "the good filter has no light, so that each row says what differs"
