"""A filter whose old jobs the phone does not carry: shown when there is a connection, said clearly when there is none."""

import pytest

from demo.shop import VISUAL, flow
from sync import change, exchange
from tests.browser.link import Link
from tests.browser.shopwork import prepare
from webform.carrying import RECENT_FILTERS, RECENT_JOBS
from webform.shop import Shop
from webform.trade.tag_code import complete

pytestmark = pytest.mark.browser

TAG = complete("7K3M9QX")


def years_of_work(data):
    """One old, signed job, and after it as much as a phone calls recent. Invented."""
    prepare(data)
    shop, pen = Shop(data), change.Pen("past")
    records = [("filter:old", {"serial": "S-0001", "model": "model:window"}), (f"tag:{TAG}", {"filter": "filter:old"}),
               ("job:old", {"filter": "filter:old", "truck": "HL 42", "before.visual": VISUAL, "after.flow": flow("1.78"),
                            "signoff": {"decision": "hold", "person": "person:kim"}})]
    records += [(f"filter:f{n}", {"serial": f"F-{n}"}) for n in range(RECENT_FILTERS)]
    records += [(f"job:j{n}", {"filter": f"filter:f{n}", "signoff": {"decision": "hold", "person": "person:kim"}})
                for n in range(RECENT_JOBS)]
    texts = [change.to_text(change.make_change(pen.next_id(), record, answers, lamport=1, at="2025-11-25T17:40:00.000Z",
                                               by="person:kim")) for record, answers in records]
    receipts = exchange.push(shop.store, "past", texts, [change.content_hash(text) for text in texts])
    assert {receipt["status"] for receipt in receipts} == {"stored"}
    shop.store.close()


def test_an_old_filter_is_fetched_when_it_is_opened_and_its_absence_is_said_without_a_connection(server, phone):
    years_of_work(server.data)
    link = Link(server.port)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    one.page.get_by_test_id("job-link").first.wait_for()
    link.turn("refuse")
    one.page.evaluate("location.hash = '#/tag/" + TAG + "'")  # the tag is carried: it leads to the filter
    one.page.get_by_test_id("not-here").wait_for()
    assert "no connection" in one.page.get_by_test_id("not-here").inner_text().lower()
    assert one.page.get_by_test_id("new-job").is_visible()  # work can go on
    link.turn("up")
    one.tap("fetch-again")
    one.page.get_by_role("heading", name="S-0001").wait_for()
    one.page.locator("a[href='#/job/job:old']").click()
    one.page.get_by_test_id("step-after.flow").wait_for()
    assert "1.78 inH2O" in one.page.get_by_test_id("step-after.flow").inner_text()
    link.turn("refuse")
    one.go("#/job/job:old")  # it is carried now
    assert "done" in one.page.get_by_test_id("step-before.visual").inner_text()
    link.close()
