"""Two tabs of the app over one book, in one Chromium: both work, one sends at a time, and an old one beside a newer app.

Readings invented.
"""

import itertools

import pytest

from sync import lookup
from tests.browser.conftest import Phone
from tests.browser.newer import newer_tree
from tests.browser.test_full_phone import Quota, on_screen, refused
from webform.shop import Shop

pytestmark = pytest.mark.browser

ROUNDS = 5
# When each request of the exchange began and ended, in milliseconds that are the same in every tab.
RECORD = """(() => { const ask = window.fetch; window.exchanges = []; window.fetch = async (path, ...more) => {
  const at = () => performance.timeOrigin + performance.now(), from = at();
  try { return await ask(path, ...more); }
  finally { if (String(path).startsWith("/sync/p")) window.exchanges.push([from, at()]); } }; })();"""


class Tab(Phone):
    """One more tab of a phone's browser, driven as a phone is."""

    def __init__(self, phone, path="/phone/"):
        self.page = phone.context.new_page()
        self.page.set_default_timeout(15000)
        self.page.goto(phone.url + path)
        self.page.wait_for_selector("html[data-ready]")


def weigh(tab, job, grams):
    """Types a weight; what the tap on Save brings is in window.answer."""
    tab.go(f"#/job/{job}/after.weight")
    tab.fill("field-mass", str(grams))
    tab.listen()


def test_two_tabs_both_work_and_one_sends_at_a_time(server, demo_phone):
    server.kill()
    demo_phone.context.add_init_script(RECORD)
    demo_phone.page.reload()
    demo_phone.page.wait_for_selector("html[data-ready]")
    tabs = [demo_phone, Tab(demo_phone)]
    server.start()
    jobs = ("job:demo5", "job:demo1")
    for number in range(ROUNDS):
        for place, (tab, job) in enumerate(zip(tabs, jobs, strict=True)):
            weigh(tab, job, 14000 + 10 * number + place)
        for tab in tabs:  # all of them at once: the taps only begin it, and each tab may send what all have written
            tab.page.evaluate("""() => { document.querySelector('[data-testid=save]').click();
              dispatchEvent(new Event('online')); }""")
        for tab in tabs:
            assert tab.answer() == "Saved on this phone"
    for tab in tabs:
        # again and again: a tab that finds the other one sending leaves it to the next time, half a minute later
        tab.page.evaluate("""() => { setInterval(() => dispatchEvent(new Event('online')), 300); }""")
    for tab in tabs:
        tab.page.wait_for_selector("#status[data-waiting='0']")
    spans = sorted(span for tab in tabs for span in tab.page.evaluate("() => window.exchanges"))
    assert len({number for number, tab in enumerate(tabs) if tab.page.evaluate("() => window.exchanges.length")}) >= 2
    for (_, ended), (begun, _) in itertools.pairwise(spans):
        assert ended <= begun, spans
    shop = Shop(server.data)
    stored = {job: [entry["change"]["set"]["after.weight"]["mass"]["n"] for entry in lookup.history(shop.store, job)
                    if entry["device"].startswith("phone-")] for job in jobs}
    assert stored == {job: [str(14000 + 10 * number + place) for number in range(ROUNDS)] for place, job in enumerate(jobs)}
    assert shop.two_answers() == []
    shop.store.close()


def test_what_a_full_phone_refused_in_one_tab_is_not_laid_over_what_another_tab_kept_or_saved_later(server, demo_phone):
    step = "#/job/job:demo1/after.weight"
    quota = Quota(demo_phone, server)
    quota.leave(-1_000_000, step)
    other = Tab(demo_phone)
    assert refused(demo_phone, lambda: demo_phone.fill("field-mass", "14001")).startswith("NOT SAVED")
    demo_phone.go("#/job/job:demo1")
    row = demo_phone.page.get_by_test_id("step-after.weight")
    assert "half filled" in row.inner_text()  # the list says so, as of any draft
    quota.free()
    weigh(other, "job:demo1", 14002)
    demo_phone.page.wait_for_selector("#status[data-drafts='1']")  # the tabs tell each other
    demo_phone.go(step)
    assert "14002" in on_screen(demo_phone, "mass")
    other.pick("field-temperature-cold", "field-moisture-dry")
    other.save()
    demo_phone.page.wait_for_selector("#status[data-drafts='0']")
    demo_phone.go(step)
    assert "14002" in on_screen(demo_phone, "mass") and demo_phone.page.get_by_test_id("restored").count() == 0


def test_an_old_tab_neither_blocks_a_newer_app_nor_loses_what_is_typed(server, demo_phone, tmp_path):
    old = Tab(demo_phone)
    weigh(old, "job:demo1", 15000)  # half a form stands in the old tab
    old.page.wait_for_selector("#status[data-drafts='1']")
    server.root = newer_tree(tmp_path / "newer")
    server.kill()
    server.start()
    demo_phone.page.reload()
    demo_phone.page.get_by_test_id("update").click()
    demo_phone.page.wait_for_selector("html[data-app=newer][data-ready]")
    demo_phone.page.wait_for_selector("#status[data-drafts='1']")  # the newer book is open and has the old one's draft
    old.listen()
    old.page.get_by_test_id("save").click()
    assert old.answer().startswith("NOT SAVED: a newer version")
    assert old.page.get_by_test_id("field-mass").input_value() == "15000"
    old.page.get_by_test_id("update").click()
    old.page.wait_for_selector("html[data-app=newer][data-ready='#/job/job:demo1/after.weight']")
    assert old.page.get_by_test_id("field-mass").input_value() == "15000"
    old.listen()
    old.page.get_by_test_id("save").click()
    assert old.answer() == "Saved on this phone"
    for tab in (old, demo_phone):
        tab.page.wait_for_selector("#status[data-waiting='1'][data-drafts='0']")
