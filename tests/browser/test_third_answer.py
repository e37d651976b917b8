"""A third answer comes in between the desk's page and the click on it: only what was seen is settled, the rest is asked.

The desk in Chromium over a real server; the phones are the Python client, which passes the cases that the phone's app
passes (test_protocol_cases.py). The demo's shop; readings invented.
"""

import pytest

from demo.shop import seed
from sync import lookup
from sync.client import Client, http_post
from tests.keeping.test_served import enrolled
from webform.shop import Shop

pytestmark = pytest.mark.browser

JOB, FIELD = "job:demo1", "after.flow"


@pytest.fixture
def three_phones(server, tmp_path):
    """Three phones that have all of the shop; what each writes from here on, none of the others has seen."""
    shop = Shop(server.data)
    seed(shop)
    shop.store.close()
    phones = []
    for number in range(3):
        device, cookie = enrolled(server)
        phones.append(Client(f"{tmp_path}/{number}.db", device, http_post(server.url + "/sync", cookie)))
        phones[-1].sync()
    yield phones
    for one in phones:
        one.close()


def measure(phone, drop, person):
    """A restriction in the place of what stands on this phone's screen."""
    phone.write(JOB, {FIELD: {"bench": "good", "drop": {"n": drop, "u": "inH2O"}}}, person)


def drops(server):
    """(restrictions that stand, restrictions that were ever entered, how many changes there are, the verdict)."""
    shop = Shop(server.data)
    standing = [answer["value"]["drop"]["n"] for answer in lookup.view(shop.store, JOB)["fields"][FIELD]["answers"]]
    entered = [entry["change"]["set"][FIELD]["drop"]["n"] for entry in lookup.history(shop.store, JOB)
               if FIELD in entry["change"]["set"]]
    position, verdict = shop.store.counter()["position"], shop.job_state(JOB)["verdict"]
    shop.store.close()
    return sorted(standing), sorted(entered), position, verdict


def shown(office):
    """The restrictions that the one question offers."""
    question = office.page.get_by_test_id("question")
    assert question.count() == 1
    texts = question.locator(".answer").all_inner_texts()
    return [drop for drop in ("1.78", "1.79", "2.40", "2.50", "2.60", "3.10") for text in texts if drop + " inH2O" in text]


def pick(office, drop):
    """The click, and the page that it leads to."""
    answer = office.page.locator(".answer").filter(has_text=drop + " inH2O")
    with office.page.expect_navigation():
        answer.get_by_test_id("pick").click()


def test_a_third_answer_that_came_after_the_page_was_drawn_stays_and_is_asked_and_all_stay_in_the_history(
        server, three_phones, office):
    for phone, drop, person in zip(three_phones, ("1.79", "2.40", "3.10"), ("kim", "ravn", "alex"), strict=True):
        measure(phone, drop, f"person:{person}")
    for phone in three_phones[:2]:
        phone.push()
    office.page.goto(server.url + "/office/questions")
    assert shown(office) == ["1.79", "2.40"]
    three_phones[2].push()  # the page stands open meanwhile
    pick(office, "1.79")
    standing, _entered, _position, verdict = drops(server)
    assert standing == ["1.79", "3.10"], "the click settled what it had not shown"
    assert verdict == "hold" and shown(office) == ["1.79", "3.10"]  # asked at once, on the page that the click leads to
    pick(office, "3.10")
    assert office.page.get_by_test_id("question").count() == 0
    standing, entered, _position, _verdict = drops(server)
    assert standing == ["3.10"] and entered == ["1.78", "1.79", "1.79", "2.40", "3.10", "3.10"]
    office.page.goto(server.url + "/office/jobs/demo1")
    for drop in ("1.78", "1.79", "2.40", "3.10"):  # those that lost are in the history
        assert drop + " inH2O" in office.page.content()


def test_a_click_on_answers_of_which_one_was_replaced_meanwhile_is_refused_with_a_sentence(server, three_phones, office):
    one, two, three = three_phones
    measure(one, "1.79", "person:kim")
    measure(two, "2.40", "person:ravn")
    one.push()
    two.push()
    # the first click takes what was replaced; the second what still stands, and was picked from among others
    for clicked, seen, corrected in (("2.40", "2.40", "2.50"), ("1.79", "2.50", "2.60")):
        office.page.goto(server.url + "/office/questions")
        assert shown(office) == ["1.79", seen]
        measure(two, corrected, "person:ravn")
        two.push()
        before = drops(server)
        assert before[0] == ["1.79", corrected]
        pick(office, clicked)
        assert "Somebody was quicker" in office.page.locator("body").inner_text() and drops(server) == before
    three.sync()
    measure(three, "3.10", "person:alex")  # who has seen both, and settles it on his phone
    three.push()
    office.page.goto(server.url + "/office/questions")
    assert office.page.get_by_test_id("question").count() == 0 and drops(server)[0] == ["3.10"]
