"""What a backup cannot know: a restore of an older one gives no report number twice and opens no withdrawn link."""

import json
import re
import shutil

import pytest

from tests.report.test_issued import MADE, issued_at
from webform import keeping, report_check
from webform.lasting import NAME, Lasting
from webform.restoring import restore
from webform.shop import Shop

LATER = "2027-01-02T08:00:00.000Z"


def shop_at(data, url):
    """A shop with one change in its books, so that one shop can be told from another."""
    shop = Shop(data, url)
    if shop.store.counter()["position"] == 0:
        shop.write("job:j", {"truck": "HL 1"}, "person:kim", {})
    return shop


def new_url(request):
    return request.getfixturevalue("cluster").new_url()


def job(shop, number):
    return shop.issued.find(number)["job"]


@pytest.fixture
def older(tmp_path, url):
    """(data, backup, secrets): a report with two links, then a backup, then one link withdrawn and two more reports."""
    data = tmp_path / "shop"
    shop = shop_at(data, url)
    number = issued_at(shop.issued, MADE)
    secrets = [shop.issued.links.make(number, MADE) for _ in range(2)]
    shop.store.close()
    path, _manifest = keeping.backup(data, url, tmp_path / "older.backup")
    shop = Shop(data, url)
    rest = shop.issued.links.make(number, MADE)
    shop.issued.links.withdraw([number], MADE)
    open_still = shop.issued.links.make(number, MADE)
    assert [issued_at(shop.issued, LATER, answers=text) for text in "bc"] == ["2027-0002", "2027-0003"]
    shop.store.close()
    return data, path, [*secrets, rest], open_still


def opened(shop, secrets):
    return [shop.issued.links.opened(secret, LATER).number for secret in secrets]


def spoil(data, url):
    """The books can be read no more; in PostgreSQL the tables of reports are gone."""
    if url is None:
        (data / "shop.db").write_bytes(b"\xff" * 8192)
        for name in ("shop.db-wal", "shop.db-shm"):
            (data / name).unlink(missing_ok=True)
    else:
        from webform.shop import open_store
        store = open_store(data, url)
        store.rows("DROP TABLE report_link")
        store.rows("DROP TABLE issued_report")
        store.close()


def test_numbers_go_on_and_withdrawn_links_stay_shut_after_an_older_backup(older, url):
    data, path, gone, open_still = older
    said = restore(data, path, url, is_replace=True)
    assert any(line.startswith("2 reports that were issued after the backup are taken over") for line in said), said
    shop = Shop(data, url)
    assert opened(shop, gone) == ["", "", ""] and opened(shop, [open_still]) == ["2027-0001"]
    assert job(shop, "2027-0003") == "job:j" and shop.issued.find("2027-0001")["replaced_by"] == "2027-0002"
    fresh = issued_at(shop.issued, LATER, answers="d")
    assert re.fullmatch(r"2027-0004-[0-9A-HJKMNP-TV-Z]{4}", fresh)
    shop.store.close()
    assert keeping.verify(data, url)[1] == []


def test_also_when_the_old_books_cannot_be_read(older, url):
    data, path, gone, open_still = older
    spoil(data, url)
    said = restore(data, path, url, is_replace=True)
    assert not any("taken over" in line or "not known" in line for line in said), said
    shop = Shop(data, url)
    assert opened(shop, gone) == ["", "", ""] and opened(shop, [open_still]) == [""], "it was made after the backup"
    assert shop.issued.find("2027-0003") is None
    assert re.fullmatch(r"2027-0004-[0-9A-Z]{4}", issued_at(shop.issued, LATER, answers="d"))
    shop.store.close()
    assert keeping.verify(data, url)[1] == []


def test_where_nothing_is_known_every_link_is_closed_and_the_office_is_told(older, url, tmp_path, request):
    _data, path, gone, _open = older
    fresh, other = tmp_path / "fresh", new_url(request) if url else None
    said = restore(fresh, path, other)
    assert any(re.match(r"2 links of owners are closed: which of them were withdrawn after 20\S+ is not known", line)
               for line in said), said
    assert any(line.startswith("Owners who were erased after 20") for line in said)
    shop = Shop(fresh, other)
    assert opened(shop, gone) == ["", "", ""]
    number = issued_at(shop.issued, LATER, answers="b")
    assert re.fullmatch(r"2027-0002-[0-9A-Z]{4}", number), "not 2027-0002, which is in somebody's hands"
    shop.store.close()
    # the same backup once more elsewhere: another mark, so another number
    third = new_url(request) if url else None
    restore(tmp_path / "third", path, third)
    again = Shop(tmp_path / "third", third)
    assert issued_at(again.issued, LATER, answers="b") != number
    again.store.close()


def test_also_when_neither_file_nor_books_can_be_read(older, url):
    data, path, gone, _open = older
    spoil(data, url)
    (data / NAME).write_text("{")
    said = restore(data, path, url, is_replace=True)
    assert any("links of owners are closed" in line for line in said), said
    shop = Shop(data, url)
    assert opened(shop, gone) == ["", "", ""]
    shop.store.close()
    assert keeping.verify(data, url)[1] == []


