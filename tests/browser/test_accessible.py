"""Axe's rules for WCAG 2.0 to 2.2, A and AA, on every screen of the phone and every page of the desk, light and dark."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from webform.checklist.declaration import READINGS
from webform.shop import Shop
from webform.trade.tag_code import complete

pytestmark = pytest.mark.browser

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
PHONE = ("#/", "#/type", "#/people", "#/waiting", "#/oven", "#/checks", "#/check/bench_check/instrument:bench",
         "#/tag/{tag}", "#/checkin/{tag}", "#/job/{job}", "#/job/{job}/facts", "#/job/{job}/signoff",
         "#/job/{job}/owner_answer", *(f"#/job/{{job}}/after.{name}" for name in READINGS),
         "#/job/{job}/round/round:new/treatment", "#/job/{job}/round/round:new/weight")
DESK = ("/", "/office/", "/office/jobs/{job}", "/office/jobs/{job}/report", "/office/questions", "/office/held",
        "/office/phones", "/office/phones/file", "/r/no-such-link", "/office/books", "/office/books?kind=instrument",
        "/office/labels", "/office/find")


def broken(page):
    found = Axe().run(page, options=RULES).response["violations"]
    return [(entry["id"], [node["target"] for node in entry["nodes"]][:3]) for entry in found]


def test_every_screen_of_the_phone_keeps_the_rules(two_phones):
    one, _two = two_phones
    for scheme in ("light", "dark"):
        one.page.emulate_media(color_scheme=scheme)
        for path in PHONE:
            one.go(path.format(job="job:demo5", tag=complete("0000000")))
            assert broken(one.page) == [], (scheme, path)


def ask(server):
    """A shop in which something waits for a person: a void beside an edit, a second open job, a sign-off to renew."""
    shop = Shop(server.data)
    shop.write("job:again", {"filter": "filter:demo2"}, "person:ravn", {})
    shop.write("job:demo1", {"void": {"state": "void", "reason": "twice"}}, "desk:office", {}, {"evidence": {}})
    shop.write("job:demo4", {"signoff": {"decision": "clean", "person": "person:alex"}}, "person:alex", {})
    shop.judging.catch_up()
    shop.store.close()


def test_every_page_of_the_desk_keeps_the_rules(server, two_phones, office):
    ask(server)
    office.page.goto(office.url + "/office/questions")
    assert [office.page.get_by_test_id(f"asked-{name}").count() for name in ("void", "stay", "sign")] == [1, 1, 1]
    for scheme in ("light", "dark"):
        office.page.emulate_media(color_scheme=scheme)
        for path in DESK:
            office.page.goto(office.url + path.format(job="job:demo5", tag=complete("0000000")))
            assert broken(office.page) == [], (scheme, path)


def test_the_enrolment_screen_keeps_the_rules(server, phone):
    assert broken(phone("new").page) == []
