"""Sixty hostile texts in whatever people type, opened on phone, desk, report and PDF: shown as text, and nothing runs.

The content policy would stop most of what came through, so its complaints count as much as what ran.
"""

from urllib.parse import quote, urlsplit

import pytest

from sync import change, exchange, lookup
from tests.browser.hostile_texts import TEXTS
from tests.browser.shopwork import prepare
from tests.report.test_paper import text_of
from webform.access import Doors
from webform.checklist.check import refusal
from webform.shop import Shop

pytestmark = pytest.mark.browser

VISUAL = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"}
SHORT = 40  # as long as a serial, a truck or a work order may be


def records_with(text, n):
    """(record, answers) of one job with its filter, model, owner, round, people and instrument: this text everywhere."""
    short = text if len(text) <= SHORT else f"S-{n}"
    job = {"filter": f"filter:f{n}", "owner": f"owner:o{n}", "truck": short, "work_order": short, "note": text,
           "before.visual": {**VISUAL, "note": text}, "after.visual": {**VISUAL, "note": text},
           "owner_answer": {"answer": "clean", "said_by": text, "note": text}}
    if n % 2:
        job["signoff"] = {"decision": "hold", "reason": text, "person": f"person:n{n}"}
    return [(f"model:m{n}", {"number": text, "cross": text}), (f"owner:o{n}", {"name": text, "contact": text}),
            (f"person:n{n}", {"name": text, "may_sign": "yes"}), (f"instrument:i{n}", {"name": text, "type": "bench"}),
            (f"filter:f{n}", {"serial": short, "unit_kind": "wall_flow", "model": f"model:m{n}"}), (f"job:j{n}", job),
            (f"round:r{n}", {"job": f"job:j{n}", "treatment": {"method": "air", "minutes": {"n": "9", "u": "min"},
                                                               "note": text}}),
            (f"job:j{n}", {"before.visual": {**VISUAL, "wet": "oil", "note": text}}),  # a second answer: a question
            (f"job:j{n}", {"before.colour": text})]  # held


def write_all(data):
    """The shop with these texts in every record, 60 questions, 60 held changes, 60 phones."""
    prepare(data)
    shop, doors = Shop(data), Doors(data)
    for n, text in enumerate(TEXTS):
        device, _token = doors.redeem(doors.new_code(), text)
        pen = change.Pen(device)
        texts = [change.to_text(change.make_change(pen.next_id(), record, answers, lamport=1, by=f"person:n{n}",
                                                   at="2026-11-25T17:40:00.000Z"))
                 for record, answers in records_with(text, n)]
        receipts = exchange.push(shop.store, device, texts, [change.content_hash(one) for one in texts], refusal)
        assert [receipt["status"] for receipt in receipts] == ["stored"] * 8 + ["held"], (text, receipts)
    assert lookup.held_count(shop.store) == len(shop.two_answers()) == len(TEXTS)
    shop.store.close()


class Watch:
    """Everything that a page does which it should not."""

    def __init__(self, page, url):
        self.page, self.own, self.seen = page, urlsplit(url).netloc, []
        page.on("dialog", lambda dialog: (self.seen.append(dialog.message), dialog.dismiss()))
        page.on("console", lambda line: self.seen.append(line.text) if "Content Security" in line.text else None)
        page.on("request", self._asked)

    def _asked(self, request):
        parts = urlsplit(request.url)
        if "pwned" in parts.path or (parts.netloc != self.own and parts.scheme in ("http", "https")):
            self.seen.append(request.url)

    def shows(self, *texts):
        """The page holds these as texts, and did nothing else."""
        shown = " ".join(self.page.locator("body").text_content().split())
        for text in texts:
            assert " ".join(text.split()) in shown, (self.page.url, text)
        assert self.page.evaluate("'pwned' in window") is False, self.page.url
        assert self.seen == [], self.page.url


def test_the_desk_the_report_and_the_pdf_show_hostile_texts_as_texts(server, office):
    write_all(server.data)
    watch = Watch(office.page, server.url)
    for path in ("", "questions", "held", "phones", "checks", *(f"books?kind={kind}" for kind in
                                                               ("model", "person", "owner", "instrument"))):
        office.page.goto(f"{server.url}/office/{path}")
        watch.shows(*([] if path == "held" else TEXTS))
    for n, text in enumerate(TEXTS):
        for page in (f"jobs/j{n}", f"jobs/j{n}/report"):
            office.page.goto(f"{server.url}/office/{page}")
            watch.shows(text)
        answer = office.page.request.get(f"{server.url}/office/jobs/j{n}/report.pdf")
        assert answer.status == 200 and "".join(text.split()) in "".join(text_of(answer.body()).split()), text
    for text in [one for one in TEXTS if one[0] in "\"'"]:  # what breaks out of an attribute, straight from the address
        for typed in (text, f"{text} unfound"):  # it finds its records, or is told as what was not found
            office.page.goto(f"{server.url}/office/find?text={quote(typed)}")
            watch.shows()
        assert office.page.locator("input[name=text]").input_value() == typed
        watch.shows(typed)


def test_the_phone_shows_hostile_texts_as_texts(server, phone):
    write_all(server.data)
    one = phone("phone")
    watch = Watch(one.page, server.url)
    one.enrol(server.code(), "Ravn")
    one.go("#/people")
    watch.shows(*TEXTS)
    one.go("#/")
    watch.shows(TEXTS[0])  # of the open jobs
    one.go("#/job/job:j0/signoff")
    watch.shows(*TEXTS)  # whoever may sign
    for n, text in enumerate(TEXTS):
        one.go(f"#/job/job:j{n}")
        watch.shows(text)
        for step in ("after.visual", "owner_answer"):
            one.go(f"#/job/job:j{n}/{step}")
            watch.shows()
    for n in range(1, len(TEXTS), 2):
        one.go(f"#/filter/filter:f{n}")
        watch.shows()
