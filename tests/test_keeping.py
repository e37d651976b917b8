"""Keeping a shop's books with the commands that a person types: under load, and killed half-way."""

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import threading
import urllib.request
from pathlib import Path

import pytest

from sync import keep, lookup
from sync.client import Client, http_post
from sync.log import VERSION
from tests.browser.conftest import Server, free_port
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from tests.sync.older import everything, make_version_1
from webform import archive, keeping, restoring
from webform.access import Doors
from webform.phone.build import build
from webform.shop import Shop, open_store

ROOT = Path(__file__).parents[1]


def ashbook(*words):
    return subprocess.run([sys.executable, "-m", "webform", *map(str, words)], cwd=ROOT, capture_output=True, text=True,
                          timeout=120)


def refused(done):
    """The sentence of a command that could not do its work."""
    assert done.returncode == 1 and "Traceback" not in done.stderr, done.stderr
    [sentence] = done.stderr.strip().splitlines()
    assert sentence.endswith(".")
    return sentence


def photo(data, content):
    name = hashlib.sha256(content).hexdigest()
    path = data / "photos" / name[:2] / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def write_shop(data, url=None, jobs=8):
    """A shop with some jobs, two answers in one of them, a held change, a phone and two photos."""
    shop, doors = Shop(data, url), Doors(data)
    doors.ensure_office("invented-word")
    doors.redeem(doors.new_code(), "Van phone")
    for n in range(jobs):
        assert shop.write(f"job:j{n}", {"truck": f"HL {n}"}, "person:kim", {})["status"] == "stored"
    shop.write("job:j1", {"truck": "HL 99"}, "person:ravn", {})
    shop.write("job:j1", {"no_such_field": "x"}, "person:ravn", {})
    assert len(shop.two_answers()) == 1
    shop.store.close()
    for content in (b"one invented picture", b"another invented picture"):
        photo(data, content)
    return data


@pytest.fixture
def shop(tmp_path):
    return write_shop(tmp_path / "shop")


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    """No address, for SQLite in the shop's folder, or that of an empty PostgreSQL database."""
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


def at(url):
    return ("--database", url) if url else ()


def trucks(data, url=None):
    """What stands in every job, and how many changes are held."""
    store = open_store(data, url)
    try:
        views = lookup.views(store, [entry["record"] for entry in lookup.records(store, "job", 10_000)])
        return ({job: sorted(answer["value"] for answer in view["fields"]["truck"]["answers"])
                 for job, view in views.items()}, lookup.held_count(store))
    finally:
        store.close()


def test_a_backup_restores_to_a_shop_that_says_the_same(tmp_path, url):
    data = write_shop(tmp_path / "shop", url)
    to = tmp_path / "stick"
    to.mkdir()
    done = ashbook("backup", "--data", data, "--to", to, *at(url))
    assert done.returncode == 0 and "9 changes" in done.stdout, done.stderr
    [path] = to.iterdir()
    assert path.stat().st_mode & 0o777 == 0o600
    with tarfile.open(path) as tar:  # any tar program reads it
        names = tar.getnames()
        manifest = json.load(tar.extractfile("manifest.json"))
    assert sorted(manifest["files"]) == sorted(names[:-1]) and names[-1] == "manifest.json"
    assert "access.json" in names and "session.key" not in names and len([n for n in names if n.startswith("photos/")]) == 2
    assert (manifest["position"], manifest["database_version"]) == (9, VERSION)
    # into a folder on SQLite, whatever it came from
    fresh = tmp_path / "fresh"
    done = ashbook("restore", "--data", fresh, "--from", path)
    assert done.returncode == 0 and "is whole" in done.stdout and "enrolled or shut out since" in done.stdout, done.stderr
    assert trucks(fresh) == trucks(data, url)
    assert Doors(fresh).is_office("office", "invented-word") and len(Doors(fresh).read()["devices"]) == 1
    assert [name for name, _ in archive.photos(fresh)] == [name for name, _ in archive.photos(data)]
    done = ashbook("verify", "--data", fresh, "--against", path)
    assert (done.returncode, done.stderr) == (0, ""), done.stderr
    assert "Checked: 9 changes, 9 texts, 0 erased, 8 records, 1 held, 2 photos.\nNothing is wrong." in done.stdout
    again = Shop(fresh)
    assert len(again.two_answers()) == 1 and again.store.counter()["epoch"] != manifest["epoch"]
    again.store.close()


