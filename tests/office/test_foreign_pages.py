"""What a foreign page could send with a person's cookies, to every address that changes something: nothing happens."""

import re

import pytest

from tests.office.test_access import app, enrolled, office, token  # noqa: F401
from webform.access import RULES

CHANGING = {"POST", "PUT", "PATCH", "DELETE"}
FOREIGN = ({"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site"},
           {"Sec-Fetch-Site": "same-site"})
FORM = "application/x-www-form-urlencoded"


def addresses(made):
    """(method, path, endpoint) of whatever changes something."""
    return [(method, re.sub(r"<[^>]+>", "x", rule.rule), rule.endpoint) for rule in made.url_map.iter_rules()
            for method in sorted(rule.methods & CHANGING)]


def all_of(made):
    """What could have been changed."""
    store = made.extensions["shop"].store
    return store.counter(), made.extensions["doors"].read(), store.rows("SELECT count(*) FROM held")


@pytest.mark.parametrize("headers", FOREIGN, ids=str)
def test_no_address_takes_anything_from_a_foreign_page(app, headers):  # noqa: F811
    """The person is signed in, the phone enrolled, and the foreign page has even got hold of the token."""
    desk, (phone, _device) = office(app), enrolled(app)
    given = {"csrf_token": token(desk, "/office/phones")}
    before, tried = all_of(app), addresses(app)
    assert len(tried) > 15
    for method, path, endpoint in tried:
        client, sent = (phone, {"json": {}}) if endpoint.startswith("wire.") else (desk, {"data": given})
        if RULES[endpoint] == "phone":
            client = phone
        answer = client.open(path, method=method, headers=headers, **sent)
        assert answer.status_code == 403, (method, path, answer.status_code)
    assert all_of(app) == before


def test_no_form_of_the_desk_works_without_the_token_of_its_session(app):  # noqa: F811
    desk, other = office(app), office(app)
    theirs, before = token(other, "/office/phones"), all_of(app)
    forms = [(method, path) for method, path, endpoint in addresses(app) if RULES[endpoint] == "office"]
    assert len(forms) > 8
    for method, path in forms:
        for data in ({}, {"csrf_token": ""}, {"csrf_token": theirs}):
            assert desk.open(path, method=method, data=data).status_code == 403, (path, data)
    assert all_of(app) == before


def test_the_wire_takes_no_form_and_no_plain_text(app):  # noqa: F811
    phone = enrolled(app)[0]
    before = all_of(app)
    posts = [path for method, path, endpoint in addresses(app) if endpoint.startswith("wire.") and
             RULES[endpoint] in ("phone", "pushing", "anyone")]
    assert len(posts) == 4
    for path in posts:
        for kind in (FORM, "text/plain", "multipart/form-data", ""):
            assert phone.post(path, data=b"{}", content_type=kind).status_code == 415, (path, kind)
    assert all_of(app) == before
