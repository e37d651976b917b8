"""Enrolment under a race and after its time, and a device cookie that is renewed by use: through the server's own doors."""

import threading

from tests.office.test_access import app, enrolled  # noqa: F401
from webform import access

AT_ONCE = 100


def test_of_a_hundred_who_redeem_one_code_at_once_one_is_enrolled(app):  # noqa: F811
    code = app.extensions["doors"].new_code()
    start, found = threading.Barrier(AT_ONCE), []

    def redeem(number):
        client = app.test_client()
        start.wait(30)
        answer = client.post("/sync/enrol", json={"code": code, "name": f"phone {number}"},
                             environ_base={"REMOTE_ADDR": f"192.0.2.{number}"})
        found.append((answer.status_code, answer.headers.get("Set-Cookie"), answer.json))

    threads = [threading.Thread(target=redeem, args=(number,)) for number in range(AT_ONCE)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(status for status, _, _ in found) == [200] + [403] * (AT_ONCE - 1)
    [(_, cookie, answer)] = [one for one in found if one[0] == 200]
    assert cookie and list(app.extensions["doors"].read()["devices"]) == [answer["device"]]
    assert [one for one in found if one[0] != 200 and one[1]] == []  # nobody else was given a credential


def test_a_code_is_good_for_ten_minutes_and_not_longer(app, monkeypatch):  # noqa: F811
    doors, now = app.extensions["doors"], access.time.time()
    late, early = doors.new_code(), doors.new_code()
    for after_s, code, status in ((599, early, 200), (601, late, 403)):
        monkeypatch.setattr(access.time, "time", lambda after_s=after_s: now + after_s)
        assert app.test_client().post("/sync/enrol", json={"code": code, "name": "a"}).status_code == status
    assert len(doors.read()["devices"]) == 1


def test_a_phone_in_use_is_given_its_cookie_anew_for_400_days(app, monkeypatch):  # noqa: F811
    phone, _device = enrolled(app)
    assert "Set-Cookie" not in phone.post("/sync/pull", json={"cursor": None}).headers
    now = access.time.time()
    monkeypatch.setattr(access.time, "time", lambda: now + access.SEEN_SECONDS + 60)
    answer = phone.post("/sync/pull", json={"cursor": None})
    assert answer.status_code == 200
    assert f"Max-Age={400 * 86400}" in answer.headers["Set-Cookie"] and "HttpOnly" in answer.headers["Set-Cookie"]
    assert phone.post("/sync/pull", json={"cursor": None}).status_code == 200
