"""Every address with a phone's credential, with a revoked phone's and with the desk's: each opens its own doors only."""

import re

import pytest

from tests.office.test_access import app, enrolled, office
from webform.access import RULES

__all__ = ["app"]

# Names that exist or could: what stands in the place of <...> in an address.
PLACES = {"job_id": "demo1", "code": "7K3M9QX07", "model": "window", "sha256": "0" * 64, "number": "1", "secret": "0" * 43,
          "name": "app.js", "filename": "desk.css"}


def addresses(app):
    """(rule, method, path) of every address."""
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<(?:\w+:)?(\w+)>", lambda found: PLACES.get(found.group(1), "1"), rule.rule)
        for method in sorted(rule.methods & {"GET", "POST", "PUT"}):
            yield RULES[rule.endpoint], method, path


def statuses(app, client):
    """(rule, method, path) → status and size of what this client gets there."""
    found = {}
    for rule, method, path in addresses(app):
        answer = client.open(path, method=method, json={} if path.startswith("/sync/") else None)
        found[rule, method, path] = (answer.status_code, len(answer.data))
        answer.close()
    assert len(found) > 40
    return found


def test_an_enrolled_phone_opens_the_phones_addresses_and_no_other(app):
    phone, _device = enrolled(app)
    for (rule, method, path), (status, _size) in statuses(app, phone).items():
        if rule in ("office", "auditing"):
            assert status in (302, 401, 403), (method, path, status)
        elif rule in ("phone", "pushing"):
            assert status not in (302, 401) and status < 500, (method, path, status)


def test_a_revoked_phone_may_only_push(app):
    phone, device = enrolled(app)
    app.extensions["doors"].revoke(device)
    for (rule, method, path), (status, _size) in statuses(app, phone).items():
        if rule in ("office", "auditing", "phone"):
            assert status in (302, 401, 403), (method, path, status)
        elif rule == "pushing":
            assert status == 400, "the credential is known, the empty body is refused"


def test_the_desk_is_no_phone(app):
    for (rule, method, path), (status, _size) in statuses(app, office(app)).items():
        if rule in ("phone", "pushing"):
            assert status == 401, (method, path, status)


def test_what_exists_and_what_does_not_look_the_same_to_a_phone(app):
    phone, _device = enrolled(app)
    app.extensions["shop"].write("filter:f", {"serial": "S-1"}, "desk:office", {})
    app.extensions["shop"].write("job:demo1", {"filter": "filter:f"}, "desk:office", {})
    before = statuses(app, phone)
    answers = [phone.get(f"/office/jobs/{name}") for name in ("demo1", "nosuch")]
    assert answers[0].status_code == answers[1].status_code == 302
    there, not_there = (answer.data.replace(name, b"x") for answer, name in zip(answers, (b"demo1", b"nosuch"), strict=True))
    assert there == not_there
    assert before[("office", "POST", "/office/jobs/demo1/report")][0] in (401, 403)


@pytest.mark.parametrize("device", ["", "x", "0" * 43, "phone-0000000000000000"])
def test_a_made_up_credential_opens_nothing(app, device):
    client = app.test_client()
    client.set_cookie("ashbook_phone", device)
    for (rule, method, path), (status, _size) in statuses(app, client).items():
        if rule != "anyone":
            assert status in (302, 401, 403), (method, path, status)
