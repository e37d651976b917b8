"""What was said to be stored lies on the disk: a sync before every answer; where one fails, 503 and nothing is promised.

A real server process over a watched disk (watched.py). SQLite and photos; under PostgreSQL syncing is that server's work.
"""

import hashlib

import pytest

from sync.photos import Photos
from tests.disk.served import Served, is_refused, watched_command
from tests.disk.watched import Board
from tests.sync.picturing import jpeg
from webform import keeping
from webform.shop import Shop

ANSWERS = 100
FAILED = 20
TRIES = 300
ONE_IN = 100  # of the syncs and the writes to the journal, of which a push makes some twenty, one fails


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    return Board(tmp_path_factory.mktemp("watched") / "board")


@pytest.fixture(scope="module")
def started(board, tmp_path_factory):
    """One server for all of these tests."""
    folder = tmp_path_factory.mktemp("served")
    made = Served(folder / "shop", folder / "server.log", watched_command(board.path))
    yield made
    made.kill()


@pytest.fixture
def served(started, board):
    yield started
    board["is_failing"] = board["one_in"] = 0


def stored_in(served):
    """The ids that the books hold, read beside the server; each is there once."""
    shop = Shop(served.data)
    found = [row[0] for row in shop.store.rows("SELECT id FROM change_log ORDER BY position")]
    shop.store.close()
    assert len(set(found)) == len(found)
    return set(found)


def ids(answer):
    assert all(receipt["status"] == "stored" for receipt in answer["receipts"]), answer
    return {receipt["id"] for receipt in answer["receipts"]}


def test_a_sync_of_all_that_it_wrote_comes_before_every_answer_to_a_push(served, board):
    phone = served.enrolled()
    for _ in range(ANSWERS):
        written, syncs = board["written_by_pushes"], board["journal_syncs"]
        status, answer = phone.push(phone.text())
        assert status == 200 and len(ids(answer)) == 1
        assert board["written_by_pushes"] > written and board["journal_syncs"] > syncs
        assert board["unsynced_of_pushes"] == 0  # whatever the background syncs besides


def test_a_sync_comes_before_every_answer_to_a_piece_of_a_photo_and_its_name_is_synced_with_the_last(served, board):
    phone, photo = served.enrolled(), jpeg()
    for start in range(0, len(photo), 8_000):
        files, names = board["file_syncs"], board["names"]
        status, answer = phone.put(photo, start, start + 8_000)
        assert status == 200 and board["file_syncs"] > files, start
    assert answer["complete"] and board["names"] >= names + 2  # of the photo in its folder, and of that new folder


def test_while_syncs_fail_every_push_is_503_and_none_is_stored_and_the_same_process_then_serves_again(served, board):
    phone = served.enrolled()
    assert phone.push(phone.text())[0] == 200
    before = stored_in(served)
    texts = [phone.text() for _ in range(FAILED)]
    failed, board["is_failing"] = board["failed"], 1
    for text in texts:
        assert is_refused(phone.push(text))
        assert phone.pull()[0] == 200  # what is there can still be read
    assert board["failed"] >= failed + FAILED and stored_in(served) == before
    board["is_failing"] = 0
    status, answer = phone.push(*texts)
    assert status == 200 and stored_in(served) == before | ids(answer)
    served.kill()
    assert stored_in(served) == before | ids(answer)
    served.start()
    assert phone.push(*texts) == (200, answer)
    assert keeping.verify(served.data)[1] == []


def test_a_photo_whose_sync_fails_is_503_keeps_what_was_confirmed_and_goes_on(served, board):
    phone, photo = served.enrolled(), jpeg(seed=2)
    assert phone.put(photo, 0, 10_000)[1]["offset"] == 10_000
    board["is_failing"] = 1
    for _ in range(3):
        assert is_refused(phone.put(photo, 10_000, 20_000))
        assert phone.state(photo) == (200, {"sha256": hashlib.sha256(photo).hexdigest(), "offset": 10_000, "complete": False})
    board["is_failing"] = 0
    status, answer = phone.put(photo, 10_000)
    assert status == 200 and answer["complete"]
    assert Photos(served.data / "photos").damaged() == []


def test_an_enrolment_that_cannot_be_written_is_503_and_its_code_is_still_good(served, board):
    from webform.access import Doors

    code = Doors(served.data).new_code()
    body = b'{"code": "%s", "name": "Van phone"}' % code.encode()
    board["is_failing"] = 1
    status, text = served.ask("POST", "/sync/enrol", body, {"Content-Type": "application/json"})
    assert status == 503 and '"unavailable"' in text
    board["is_failing"] = 0
    assert served.ask("POST", "/sync/enrol", body, {"Content-Type": "application/json"})[0] == 200


def test_of_three_hundred_pushes_on_a_failing_disk_none_that_was_acknowledged_is_missing(served, board):
    phone = served.enrolled()
    acknowledged, refused, failed = stored_in(served), [], board["failed"]
    board["one_in"] = ONE_IN
    for number in range(TRIES):
        texts = [phone.text() for _ in range(1 + number % 4)]
        answer = phone.push(*texts)
        if answer[0] == 200:
            acknowledged |= ids(answer[1])
        else:
            assert is_refused(answer)
            refused.append(texts)
    assert board["failed"] >= failed + TRIES / 10 and len(refused) >= 10 and len(acknowledged) > TRIES
    served.kill()  # in the middle of it, with a journal of which no end was ever synced
    assert acknowledged <= stored_in(served)
    board["one_in"] = 0
    served.start()
    for texts in refused:  # sent again, as a phone does: a 503 had said nothing
        acknowledged |= ids(phone.push(*texts)[1])
    assert stored_in(served) == acknowledged
    assert keeping.verify(served.data)[1] == []
