"""Keeping the books of a shop that a real server serves: backups under load, restores, upgrades."""

import json
import threading
import urllib.request

import pytest

from sync import change, exchange, lookup
from sync.client import Client, http_post
from sync.log import VERSION
from tests.browser.conftest import Server
from tests.sync.older import everything, make_version_1
from webform import archive, keeping
from webform.shop import open_store

from .shops import ashbook, photo, refused


def enrolled(server):
    """(device, headers with its cookie) of a phone that was enrolled at this server just now."""
    body = json.dumps({"code": server.code(), "name": "Van phone"}).encode()
    request = urllib.request.Request(server.url + "/sync/enrol", body, {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=10) as answer:
        return json.load(answer)["device"], {"Cookie": answer.headers["Set-Cookie"].partition(";")[0]}


def test_backups_made_while_a_phone_pushes_restore_to_shops_that_serve(server, tmp_path):
    """Each holds all that was acknowledged before it began; a server starts on the last, and the phone gets all back."""
    acknowledged, stop, trouble = [], threading.Event(), []
    device, cookie = enrolled(server)

    def van_phone():
        return Client(f"{tmp_path}/van.db", device, http_post(server.url + "/sync", cookie))

    def push():
        try:
            van = van_phone()
            n = 0
            while not stop.is_set():
                for _ in range(20):
                    n += 1
                    van.write(f"job:j{n % 50}", {"truck": f"HL {n}"}, "person:kim")
                van.push()
                acknowledged.append(n)
            van.close()
        except Exception as problem:
            trouble.append(problem)

    pushing = threading.Thread(target=push)
    pushing.start()
    made = []
    try:
        for n in range(5):
            while pushing.is_alive() and (not acknowledged or (made and acknowledged[-1] == made[-1][0])):
                stop.wait(0.01)  # until more has come than at the last backup
            before, path = acknowledged[-1], tmp_path / f"{n}.backup"
            photo(server.data, b"picture %d" % n)
            done = ashbook("backup", "--data", server.data, "--to", path)
            assert done.returncode == 0, done.stderr
            made.append((before, path))
    finally:
        stop.set()
        pushing.join(30)
    assert trouble == []
    for number, (before, path) in enumerate(made):
        fresh = tmp_path / f"fresh{number}"
        assert ashbook("restore", "--data", fresh, "--from", path).returncode == 0
        counts, problems = keeping.verify(fresh, None, path)
        assert problems == [] and counts["changes"] >= before and counts["photos"] == number + 1
    assert len({keeping.verify(tmp_path / f"fresh{n}")[0]["changes"] for n in range(5)}) == 5

    server.kill()
    assert ashbook("restore", "--data", server.data, "--from", made[0][1], "--replace").returncode == 0
    assert keeping.verify(server.data)[0]["changes"] < acknowledged[-1]
    server.start()
    van = van_phone()
    van.sync()
    assert van.waiting() == []
    van.close()
    counts, problems = keeping.verify(server.data)
    assert problems == [] and counts["changes"] == acknowledged[-1]


def test_a_shop_that_is_served_is_not_restored(server, shop, tmp_path):
    keeping.backup(shop, None, tmp_path / "x.backup")
    said = refused(ashbook("restore", "--data", server.data, "--from", tmp_path / "x.backup", "--replace"))
    assert "Stop it first" in said
    server.kill()
    assert ashbook("restore", "--data", server.data, "--from", tmp_path / "x.backup", "--replace").returncode == 0
    server.start()
    with keeping.using(shop, is_alone=True), pytest.raises(keeping.Trouble, match="being restored or upgraded"):
        keeping.backup(shop)


def test_what_an_older_server_held_is_taken_by_the_next_one_that_knows_it(built, tmp_path):
    (tmp_path / "shop").mkdir()
    store = open_store(tmp_path / "shop")
    texts = [change.to_text(change.make_change(f"phone-van.r.{number}", "job:one", answers, lamport=number, by="person:kim",
                                               at="2026-11-25T08:00:00.000Z"))
             for number, answers in enumerate(({"truck": "HL 7"}, {"paint": "blue"}), 1)]
    exchange.push(store, "phone-van", texts, [change.content_hash(text) for text in texts], lambda _change: "unknown_field")
    assert lookup.held_count(store) == 2
    server = Server(tmp_path / "shop")
    server.kill()
    assert lookup.view(store, "job:one")["fields"]["truck"]["used"] == "HL 7"
    assert [entry["text"] for entry in lookup.held(store)] == [texts[1]]  # nobody knows this one yet
    store.close()


def test_serving_older_books_upgrades_them_after_a_backup(built, tmp_path):
    data = tmp_path / "served"
    data.mkdir()
    make_version_1(f"sqlite:///{data}/shop.db")
    old = open_store(data, is_as_found=True)
    before = everything(old)
    old.close()
    server = Server(data)
    server.kill()
    assert f"upgraded from version 1 to {VERSION}" in data.with_suffix(".log").read_text()
    store = open_store(data)
    assert everything(store) == before and keeping.verify(data)[1] == []
    store.close()
    [path] = data.glob("before-upgrade-1-*.backup")
    assert archive.unpack(path)["database_version"] == 1
    # the backup from before the upgrade is restored by this program too
    assert ashbook("restore", "--data", tmp_path / "new", "--from", path).returncode == 0
    assert keeping.verify(tmp_path / "new", None, path)[1] == []


@pytest.mark.postgresql
def test_an_older_postgresql_shop_is_upgraded_after_a_backup(tmp_path, cluster):
    url = cluster.new_url()
    make_version_1(url)
    assert keeping.make_ready(tmp_path / "shop", url) and keeping.make_ready(tmp_path / "shop", url) == []
    [path] = (tmp_path / "shop").glob("before-upgrade-1-*.backup")
    assert keeping.verify(tmp_path / "shop", url, path)[1] == []


def test_older_books_are_backed_up_and_verified_as_they_are(tmp_path):
    make_version_1(f"sqlite:///{tmp_path}/shop.db")
    path, manifest = keeping.backup(tmp_path)
    assert path.parent == tmp_path / "backups" and manifest["database_version"] == 1
    assert keeping.verify(tmp_path, None, path)[0]["changes"] == 66
    store = open_store(tmp_path, is_as_found=True)
    assert store.version == 1
    store.close()