@pytest.mark.postgresql
def test_a_shop_moves_from_sqlite_to_postgresql_by_backup_and_restore(shop, tmp_path, cluster):  # noqa: F811
    url, path = cluster.new_url(), tmp_path / "moving.backup"
    assert ashbook("backup", "--data", shop, "--to", path).returncode == 0
    done = ashbook("restore", "--data", tmp_path / "new", "--from", path, "--database", url)
    assert done.returncode == 0 and "before" not in done.stdout, done.stderr
    assert trucks(tmp_path / "new", url) == trucks(shop)
    assert not (tmp_path / "new/shop.db").exists() and len(list(archive.photos(tmp_path / "new"))) == 2
    assert ashbook("verify", "--data", tmp_path / "new", "--database", url, "--against", path).returncode == 0
    assert "--replace" in refused(ashbook("restore", "--data", tmp_path / "new", "--from", path, "--database", url))
    done = ashbook("restore", "--data", tmp_path / "new", "--from", path, "--database", url, "--replace")
    assert done.returncode == 0 and "lie in the schema before_restore_" in done.stdout
    schema = re.search(r"before_restore_\w+", done.stdout).group()
    store = open_store(shop, url)
    assert store.rows(f"SELECT COUNT(*) FROM {schema}.change_log") == [(9,)] and store.counter()["position"] == 9
    store.close()
    again = Shop(tmp_path / "new", url)
    assert len(again.two_answers()) == 1
    again.store.close()


def test_books_that_are_there_are_only_replaced_when_asked_and_then_moved_aside(shop, tmp_path):
    path = tmp_path / "first.backup"
    assert ashbook("backup", "--data", shop, "--to", path).returncode == 0
    there = Shop(shop)
    there.write("job:late", {"truck": "HL 100"}, "person:kim", {})
    there.store.close()
    later = trucks(shop)
    assert "--replace" in refused(ashbook("restore", "--data", shop, "--from", path))
    assert trucks(shop) == later
    done = ashbook("restore", "--data", shop, "--from", path, "--replace")
    assert done.returncode == 0 and "stay as they are here" in done.stdout
    [aside] = shop.glob("before-restore-*")
    assert str(aside) in done.stdout and trucks(aside) == later and "job:late" not in trucks(shop)[0]
    (shop / "shop.db").write_bytes(b"\xff" * 8192)  # books that cannot even be read
    assert "cannot be used" in refused(ashbook("verify", "--data", shop))
    assert "--replace" in refused(ashbook("restore", "--data", shop, "--from", path))
    assert ashbook("restore", "--data", shop, "--from", path, "--replace").returncode == 0
    assert "job:late" not in trucks(shop)[0] and len(list(shop.glob("before-restore-*"))) == 2


def test_an_empty_shop_needs_no_replace(shop, tmp_path):
    path, fresh = tmp_path / "first.backup", tmp_path / "fresh"
    ashbook("backup", "--data", shop, "--to", path)
    Shop(fresh).store.close()
    assert ashbook("restore", "--data", fresh, "--from", path).returncode == 0
    (tmp_path / "file").mkdir()
    (tmp_path / "file/shop.db").write_bytes(b"")
    assert ashbook("restore", "--data", tmp_path / "file", "--from", path).returncode == 0
    assert trucks(fresh) == trucks(tmp_path / "file") == trucks(shop)


def test_a_phone_shut_out_after_the_backup_stays_out_and_another_shops_accounts_do_not(shop, tmp_path):
    path = tmp_path / "first.backup"
    ashbook("backup", "--data", shop, "--to", path)
    [device] = Doors(shop).read()["devices"]
    Doors(shop).revoke(device)
    ashbook("restore", "--data", shop, "--from", path, "--replace")
    assert Doors(shop).read()["devices"][device]["revoked"]
    for name, content in (("other", None), ("unreadable", "{"), ("odd", "[]")):
        other = write_shop(tmp_path / name)
        if content is not None:
            (other / "access.json").write_text(content)
        done = ashbook("restore", "--data", other, "--from", path, "--replace")
        assert "enrolled or shut out since" in done.stdout, done.stderr
        [aside] = other.glob("before-restore-*")
        assert list(Doors(other).read()["devices"]) == [device] and (aside / "access.json").exists()


