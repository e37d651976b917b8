"""What the benchmarks fill their stores with is what pushes would have left."""

import pytest

from sync.verify import verify
from webform.shop import open_store

from . import seeding
from .telling import tag_of


def names(number):
    return {**seeding.names_of_a_year(number), seeding.TAG: tag_of(number)}


@pytest.mark.parametrize("patterns", [seeding.inspection_patterns(), seeding.shop_patterns()], ids=["inspections", "shop"])
def test_a_seeded_store_is_proven_like_a_pushed_one(tmp_path, patterns):
    store = open_store(tmp_path)
    seeding.seed(store, patterns, 30, names)
    report = verify(store)
    assert report.problems == []
    assert store.counter()["position"] == 30 * len(patterns[0])
    store.close()
