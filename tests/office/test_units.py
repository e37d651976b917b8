"""The desk picks the units that the shop reads in: the form, every page that follows, and what does not move.

Readings invented; figures in other units by hand with NIST SP 811 (2008), Appendix B.8.
"""

import re

import pytest

from sync import lookup
from sync.log import Unavailable
from tests.office.test_access import app, office, token  # noqa: F401
from tests.office.test_own import accepted, number
from webform.shop import Shop, standing_ids

FORM = "/office/books?kind=shop&open=shop:rules"


@pytest.fixture
def desk(app):  # noqa: F811
    """A signed-in desk whose shop has one accepted filter of a model with a window."""
    shop, client = app.extensions["shop"], office(app)
    spec = {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
            "origin": "invented", "revision": "A"}
    shop.write("model:m", {"number": "HL-290", "depth": number("290", "mm"), "spec": spec}, "desk:office", {})
    shop.write("person:kim", {"name": "Kim", "may_sign": "yes"}, "desk:office", {})
    shop.write("shop:rules", {"name": "Harbour Lane Filters (invented)"}, "desk:office", {})
    accepted(shop, 1, "1.78")
    return client


def pick(client, **units):
    """Sends the form of units as the page holds it."""
    page = client.get(FORM).text
    form = next(part for part in re.findall(r"<form.*?</form>", page, re.S) if 'name="step" value="units"' in part)
    held = dict(re.findall(r'<input type="hidden" name="((?:units:|csrf_|record)[^"]*)" value="([^"]*)"', form))
    sent = {**held, "step": "units", **{"units:value." + name: unit for name, unit in units.items()}}
    return client.post("/office/books", data=sent)


def told(shop):
    """Restriction and weight in the sentences of the job."""
    texts = shop.job_state("job:1")["after"]["texts"]
    return " ".join(text for part in texts.values() for text in part)


def test_the_desk_picks_units_and_every_page_follows(app, desk):  # noqa: F811
    shop = app.extensions["shop"]
    assert "Restriction 1.78 inH2O is within" in told(shop)
    answer = pick(desk, pressure="mbar", mass="lb")
    assert answer.status_code == 302
    # 1.78 x 249.08891 = 443.38 Pa; the guarded end 2.00 - 1.645 x 0.05 = 1.91775 inH2O = 477.69 Pa
    assert ("Restriction 4.43 mbar is within the window of 3.99 mbar to 4.98 mbar, "
            "0.34 mbar below the guarded end of 4.78 mbar") in told(shop)
    job, report = desk.get("/office/jobs/1").text, desk.get("/office/jobs/1/report").text
    for page in (job, report):
        assert "Restriction 4.43 mbar" in page and "1.78 inH2O" in page  # read in the shop's unit, typed as it was typed
    assert "S-1</a>: 4.43 mbar" in desk.get("/office/own/model:m").text
    page = desk.get(FORM).text
    assert "Restriction mbar · Weight lb" in page


def test_an_empty_number_at_the_desk_begins_with_the_shop_s_unit(app, desk):  # noqa: F811
    pick(desk, pressure="inH2O (60 °F)", mass="lb", length="in", flow="m³/h")
    page = desk.get("/office/books?kind=model&open=model:m").text

    def unit(name):
        return re.search(rf'<select name="[a-z]+:unit.{name}".*?<option selected>([^<]+)</option>', page, re.S).group(1)

    assert (unit("clean_mass"), unit("flow"), unit("long")) == ("lb", "m³/h", "in")
    assert (unit("depth"), unit("low")) == ("mm", "inH2O")  # these were typed, and keep their own
    assert 'name="spec:unit.air_pressure"' in page
    assert not re.search(r'name="spec:unit.air_pressure".{0,60}selected', page, re.S)


def test_a_change_of_units_moves_no_verdict_no_basis_and_recalls_no_report(app, desk):  # noqa: F811
    shop = app.extensions["shop"]
    before = shop.read_job("job:1")[1]
    assert before["may_issue"]
    page = desk.get("/office/jobs/1/report").text
    sent = {"csrf_token": token(desk, "/office/jobs/1/report"),
            "answers": re.search(r'name="answers" value="(\w+)"', page).group(1)}
    issued = desk.post("/office/jobs/1/report", data=sent).headers["Location"]
    frozen = desk.get(issued).text
    assert "Restriction 1.78 inH2O" in frozen
    pick(desk, pressure="kPa", mass="lb", length="in", temperature="°F")
    after = shop.read_job("job:1")[1]
    unmoved = ("verdict", "calculated", "is_close", "why", "two_answers", "signoff", "may_issue", "evidence", "rules")
    assert {name: after[name] for name in unmoved} == {name: before[name] for name in unmoved}
    for part in ("reasons", "findings", "missing", "settle"):
        assert after["after"][part] == before["after"][part]
    assert shop.issued.recalled() == [] and shop.issued.of_job("job:1")[0]["is_recalled"] == 0
    again = desk.get(issued).text
    assert "Restriction 1.78 inH2O" in again and "kPa" not in again and "Recalled" not in again
    assert "Restriction 0.443 kPa" in desk.get("/office/jobs/1/report").text  # a report that is made now reads in kPa


def test_each_pick_is_a_revision_and_clearing_it_goes_back_to_the_usual(app, desk):  # noqa: F811
    shop = app.extensions["shop"]
    pick(desk, pressure="kPa")
    pick(desk, pressure="Pa")
    assert "Restriction 443 Pa is within" in told(shop)
    assert pick(desk).status_code == 302  # the whole form sent empty
    view = lookup.view(shop.store, "shop:rules")
    assert view["fields"]["units"]["used"] == {} and len(standing_ids(view, "units")) == 1
    assert "Restriction 1.78 inH2O is within" in told(shop)
    changes = [entry["change"]["set"] for entry in lookup.history(shop.store, "shop:rules")]
    assert [given["units"] for given in changes if "units" in given] == [{"pressure": "kPa"}, {"pressure": "Pa"}, {}]


def test_a_unit_that_is_not_offered_is_refused(app, desk):  # noqa: F811
    assert pick(desk, pressure="furlong").status_code == 422
    assert pick(desk, pressure="lb").status_code == 422
    assert "Restriction 1.78 inH2O is within" in told(app.extensions["shop"])


def test_sending_a_form_unchanged_writes_nothing(app, desk):  # noqa: F811
    shop = app.extensions["shop"]
    pick(desk, pressure="kPa")
    place = shop.store.counter()["position"]
    assert pick(desk, pressure="kPa").status_code == 302
    assert shop.store.counter()["position"] == place


def test_the_sign_in_page_is_drawn_while_the_books_cannot_be_read(app, monkeypatch):  # noqa: F811
    def fails(_self):
        raise Unavailable("no database")

    monkeypatch.setattr(Shop, "words", fails)
    assert app.test_client().get("/office/login").status_code == 200