def test_a_damaged_photo_is_put_right_by_a_restore(shop, tmp_path):
    path = tmp_path / "first.backup"
    ashbook("backup", "--data", shop, "--to", path)
    (_, whole), (name, damaged) = archive.photos(shop)
    damaged.write_bytes(b"spoilt")
    whole.unlink()
    done = ashbook("verify", "--data", shop)
    assert done.returncode == 1 and name in done.stderr and "older backup" in done.stderr
    assert ashbook("restore", "--data", shop, "--from", path, "--replace").returncode == 0
    assert ashbook("verify", "--data", shop).returncode == 0 and len(list(archive.photos(shop))) == 2


def test_what_is_no_photo_is_left_out(shop):
    (shop / "photos/half.part").write_bytes(b"x")
    (shop / "photos" / ("a" * 64 + ".part-1")).write_bytes(b"x")
    assert len(list(archive.photos(shop))) == 2 and list(archive.photos(shop / "none")) == []


def test_verify_names_what_is_wrong_and_what_to_do(shop, tmp_path):
    path = tmp_path / "first.backup"
    ashbook("backup", "--data", shop, "--to", path)
    store = open_store(shop)
    for sql, expected in (
            ("UPDATE change_log SET body = replace(body, 'HL 3', 'HL 4')", "change 4 ("),
            ("DELETE FROM snapshot WHERE record = 'job:j2'", "job:j2: "),
            ("DELETE FROM open_field", "job:j1 truck: The desk's list of two answers"),
            ("UPDATE held SET resolved_at = 'x'", "held 1 (")):
        with pytest.raises(RuntimeError), store.db.atomic():
            store.rows(sql)
            counts, problems = keeping_verify_inside(store, shop)
            assert any(f"{where}: {sentence}".startswith(expected) for where, sentence in problems), problems
            raise RuntimeError("taken back")
    store.rows("DELETE FROM change_log WHERE position > 7")
    store.rows("UPDATE counter SET position = 7, chain = (SELECT chain FROM change_log WHERE position = 7)")
    keep.rebuild(store)  # who cuts the end and makes all the rest fit is found by a backup only
    store.rows("UPDATE open_field_place SET position = 0")
    store.rows("DELETE FROM open_field")
    store.close()
    assert ashbook("verify", "--data", shop).returncode == 0
    done = ashbook("verify", "--data", shop, "--against", path)
    assert done.returncode == 1 and "do not go on from this backup" in done.stderr
    assert done.stderr.strip().endswith("1 problems were found.")


def keeping_verify_inside(store, data):
    """What the command would say, asked in the transaction that is to be taken back."""
    report = keeping.verify_store(store)
    hidden = keeping._hidden_questions(store) if not report.problems else []
    return report.counts, [(problem.where, keeping.SENTENCES[problem.code]) for problem in report.problems] + [
        (where, keeping.SENTENCES["question_hidden"]) for where in hidden]


def test_a_question_that_the_index_has_not_reached_yet_is_not_hidden(shop):
    books = Shop(shop)
    books.write("job:j2", {"truck": "HL 98"}, "person:ravn", {})
    books.write("job:j1", {"note": "x"}, "person:ravn", {})
    assert keeping.verify(shop)[1] == []
    assert len(books.two_answers()) == 2 and keeping.verify(shop)[1] == []
    for table in keeping.OPEN_FIELD_TABLES:
        books.store.rows(f"DROP TABLE {table}")
    assert keeping.verify(shop)[1] == []
    books.store.close()


def test_a_restore_makes_wrong_records_anew_and_tells_of_a_damaged_log(shop, tmp_path):
    store = open_store(shop)
    store.rows("DELETE FROM snapshot WHERE record = 'job:j2'")
    store.close()
    ashbook("backup", "--data", shop, "--to", tmp_path / "records.backup")
    done = ashbook("restore", "--data", tmp_path / "one", "--from", tmp_path / "records.backup")
    assert done.returncode == 0 and "damaged already" not in done.stdout
    assert len(trucks(tmp_path / "one")[0]) == 8 and ashbook("verify", "--data", tmp_path / "one").returncode == 0
    store = open_store(shop)
    store.rows("UPDATE change_log SET body = replace(body, 'HL 3', 'HL 4')")
    store.close()
    ashbook("backup", "--data", shop, "--to", tmp_path / "log.backup")
    done = ashbook("restore", "--data", tmp_path / "two", "--from", tmp_path / "log.backup")
    assert done.returncode == 0 and "damaged already when this backup was made" in done.stdout
    assert "is not the one that was stored" in done.stdout


# --- archives that are not whole -----------------------------------------------------------------------------------


