"""A third answer comes in between the desk's page and the click on it: only what was seen is settled, the rest is asked.

Three phones in Chromium, the desk in another, the demo's shop; readings invented.
"""

import pytest

from sync import lookup
from tests.browser.test_two_phones import flow
from webform.shop import Shop

pytestmark = pytest.mark.browser

JOB, FIELD = "job:demo1", "after.flow"


@pytest.fixture
def three_phones(server, two_phones, phone):
    """Kim's, Ravn's and Alex's; what each writes from here on, none of the others has seen."""
    third = phone("three")
    third.enrol(server.code(), "Alex")
    phones = (*two_phones, third)
    for each in phones:
        each.context.set_offline(True)
    return phones


def send(phone):
    phone.context.set_offline(False)
    phone.sync()


def drops(server):
    """(restrictions that stand, restrictions that were ever entered, how many changes there are)."""
    shop = Shop(server.data)
    standing = [answer["value"]["drop"]["n"] for answer in lookup.view(shop.store, JOB)["fields"][FIELD]["answers"]]
    entered = [entry["change"]["set"][FIELD]["drop"]["n"] for entry in lookup.history(shop.store, JOB)
               if FIELD in entry["change"]["set"]]
    position = shop.store.counter()["position"]
    shop.store.close()
    return sorted(standing), sorted(entered), position


def question(office):
    """The one question, with the answers it shows."""
    found = office.page.get_by_test_id("question")
    assert found.count() == 1
    return found


def shown(office):
    return [answer.inner_text().split(" inH2O")[0].split()[-1] for answer in question(office).locator(".answer").all()]


def pick(office, drop):
    question(office).locator(".answer").filter(has_text=drop + " inH2O").get_by_test_id("pick").click()
    office.page.wait_for_load_state()


def test_a_third_answer_that_came_after_the_page_was_drawn_stays_and_is_asked_and_all_stay_in_the_history(
        server, three_phones, office):
    one, two, three = three_phones
    for each, drop in ((one, "1.79"), (two, "2.40"), (three, "3.10")):
        flow(each, JOB, drop)
    send(one)
    send(two)
    office.page.goto(server.url + "/office/questions")
    assert sorted(shown(office)) == ["1.79", "2.40"]
    send(three)  # the page stands open meanwhile
    pick(office, "1.79")
    standing, entered, _position = drops(server)
    assert standing == ["1.79", "3.10"], "the click settled what it had not shown"
    assert sorted(shown(office)) == ["1.79", "3.10"]  # and is asked at once, on the page that the click leads to
    one.sync()
    one.go("#/job/" + JOB)
    one.page.locator("[data-testid=verdict][data-verdict=hold]").wait_for()
    pick(office, "3.10")
    assert office.page.get_by_test_id("question").count() == 0
    standing, entered, _position = drops(server)
    assert standing == ["3.10"] and entered == sorted(["1.78", "1.79", "1.79", "2.40", "3.10", "3.10"])
    office.page.goto(server.url + "/office/jobs/demo1")
    for drop in ("1.78", "1.79", "2.40", "3.10"):  # those that lost are in the history
        assert drop + " inH2O" in office.page.content()


def test_a_click_on_answers_of_which_one_was_corrected_meanwhile_is_refused_with_a_sentence(server, three_phones, office):
    one, two, _three = three_phones
    flow(one, JOB, "1.79")
    flow(two, JOB, "2.40")
    send(one)
    send(two)
    office.page.goto(server.url + "/office/questions")
    assert sorted(shown(office)) == ["1.79", "2.40"]
    flow(two, JOB, "2.50")  # Ravn has both on his screen by now: it replaces both
    two.sync()
    before = drops(server)
    assert before[0] == ["2.50"]
    pick(office, "1.79")
    assert "Somebody was quicker" in office.page.locator("body").inner_text() and drops(server) == before
    office.page.goto(server.url + "/office/questions")
    assert office.page.get_by_test_id("question").count() == 0
