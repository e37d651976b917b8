"""A held change that the office is done with: it stays, says what came of it, and is counted no more. Readings invented."""

import re

import pytest

from sync import exchange, lookup
from sync.change import Pen
from tests.office.test_access import enrolled, office, token
from tests.office.test_outbox_file import file_of, hand_in
from tests.sync.making import made
from webform import create_app, keeping, restoring

BAD = {"serial": 7}  # no text: it can never be taken


@pytest.fixture
def app(bare_app):
    return bare_app


def count(desk):
    """What stands beside Held in the menu; 0 where nothing does."""
    found = re.search(r'href="/office/held"[^>]*>Held(?: <b class="count">(\d+)</b>)?', desk.get("/office/").text)
    return int(found.group(1) or 0)


def hashes(desk):
    """Of the changes that still ask for a look."""
    return re.findall(r'action="/office/held/([0-9a-f]{32})"', desk.get("/office/held").text)


def look(desk, raw_hash, reason):
    return desk.post(f"/office/held/{raw_hash}", data={"csrf_token": token(desk, "/office/held"), "reason": reason})


def test_what_the_office_is_done_with_stays_held_and_is_counted_no_more(app):
    desk, (phone, device), store = office(app), enrolled(app), app.extensions["shop"].store
    hand_in(desk, file_of(device, made("a.1", "filter:f", BAD), made("a.2", "filter:g", BAD)))
    assert count(desk) == 2
    newest, older = hashes(desk)
    assert look(desk, older, "  it was <b>typed</b> again  ").status_code == 302
    page = desk.get("/office/held").text
    assert count(desk) == 1 and hashes(desk) == [newest]
    seen = page.partition('data-testid="held-seen"')[2]
    assert "Looked at: 1" in page and "it was &lt;b&gt;typed&lt;/b&gt; again" in seen and "does not fit" in seen
    assert "Office" in seen and lookup.held_count(store) == 2  # nothing of it is gone
    # a phone is told, under the hash that it knows its change by
    records = {entry["record"]: entry["heads"] for entry in phone.post("/sync/pull", json={"cursor": None}).json["records"]}
    assert records[f"held:{older}"]["seen"][0]["value"] == {"reason": "it was <b>typed</b> again"}
    look(desk, newest, "a test of the app")
    page = desk.get("/office/held").text
    assert count(desk) == 0 and "Nothing is left to look at." in page and "Looked at: 2" in page
    assert "2 held" not in desk.get("/office/").text


def test_it_is_tried_again_with_the_others_and_gone_from_the_list_once_it_is_taken(app):
    desk, store = office(app), app.extensions["shop"].store
    hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", {"serial": "S-1"})))
    [raw_hash] = hashes(desk)
    look(desk, raw_hash, "nobody knows this phone")
    desk.post("/office/held", data={"csrf_token": token(desk, "/office/held"), "reason": "device_unknown"})
    page = desk.get("/office/held").text
    assert "Nothing is held." in page and "Looked at" not in page
    assert lookup.view(store, "filter:f")["fields"]["serial"]["used"] == "S-1"


@pytest.mark.parametrize(("reason", "sentence"), [("", "What came of it is still empty."), ("   ", "is still empty"),
                                                  ("x" * 301, "That is too long: at most 300 characters.")])
def test_without_a_word_of_what_came_of_it_it_goes_on_asking(app, reason, sentence):
    desk = office(app)
    hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", BAD)))
    answer = look(desk, hashes(desk)[0], reason)
    assert answer.status_code == 422 and sentence in answer.text and count(desk) == 1
    assert f'value="{reason}"' in answer.text  # what was typed stands there


def test_what_is_not_held_cannot_be_looked_at(app):
    desk = office(app)
    for name in ("0" * 32, "%00", "x", "0" * 5000):
        assert look(desk, name, "nothing").status_code == 409
    assert app.extensions["shop"].store.counter()["position"] == 0


def test_what_was_looked_at_takes_no_room_from_what_still_asks(app):
    """The page has room for so many; what is looked at stays held for ever."""
    desk, store = office(app), app.extensions["shop"].store
    hand_in(desk, file_of("phone-nobody", *[made(f"a.{n}", "filter:f", BAD) for n in range(lookup.MOST + 1)]))
    oldest = lookup.held(store, lookup.MOST + 1)[-1]["hash"]
    assert oldest not in hashes(desk)
    others = [exchange.Entry(f"held:{entry['hash']}", {"seen": {"reason": "a test"}}, {}) for entry in lookup.held(store)]
    exchange.write_all(store, Pen("desk"), others, "desk:office")
    assert count(desk) == 1 and hashes(desk) == [oldest]
    assert look(desk, oldest, "entered again").status_code == 302
    assert count(desk) == 0 and "Nothing is left to look at." in desk.get("/office/held").text


def test_what_somebody_has_looked_at_meanwhile_is_not_overridden_unseen(app):
    desk, store = office(app), app.extensions["shop"].store
    hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", BAD)))
    [raw_hash] = hashes(desk)
    assert [look(desk, raw_hash, "entered again").status_code for _ in range(2)] == [302, 302]  # tapped twice
    assert look(desk, raw_hash, "nobody knows this phone").status_code == 409
    view = lookup.view(store, f"held:{raw_hash}")
    assert [answer["value"] for answer in view["fields"]["seen"]["answers"]] == [{"reason": "entered again"}]
    assert store.counter()["position"] == 1


def test_two_who_looked_at_once_are_both_shown_and_hold_nothing_up(app):
    desk, shop = office(app), app.extensions["shop"]
    hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", BAD)))
    [raw_hash] = hashes(desk)
    for reason in "entered again", "nobody knows this phone":
        exchange.write(shop.store, shop.pen, f"held:{raw_hash}", {"seen": {"reason": reason}}, "desk:office", replaces={})
    page = desk.get("/office/held").text
    assert "entered again" in page and "nobody knows this phone" in page and count(desk) == 0
    assert desk.get("/office/questions").status_code == 200 and shop.questions() == 0


def test_it_is_in_every_backup_and_the_books_are_sound_with_it(app, tmp_path):
    desk, shop = office(app), app.extensions["shop"]
    hand_in(desk, file_of("phone-nobody", made("a.1", "filter:f", BAD), made("a.2", "owner:o", {"name": 7})))
    [newest, older] = hashes(desk)
    for raw_hash in newest, older:
        look(desk, raw_hash, "entered again")
    path, _ = keeping.backup(shop.data, None, tmp_path / "kept.backup")
    restoring.restore(tmp_path / "new", path)
    assert keeping.verify(tmp_path / "new", None, path)[1] == keeping.verify(shop.data)[1] == []
    other = create_app(tmp_path / "new")
    store = other.extensions["shop"].store
    assert lookup.held_count(store, but="held") == 0 and lookup.held_count(store) == 2
    store.close()
    shop.erasures.erase("owner:o", "desk:office", "asked by letter", "2026-11-25T17:40:00.000Z")  # its held text goes too
    assert count(desk) == 0 and "Looked at: 1" in desk.get("/office/held").text and keeping.verify(shop.data)[1] == []
