"""What is missing or in doubt blocks OK to reinstall and proves nothing. Invented readings, common practice."""

import pytest

from tests.trade.readings import after, before, codes, flow, good, rod, told, weight
from webform.trade.judge import judge


@pytest.mark.parametrize(("bench", "code"), [("out", "bench_out"), ("not_checked", "bench_not_checked")])
def test_a_doubtful_bench_neither_passes_nor_fails(bench, code):
    for inches in (1.78, 2.75):
        done = judge(after(good(flow=flow(inches, bench=bench))))
        assert (done["verdict"], codes(done, "missing")) == ("hold", [code])
    soft = judge(before(good(flow=flow(1.78, bench=bench), rod=rod((24, "soft", 170)))))
    assert soft["verdict"] == "clean"


@pytest.mark.parametrize("test", ["visual", "weight", "rod", "light", "flow"])
def test_every_test_is_needed_for_ok_and_a_skipped_one_is_named(test):
    skipped = judge(after(good(**{test: {"skipped": "at_shop"}})))
    assert (skipped["verdict"], skipped["missing"][0]["values"]) == ("hold", {"test": test, "skipped": "at_shop"})
    assert codes(judge(after(good(**{test: None}))), "missing") == ["test_missing"]


def test_a_depth_that_cannot_be_compared_blocks_ok_and_proves_nothing():
    unknown = rod((14, "hard", 100), (10, "free", None), full_mm=None)
    done = judge(after(good(rod=unknown), brick={"depth_m": None}))
    assert (done["verdict"], codes(done, "missing")) == ("hold", ["rod_depth_unknown"])
    # The model's depth is taken where the outlet was not reached: 14/24 blocked by 190/290.
    assert judge(after(good(rod=unknown)))["verdict"] == "replace"


def test_few_cells_block_ok():
    done = judge(after(good(rod=rod((19, "free", None)))))
    assert (done["verdict"], codes(done, "missing")) == ("hold", ["rod_few_cells"])


def test_a_warm_weight_as_found_is_marked_only():
    found = judge(before(good(weight=weight(14480, "warm"))))
    assert (found["verdict"], "weight_not_final" in codes(found, "findings")) == ("ok_to_reinstall", True)


@pytest.mark.parametrize(("scale", "code"), [("out", "scale_out"), ("unknown", "scale_unknown")])
def test_a_weight_from_a_doubtful_scale_blocks_ok_and_proves_nothing(scale, code):
    done = judge(after(good(weight={**weight(13780), "scale": scale})))
    assert (done["verdict"], codes(done, "missing")) == ("hold", [code])
    assert judge(after(good(weight={**weight(13780), "scale": "good"})))["verdict"] == "ok_to_reinstall"


@pytest.mark.parametrize(("scale", "next_step"), [
    ("out", "settle_check_scale"), ("unproven", "settle_check_scale"), ("unknown", "settle_fetch_scale")])
def test_a_weight_in_doubt_says_what_to_do_about_the_scale(scale, next_step):
    done = judge(after(good(weight={**weight(13780), "scale": scale})))
    assert (done["verdict"], codes(done, "settle")) == ("hold", [next_step])


def test_cells_whose_depth_is_not_known_make_no_average():
    # 4 of 24 hard, nobody knows how far: 0 % of the depth would be a lie, and so would a pattern.
    unknown = rod((4, "hard", 145), (20, "free", None), full_mm=None)
    done = judge(after(good(rod=unknown), brick={"depth_m": None}))
    assert not {"rod_average", "hard_left", "rod_pattern"} & set(codes(done, "findings"))
    found = judge(before(good(rod=unknown), brick={"depth_m": None}))
    assert (found["verdict"], told(found, "hard_loading_unknown")) == (
        "clean", "Hard stops in 4 of 24 cells: packed ash, worth cleaning. How far it blocks them is not known yet.")
