"""What is missing or in doubt blocks OK to reinstall and proves nothing. Invented readings, common practice."""

import pytest

from tests.trade.readings import after, before, codes, flow, good, rod, weight
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
