"""A disk without a byte left, under a real server process: books and photos say 503 and go on when there is room."""

import hashlib
import shutil

import pytest

from sync.photos import Photos
from tests.disk.full import small_disk
from tests.disk.served import Served, is_refused, plain_command
from tests.sync.picturing import jpeg
from webform.shop import Shop


@pytest.fixture
def disk(tmp_path):
    made = small_disk(tmp_path / "disk")
    yield made
    made.end()


@pytest.fixture
def served(disk, tmp_path):
    made = Served(disk.folder / "shop", tmp_path / "server.log", disk.words(plain_command()), disk.seen_at / "shop")
    yield made
    made.kill()


def server_pid(served):
    """The server's own process: nsenter becomes it."""
    return served.process.pid


def books_of(served, folder):
    """The ids in the books of a server that is dead, from a copy: SQLite would follow the way into the namespace."""
    shutil.copytree(served.seen_at, folder)
    shop = Shop(folder)
    found = {row[0] for row in shop.store.rows("SELECT id FROM change_log")}
    shop.store.close()
    return found


@pytest.mark.parametrize("room_bytes", [0, 20_000])
def test_a_disk_that_is_full_takes_nothing_and_says_so_and_with_room_it_all_goes_on(served, disk, room_bytes, tmp_path):
    phone = served.enrolled()
    photo, other = jpeg(400, 300, seed=3), jpeg(400, 300, seed=4)
    name = hashlib.sha256(photo).hexdigest()
    assert len(photo) > 60_000
    stored = {receipt["id"] for receipt in phone.push(*[phone.text() for _ in range(20)])[1]["receipts"]}
    assert phone.put(other)[1]["complete"] and phone.put(photo, 0, 10_000)[1]["offset"] == 10_000
    # each beyond what SQLite's journal may still have room for from earlier writes
    large = [[phone.text(note="x" * 1000) for _ in range(300)] for _ in range(4)]
    disk.fill(server_pid(served), room_bytes)
    for texts in large:
        assert is_refused(phone.push(*texts))
    for _ in range(4):
        assert is_refused(phone.put(photo, 10_000))
        assert phone.state(photo)[1] == {"sha256": name, "offset": 10_000, "complete": False}
    assert phone.pull()[0] == 200 and served.ask("GET", "/office/login")[0] == 200  # what is there can be read
    assert served.ask("GET", "/sync/photos/" + hashlib.sha256(other).hexdigest() + "?size=small",
                      headers={"Cookie": phone.cookie})[0] == 200
    disk.free(server_pid(served))
    for texts in large:
        status, answer = phone.push(*texts)
        assert status == 200
        stored |= {receipt["id"] for receipt in answer["receipts"] if receipt["status"] == "stored"}
    assert len(stored) == 20 + sum(map(len, large)) and phone.put(photo, 10_000)[1]["complete"]
    served.kill()
    assert books_of(served, tmp_path / "copy") == stored and Photos(served.seen_at / "photos").damaged() == []
    assert set(Photos(served.seen_at / "photos").names()) == {name, hashlib.sha256(other).hexdigest()}


def test_a_phone_that_was_not_here_for_long_reads_on_from_a_full_disk(served, disk):
    """That it was here is noted beside the books; a note that finds no room may not cost it the answer."""
    phone = served.enrolled()
    accounts = served.seen_at / "access.json"
    accounts.write_text(accounts.read_text().replace('"seen": "20', '"seen": "19'))
    before = accounts.read_text()
    disk.fill(server_pid(served))
    assert phone.pull()[0] == 200
    if disk.kind == "tmpfs":  # a limit on the size of files lets so small a file through
        assert accounts.read_text() == before
    disk.free(server_pid(served))
    assert phone.pull()[0] == 200 and accounts.read_text() != before
