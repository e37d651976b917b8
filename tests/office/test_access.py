"""One table of route × role over the app's own routes; nobody comes in by another door."""

import re

import pytest

from sync.link import basic
from webform.access import CONTENT_POLICY, RULES


@pytest.fixture
def app(bare_app):
    return bare_app


def token(client, path="/office/login"):
    return re.search(r'csrf_token" value="([^"]+)', client.get(path).text).group(1)


def office(app):
    client = app.test_client()
    answer = client.post("/office/login", data={"csrf_token": token(client), "name": "office", "password": "harbour"})
    assert answer.status_code == 302
    return client


def enrolled(app):
    client = app.test_client()
    answer = client.post("/sync/enrol", json={"code": app.extensions["doors"].new_code(), "name": "test"})
    assert answer.status_code == 200
    return client, answer.json["device"]


def test_every_route_has_a_rule_and_every_rule_a_route(app):
    assert {rule.endpoint for rule in app.url_map.iter_rules()} == set(RULES)


def test_a_route_without_a_rule_is_refused(app):
    app.add_url_rule("/new", "new", lambda: "open")
    assert app.test_client().get("/new").status_code == 403


def test_strangers_reach_only_what_anyone_may(app):
    client = app.test_client()
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<[^>]+>", "x", rule.rule)
        for method in rule.methods & {"GET", "POST"}:
            answer = client.open(path, method=method, json={} if path.startswith("/sync/") else None)
            status = answer.status_code
            answer.close()
            if RULES[rule.endpoint] != "anyone":
                assert status in (302, 401, 403), (path, method, status)


def test_every_answer_carries_the_content_policy(app):
    client = office(app)
    for path in ("/", "/office/", "/office/phones", "/office/books", "/nowhere", "/static/desk.css"):
        answer = client.get(path)
        text = answer.text
        answer.close()
        assert answer.headers["Content-Security-Policy"] == CONTENT_POLICY
        assert "unsafe-inline" not in CONTENT_POLICY
        if answer.mimetype == "text/html":
            assert not re.search(r"<script(?![^>]*src)|\sstyle=|\son\w+=", text)


def test_a_form_without_its_token_or_from_elsewhere_changes_nothing(app):
    client = office(app)
    good = token(client, "/office/phones")
    for data, headers in (({}, {}), ({"csrf_token": "x"}, {}), ({"csrf_token": good}, {"Sec-Fetch-Site": "cross-site"}),
                          ({"csrf_token": good}, {"Origin": "https://elsewhere.example"})):
        assert client.post("/office/phones", data=data, headers=headers).status_code == 403
    assert app.extensions["doors"].read()["codes"] == {}
    assert client.post("/office/phones", data={"csrf_token": good}).status_code == 200


def test_the_wire_takes_json_only(app):
    client, _device = enrolled(app)
    assert client.post("/sync/pull", data="{}", content_type="text/plain").status_code == 415
    assert client.post("/sync/pull", json={"cursor": None}).status_code == 200


def test_an_enrolment_code_works_once(app):
    code = app.extensions["doors"].new_code()
    assert app.test_client().post("/sync/enrol", json={"code": code, "name": "a"}).status_code == 200
    assert app.test_client().post("/sync/enrol", json={"code": code, "name": "b"}).status_code == 403


def test_guessing_codes_is_stopped(app):
    client = app.test_client()
    found = [client.post("/sync/enrol", json={"code": f"WRONG{n}", "name": "x"}).status_code for n in range(12)]
    assert found[:10] == [403] * 10
    assert found[10:] == [429] * 2


def test_the_device_cookie_is_out_of_reach_of_scripts_and_kept_only_as_a_hash(app):
    answer = app.test_client().post("/sync/enrol", json={"code": app.extensions["doors"].new_code(), "name": "a"},
                                    base_url="https://shop.test")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-") and "HttpOnly" in cookie and "Secure" in cookie and "SameSite=Strict" in cookie
    secret = cookie.split("=", 1)[1].split(";")[0]
    assert secret not in app.extensions["doors"].path.read_text()


def test_a_revoked_phone_is_out_but_what_it_pushes_is_held(app):
    client, device = enrolled(app)
    app.extensions["doors"].revoke(device)
    assert client.post("/sync/pull", json={"cursor": None}).status_code == 401
    answer = client.post("/sync/push", json={"schema": 1, "changes": ["{}"], "hashes": ["0" * 32]})
    assert answer.json["receipts"][0]["reason"] == "device_revoked"


def test_a_pin_is_kept_as_a_derived_key(app):
    client = office(app)
    data = {"csrf_token": token(client, "/office/books"), "step": "pin", "record": "person:kim", "pin": "4711"}
    assert client.post("/office/books", data=data).status_code == 302
    assert client.post("/office/books", data={**data, "pin": "x"}).status_code == 422


def test_the_raw_log_is_the_offices_and_no_phones(app):
    everything = {"cursor": None}
    phone, device = enrolled(app)
    assert phone.post("/sync/changes", json=everything).status_code == 401
    app.extensions["doors"].revoke(device)
    assert phone.post("/sync/changes", json=everything).status_code == 401
    assert office(app).post("/sync/changes", json=everything).json["changes"] == []
    program = app.test_client()
    for wrong in (("office", "x"), ("kim", "harbour"), ("", "")):
        assert program.post("/sync/changes", json=everything, auth=wrong).status_code == 401
    assert program.post("/sync/changes", json=everything, headers={"Authorization": "Bearer harbour"}).status_code == 401
    assert program.post("/sync/changes", json=everything, headers=basic("office", "harbour")).status_code == 200
    assert program.get("/office/", auth=("office", "harbour")).status_code == 302  # the desk's pages take no password so


def test_guessing_the_password_of_the_raw_log_is_stopped(app):
    program = app.test_client()
    found = [program.post("/sync/changes", json={"cursor": None}, auth=("office", f"wrong{n}")).status_code
             for n in range(11)]
    assert found == [401] * 10 + [429]
