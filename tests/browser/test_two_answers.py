"""Who gives a further answer where two stand has seen both, and replaces those and no other. Readings invented."""

import pytest

from demo.shop import seed
from sync import lookup
from tests.browser.test_two_phones import flow
from webform.shop import Shop

pytestmark = pytest.mark.browser

JOB, FIELD = "job:demo1", "after.flow"


def drops(server):
    """The restrictions that stand."""
    shop = Shop(server.data)
    found = sorted(answer["value"]["drop"]["n"] for answer in lookup.view(shop.store, JOB)["fields"][FIELD]["answers"])
    shop.store.close()
    return found


def test_a_phone_shows_two_answers_before_a_third_takes_their_place(server, two_phones):
    one, two = two_phones
    server.kill()
    flow(one, JOB, "1.79")
    flow(two, JOB, "2.40")
    server.start()
    for phone in (one, two, one):
        phone.sync()
    one.go(f"#/job/{JOB}/{FIELD}")
    card = one.page.get_by_test_id("two-answers")
    told = card.inner_text()
    assert "1.79 inH2O" in told and "2.40 inH2O" in told and "Kim" in told and "Ravn" in told and "{" not in told
    one.fill("field-drop", "1.81")
    two.sync()
    two.go(f"#/job/{JOB}/{FIELD}")
    two.fill("field-drop", "2.60")  # meanwhile, by somebody who has seen both too
    two.save()
    two.sync()
    assert drops(server) == ["2.60"]
    one.save()
    one.sync()
    assert drops(server) == ["1.81", "2.60"]  # what was not on the screen stands, and is asked about
    one.go(f"#/job/{JOB}")
    one.page.locator("[data-testid=verdict][data-verdict=hold]").wait_for()


def test_two_sign_offs_are_shown_before_a_third_takes_their_place(server, demo_phone):
    shop = Shop(server.data)
    for decision, person in (("replace", "person:ravn"), ("clean", "person:kim")):
        shop.write(JOB, {"signoff": {"decision": decision, "person": person, "reason": "as seen"}}, person, {})
    shop.store.close()
    demo_phone.sync()
    demo_phone.go(f"#/job/{JOB}/signoff")
    told = demo_phone.page.get_by_test_id("two-answers").inner_text()
    assert "Replace" in told and "Clean" in told and "Ravn" in told and "Kim" in told and "person:" not in told


def test_where_they_cannot_be_shown_the_third_answer_stands_beside_them(server, phone):
    shop = Shop(server.data)
    seed(shop)
    for drop in ("1.79", "2.40"):
        shop.write(JOB, {FIELD: {"drop": {"n": drop, "u": "inH2O"}, "bench": "good"}}, "person:kim", {})
    shop.store.close()
    before = drops(server)
    one = phone("one", more=["--js-flags=--jitless"])  # WebAssembly cannot start
    one.enrol(server.code(), "Kim")
    one.go(f"#/job/{JOB}/{FIELD}")
    assert "cannot be shown" in one.page.get_by_test_id("two-answers").inner_text()
    one.fill("field-drop", "1.90")
    one.save()
    one.sync()
    assert drops(server) == sorted([*before, "1.90"])