def test_a_backup_that_is_cut_or_altered_anywhere_is_refused_and_nothing_is_touched(shop, tmp_path):
    path = tmp_path / "first.backup"
    keeping.backup(shop, None, path)
    whole, fresh = path.read_bytes(), tmp_path / "fresh"
    end = whole.rindex(b"}") + 1  # what follows is the tar's padding
    places = list(range(0, end, max(1, end // 60)))
    for place in places:
        bad = tmp_path / "bad.backup"
        bad.write_bytes(whole[:place])
        with pytest.raises(archive.Broken):
            restoring.restore(fresh, bad)
        bad.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1:])
        try:
            restoring.restore(fresh, bad, is_replace=True)
        except archive.Broken:
            continue
        # a byte in which nothing stands that counts: padding or a date of the tar
        with tarfile.open(bad) as tar, tarfile.open(path) as good:
            assert {m.name: tar.extractfile(m).read() for m in tar if m.name != "manifest.json"} == {
                m.name: good.extractfile(m).read() for m in good if m.name != "manifest.json"}
        shutil.rmtree(fresh)
    assert not fresh.exists() or list(fresh.iterdir()) == []


def put_together(path, members, manifest=None):
    with tarfile.open(path, "w") as tar:
        for name, content in members:
            source = path.with_name("member")
            source.write_bytes(content)
            tar.add(source, name)
        if manifest is not None:
            source = path.with_name("member")
            source.write_text(json.dumps(manifest))
            tar.add(source, "manifest.json")


SOUND = {"format": "ashbook backup", "format_version": 1, "made_at": "2026-11-25T18:00:00Z", "database_version": 1,
         "epoch": "e", "position": 0, "chain": "0", "files": {}}


@pytest.mark.parametrize(("members", "manifest", "sentence"), [
    ([("../outside", b"x")], None, "not part of a backup"),
    ([("photos/../../outside", b"x")], None, "not part of a backup"),
    ([("shop.db", b"x")], None, "not part of a backup"),
    ([("access.json", b"x"), ("access.json", b"y")], None, "not part of a backup"),
    ([("access.json", b"x")], None, "list of contents is missing"),
    ([("access.json", b"x")], ["a list"], "list of contents is missing"),
    ([("access.json", b"x")], SOUND, "access.json is not what was backed up"),
    ([], {**SOUND, "files": {"books.db": {"size": 1, "sha256": "x"}}}, "books.db is not what was backed up"),
    ([], {**SOUND, "format_version": 2}, "made by a newer program"),
    ([], {**SOUND, "position": "many"}, "list of contents cannot be read"),
    ([], SOUND, "There are no books in"),
    ([("manifest.json", b"{"), ("access.json", b"x")], None, "damaged or no backup"),
    ([("manifest.json", json.dumps(SOUND).encode()), ("access.json", b"x")], None, "not part of a backup"),
])
def test_a_strange_archive_is_refused_with_a_sentence(tmp_path, members, manifest, sentence):
    (tmp_path / "member").write_bytes(b"")
    put_together(tmp_path / "strange.backup", members, manifest)
    assert sentence in refused(ashbook("restore", "--data", tmp_path / "shop", "--from", tmp_path / "strange.backup"))
    assert list((tmp_path / "shop").iterdir()) == [] and not (tmp_path / "outside").exists()


def test_what_cannot_be_done_is_told_in_a_sentence(shop, tmp_path):
    assert "no folder" in refused(ashbook("backup", "--data", tmp_path / "none"))
    (tmp_path / "empty").mkdir()
    assert "There are no books" in refused(ashbook("backup", "--data", tmp_path / "empty"))
    assert "There are no books" in refused(ashbook("verify", "--data", tmp_path / "empty"))
    assert "There is no file" in refused(ashbook("restore", "--data", tmp_path / "new", "--from", tmp_path / "none"))
    assert "no folder" in refused(ashbook("backup", "--data", shop, "--to", tmp_path / "none/x.backup"))
    ashbook("backup", "--data", shop, "--to", tmp_path / "x.backup")
    assert "nothing is ever written over" in refused(ashbook("backup", "--data", shop, "--to", tmp_path / "x.backup"))
    assert "Not a directory" in refused(ashbook("restore", "--data", shop / "shop.db/below", "--from", tmp_path / "x.backup"))
    assert "--database" in refused(ashbook("backup", "--data", shop, "--database", "nonsense"))
    store = open_store(shop)
    store.rows("UPDATE about SET value = '99'")
    store.close()
    for words in (("backup",), ("verify",), ("serve", "--port", free_port())):
        assert "Start the newer program" in refused(ashbook(words[0], "--data", shop, *words[1:]))


# --- a real server -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def built():
    assert build() == 0


@pytest.fixture
def server(built, tmp_path):
    made = Server(tmp_path / "served")
    yield made
    made.kill()


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


def test_serving_older_books_upgrades_them_after_a_backup(built, tmp_path):
    data = tmp_path / "served"
    data.mkdir()
    make_version_1(f"sqlite:///{data}/shop.db")
    old = open_store(data, is_as_found=True)
    before = everything(old)
    old.close()
    server = Server(data)
    server.kill()
    assert "upgraded from version 1 to 2" in data.with_suffix(".log").read_text()
    store = open_store(data)
    assert everything(store) == before and keeping.verify(data)[1] == []
    store.close()
    [path] = data.glob("before-upgrade-1-*.backup")
    assert archive.unpack(path)["database_version"] == 1
    # the backup from before the upgrade is restored by this program too
    assert ashbook("restore", "--data", tmp_path / "new", "--from", path).returncode == 0
    assert keeping.verify(tmp_path / "new", None, path)[1] == []


@pytest.mark.postgresql
def test_an_older_postgresql_shop_is_upgraded_after_a_backup(tmp_path, cluster):  # noqa: F811
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


# --- killed half-way -----------------------------------------------------------------------------------------------


def deaths(data, *words, every=1):
    """Runs the command again and again, killed at its first step, its second, and so on, until it lives; yields after each."""
    for n in range(1, 400, every):
        done = subprocess.run([sys.executable, "-m", "tests.dying", str(n), str(data), *map(str, words)], cwd=ROOT,
                              capture_output=True, text=True)
        if done.returncode != -signal.SIGKILL:
            assert done.returncode == 0, done.stderr
            return
        yield n
    raise AssertionError("it never came to its end")


def age(folder):
    """What killed programs left behind is old now."""
    for left in folder.glob(".unfinished-*"):
        os.utime(left, (0, 0))


def test_a_backup_killed_at_any_step_leaves_nothing_that_looks_like_one(tmp_path, url):
    data, to = write_shop(tmp_path / "shop", url, jobs=2), tmp_path / "stick"
    to.mkdir()
    killed, whole = 0, set()
    for _ in deaths(tmp_path, "backup", "--data", data, "--to", to, *at(url)):
        killed += 1
        for path in to.iterdir():
            if path.name.startswith(".unfinished-"):
                continue
            assert archive.unpack(path)["position"] == 3
            whole.add(killed)
    assert killed - len(whole) >= 8 and min(whole, default=killed) > killed - 8, "it had its name before it was whole"
    assert keeping.verify(data, url)[1] == []
    age(to)
    keeping.backup(data, url, to)
    assert list(to.glob(".unfinished-*")) == []


@pytest.mark.parametrize("every", [3, pytest.param(1, marks=pytest.mark.soak)])
def test_a_restore_killed_at_any_step_leaves_the_old_shop_or_the_new_one(tmp_path, url, every):
    path = tmp_path / "new.backup"
    keeping.backup(write_shop(tmp_path / "source", jobs=3), None, path)
    shop = write_shop(tmp_path / "shop", url, jobs=2)
    old, new, seen = trucks(shop, url), trucks(tmp_path / "source"), []
    for _ in deaths(tmp_path, "restore", "--data", shop, "--from", path, "--replace", *at(url), every=every):
        assert keeping.verify(shop, url)[1] == []
        assert trucks(shop, url) in (old, new)
        seen.append(trucks(shop, url) == new)
    assert seen == sorted(seen) and seen.count(False) >= 20 // every and any(seen)
    assert trucks(shop, url) == new and archive.unpack(path)["position"] == 4


def test_serving_older_books_killed_at_any_step_of_the_upgrade_loses_nothing(tmp_path):
    make_version_1(f"sqlite:///{tmp_path}/shop.db")
    old = open_store(tmp_path, is_as_found=True)
    before = everything(old)
    upgraded_at = None
    for n in deaths(tmp_path, "serve", "--data", tmp_path, "--port", free_port()):
        version = old.rows("SELECT value FROM about WHERE name = 'version'")[0][0]
        assert everything(old) == before
        if version != "1":
            upgraded_at = n
            break
        for path in tmp_path.glob("*.backup"):
            assert archive.unpack(path)["position"] == 66
    assert upgraded_at >= 15 and list(tmp_path.glob("before-upgrade-1-*.backup"))
    old.close()
    assert keeping.verify(tmp_path)[1] == []
