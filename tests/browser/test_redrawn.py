"""A list that is drawn anew by itself, because the book has changed, takes no tap away and does not move under the eye."""

import pytest

pytestmark = pytest.mark.browser

# Counts how often a screen has come to stand; another tab says that the book has changed.
COUNT = """() => { window.drawn = 0; new MutationObserver(() => { window.drawn += 1; })
  .observe(document.documentElement, { attributes: true, attributeFilter: ["data-ready"] }); }"""
CHANGED = """async () => { const before = window.drawn; new BroadcastChannel("ashbook").postMessage({});
  while (window.drawn === before) await new Promise((ok) => requestAnimationFrame(ok)); }"""


@pytest.fixture
def job_page(demo_phone):
    demo_phone.sync()
    demo_phone.go("#/job/job:demo5")
    demo_phone.page.locator("[data-testid=verdict]").first.wait_for()
    demo_phone.page.evaluate(COUNT)
    return demo_phone.page


def test_a_tap_counts_though_the_list_is_drawn_anew_under_the_finger(job_page):
    row = job_page.get_by_test_id("step-before.visual")
    row.evaluate("row => row.scrollIntoView({ block: 'center' })")  # not beneath the bar
    box = row.bounding_box()
    job_page.mouse.move(box["x"] + 40, box["y"] + box["height"] / 2)
    job_page.mouse.down()
    job_page.evaluate(CHANGED)
    job_page.mouse.up()
    job_page.wait_for_selector("html[data-ready$='/before.visual']")


def test_who_reads_further_down_stays_there_when_the_list_is_drawn_anew(job_page):
    job_page.evaluate("scrollTo(0, 300)")
    row = job_page.get_by_test_id("step-signoff").element_handle()
    job_page.evaluate(CHANGED)
    assert not job_page.evaluate("row => row.isConnected", row)  # it was drawn anew
    assert job_page.evaluate("scrollY") == 300
