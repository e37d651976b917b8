"""A button that is tapped twice does its work once. Everything is invented."""

import pytest

from sync import lookup
from webform.shop import Shop

pytestmark = pytest.mark.browser

TWICE = "(name) => { const button = document.querySelector(`[data-testid=${name}]`); button.click(); button.click(); }"


def test_a_new_job_that_is_tapped_twice_is_one_job(server, demo_phone):
    shop = Shop(server.data)
    shop.write("filter:fresh", {"unit_kind": "wall_flow", "serial": "S-77"}, "desk:office", {})
    demo_phone.sync()
    demo_phone.go("#/filter/filter:fresh")
    demo_phone.page.evaluate(TWICE, "new-job")
    demo_phone.page.wait_for_selector("html[data-ready^='#/job/job:']")
    demo_phone.sync()
    [job] = lookup.find(shop.store, "job", "filter", "filter:fresh")
    assert not lookup.view(shop.store, job)["fields"]["filter"]["open"]
    shop.store.close()
