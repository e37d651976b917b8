"""The rule table at the desk: every row as it is in use, and who set what, when and why. All settings invented."""

import html
import re

from sync import lookup
from tests.office.test_access import app, office  # noqa: F401
from webform.shop import standing_ids
from webform.trade.rules import START, rows_of


def number(text, unit=""):
    return {"n": text, "u": unit}


def rows(page):
    """{id: the texts of a row's cells}."""
    found = re.findall(r'<tr id="(R\d+)"[^>]*>(.*?)</tr>', page, re.DOTALL)
    return {row: [html.unescape(re.sub(r"<[^>]+>", " ", cell)).split()
                  for cell in re.findall(r"<t[hd].*?</t[hd]>", cells, re.DOTALL)] for row, cells in found}


def test_every_row_is_read_with_its_words_its_limit_and_where_that_comes_from(app):  # noqa: F811
    page = office(app).get("/office/rules").text
    found = rows(page)
    assert list(found) == [row["id"] for row in rows_of(START)]
    for row in rows_of(START):
        assert " ".join(found[row["id"]][1]) == row["words"]
    assert found["R3"][2] == ["20"] and found["R15"][2] == ["20", "g"] and found["R1"][2] == []
    assert " ".join(found["R3"][3]) == "common practice, no published source"
    assert " ".join(found["R15"][3]) == "a starting value, no published source"
    assert "This shop has set no threshold of its own" in page and f"In use: {START['revision']}." in page


def test_what_the_shop_set_stands_there_with_who_when_and_why_and_names_the_revision_of_the_verdicts(app):  # noqa: F811
    shop, client = app.extensions["shop"], office(app)
    shop.write("shop:rules", {"rules": {"lit_cells": number("12"), "why": "an owner's fleet asks for it"}}, "desk:office", {})
    first = standing_ids(lookup.view(shop.store, "shop:rules"), "rules")
    own = {"lit_cells": number("10"), "worth_g": number("30", "g"), "why": "a <b>slow</b> oven"}
    shop.write("shop:rules", {"rules": own}, "desk:office", {"rules": first})
    shop.write("filter:f", {"unit_kind": "wall_flow"}, "desk:office", {})
    shop.write("job:j", {"filter": "filter:f"}, "desk:office", {})
    page = client.get("/office/rules").text
    found = rows(page)
    assert found["R3"][2] == ["10", "starting", "value", "20"]
    assert found["R15"][2] == ["30", "g", "starting", "value", "20", "g"]
    assert " ".join(found["R3"][3]) == "a limit that this shop has set, no published source"
    assert f"In use: {shop.job_state('job:j')['rules']}." in page
    settings = page.partition('data-testid="settings"')[2]
    assert settings.index("a &lt;b&gt;slow&lt;/b&gt; oven") < settings.index("an owner&#39;s fleet asks for it")
    assert settings.count('<p class="who">Office') == 2


def test_two_settings_at_the_same_time_are_said(app):  # noqa: F811
    shop, client = app.extensions["shop"], office(app)
    for cells in ("10", "14"):
        shop.write("shop:rules", {"rules": {"lit_cells": number(cells), "why": "two at once"}}, "desk:office", {})
    page = client.get("/office/rules").text
    assert rows(page)["R3"][2][0] == "10"  # the stricter one holds meanwhile
    assert 'class="hold"><b>' in page and 'href="/office/questions"' in page.partition("<h1>")[2]


def test_the_table_is_found_from_the_shops_books_and_from_a_verdicts_arithmetic(app):  # noqa: F811
    shop, client = app.extensions["shop"], office(app)
    assert 'href="/office/rules"' in client.get("/office/books?kind=shop").text
    shop.write("filter:f", {"unit_kind": "wall_flow"}, "desk:office", {})
    shop.write("job:j", {"filter": "filter:f", "before.light": {"kind": "cells", "lit": "over_20"}}, "desk:office", {})
    assert '<a href="/office/rules#R3">R3</a>' in client.get("/office/jobs/j").text
