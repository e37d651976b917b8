"""Backup, restore and verify with the commands that a person types."""

import json
import re
import tarfile

import pytest

from sync import keep
from sync.log import VERSION
from webform import archive, keeping
from webform.access import Doors
from webform.shop import Shop, open_store

from .shops import ashbook, at, refused, trucks, write_shop


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
    assert "Checked: 9 changes, 9 texts, 0 erased, 8 records, 1 held, 0 reports, 2 photos.\nNothing is wrong." in done.stdout
    again = Shop(fresh)
    assert len(again.two_answers()) == 1 and again.store.counter()["epoch"] != manifest["epoch"]
    again.store.close()


@pytest.mark.postgresql
def test_a_shop_moves_from_sqlite_to_postgresql_by_backup_and_restore(shop, tmp_path, cluster):
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
            _counts, problems = keeping_verify_inside(store, shop)
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