def test_the_old_books_tell_where_the_file_is_gone(older, url):
    data, path, gone, open_still = older
    (data / NAME).unlink()
    said = restore(data, path, url, is_replace=True)
    assert not any("links of owners are closed" in line for line in said), said
    shop = Shop(data, url)
    assert opened(shop, gone) == ["", "", ""] and opened(shop, [open_still]) == ["2027-0001"]
    shop.store.close()


def test_a_move_keeps_the_links_when_it_is_said_to_be_one(older, url, tmp_path, request):
    data, _path, gone, open_still = older
    last, _manifest = keeping.backup(data, url, tmp_path / "last.backup")
    fresh, other = tmp_path / "fresh", new_url(request) if url else None
    restore(fresh, last, other, are_links_kept=True)
    shop = Shop(fresh, other)
    assert opened(shop, [*gone, open_still]) == ["", "", "", "2027-0001"]
    shop.store.close()


def test_another_shops_file_and_books_are_not_believed(older, url, tmp_path):
    data, path, gone, _open = older
    stranger = shop_at(tmp_path / "stranger", None)
    issued_at(stranger.issued, MADE)
    stranger.store.close()
    said = restore(tmp_path / "stranger", path, None, is_replace=True)
    assert any("links of owners are closed" in line for line in said), said
    shop = Shop(tmp_path / "stranger")
    assert opened(shop, gone) == ["", "", ""]
    assert Lasting(data).read()["shop"] == Lasting(tmp_path / "stranger").read()["shop"]
    shop.store.close()


def test_reports_of_books_that_went_another_way_are_not_taken_over(older, url, tmp_path):
    """Two restores of one backup: each shop issued a report of its own since; neither takes the other's for its past."""
    data, path, _gone, _open = older
    restore(tmp_path / "twin", path, None)
    twin = Shop(tmp_path / "twin")
    own = issued_at(twin.issued, LATER, answers="x")
    twin.store.close()
    newer, _manifest = keeping.backup(tmp_path / "twin", None, tmp_path / "twin.backup")
    said = restore(data, newer, url, is_replace=True)
    assert not any("taken over" in line for line in said), said
    shop = Shop(data, url)
    assert shop.issued.find(own) and shop.issued.find("2027-0003") is None
    assert issued_at(shop.issued, LATER, answers="e").startswith("2027-0004-")
    shop.store.close()
    assert keeping.verify(data, url)[1] == []


def test_a_report_that_was_altered_in_the_old_books_is_not_taken_over(older, url):
    data, path, _gone, _open = older
    shop = Shop(data, url)
    shop.store.rows("UPDATE issued_report SET verdict = 'ok_to_reinstall' WHERE number = '2027-0003'")
    shop.store.close()
    said = restore(data, path, url, is_replace=True)
    assert not any("taken over" in line for line in said), said
    assert keeping.verify(data, url)[1] == []


def test_a_backup_made_before_there_were_seals_restores_and_is_sealed(tmp_path, url):
    shop = shop_at(tmp_path / "shop", url)
    number = issued_at(shop.issued, MADE)
    for table in ("report_seal", "report_series", "erasure"):
        shop.store.rows(f"DROP TABLE {table}")
    shop.store.close()
    assert keeping.verify(tmp_path / "shop", url)[0]["reports"] == 0
    path, _manifest = keeping.backup(tmp_path / "shop", url, tmp_path / "older.backup")
    restore(tmp_path / "fresh", path)
    restored = Shop(tmp_path / "fresh")
    report = restored.issued.find(number)
    assert (report["serial"], report["place_chain"], report["content"]["issue"]) == (1, "", number)
    restored.store.close()
    counts, problems = keeping.verify(tmp_path / "fresh")
    assert (counts["reports"], problems) == (1, [])
    assert report_check.emptied(shop.store) == set()
    shop.store.close()


def test_the_file_forgets_links_that_are_over_and_survives_being_spoilt(tmp_path):
    lasting = Lasting(tmp_path)
    lasting.withdraw("a" * 32, {"one": "2027-01-02", "two": "2027-03-01"}, "2027-01-01")
    lasting.withdraw("a" * 32, {"three": "2027-03-01"}, "2027-02-01")
    assert sorted(lasting.withdrawn()) == ["three", "two"]
    assert lasting.next_count("a" * 32, 2027, 4) == 5 and lasting.next_count("a" * 32, 2027, 0) == 6
    assert lasting.next_count("b" * 32, 2027, 0) == 1, "another shop's counts are its own"
    for spoilt in ("", "[]", '{"shop": 1}', '{"shop": "", "numbers": {}, "withdrawn": [], "erased": {}}'):
        (tmp_path / NAME).write_text(spoilt)
        assert lasting.read() is None and lasting.withdrawn() == {} and lasting.erased() == {}
    (tmp_path / NAME).unlink()
    lasting.learn("", {}, {}, {})
    assert json.loads((tmp_path / NAME).read_text())["shop"] == "" and lasting.knows("") is None
    assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o600
    shutil.rmtree(tmp_path)
