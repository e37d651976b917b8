"""Finding filters, and the index behind it, on both databases: what finds what, what lags, what is forgotten. Invented."""

import threading

import pytest

from sync import lookup
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform import find_index, finding, judging, keeping, restoring
from webform.checklist import void
from webform.find_index import FindIndex
from webform.shop import Shop, standing_ids


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


@pytest.fixture
def shop(tmp_path, url):
    """Two owners, a model, three filters with a job each, and one without."""
    made = Shop(tmp_path / "shop", url)
    for record, answers in (
            ("owner:birch", {"name": "Birchwood Hauling"}), ("owner:oro", {"name": "Ærøskov Transport"}),
            ("model:m", {"number": "TK-290", "cross": "88-1204, Q 9"}),
            ("filter:a", {"serial": "E-3307-4210", "model": "model:m"}), ("filter:b", {"serial": "E-3317-4211"}),
            ("filter:c", {"serial": "F-3327-4210"}), ("filter:d", {"serial": "E-9999-0001", "model": "model:m"}),
            ("job:a", {"filter": "filter:a", "truck": "Grey tractor, KX 471", "work_order": "WO-80", "owner": "owner:birch"}),
            ("job:b", {"filter": "filter:b", "truck": "Red tipper, KX 472", "work_order": "WO-81", "owner": "owner:birch"}),
            ("job:c", {"filter": "filter:c", "truck": "White van, LM 9", "work_order": "WO-82", "owner": "owner:oro"})):
        write(made, record, **answers)
    yield made
    made.store.close()


def write(shop, record, **answers):
    view = lookup.view(shop.store, record)
    receipt = shop.write(record, answers, "person:kim", {field: standing_ids(view, field) for field in answers})
    assert receipt["status"] == "stored", receipt


def write_void(shop, record):
    seen = void.seen([lookup.view(shop.store, record)])
    shop.write(record, {"void": {"state": "void", "reason": "typed wrongly"}}, "desk:office", {}, {"evidence": seen})


def jobs(shop, typed):
    """The jobs that a text finds; the same with the index and, where it lags, without."""
    lagging = shop.finding.find(typed)
    while shop.index.is_behind():
        shop.index.step()
    assert shop.finding.find(typed) == lagging
    return [find.job for find in lagging.finds]


@pytest.mark.parametrize(("typed", "found"), [
    ("E-3317-4211", ["job:b"]), ("e33174211", ["job:b"]), ("4211", ["job:b"]), ("17-4211", ["job:b"]),
    ("4210", ["job:c", "job:a"]), ("211", []), ("KX 471", ["job:a"]), ("grey tractor", ["job:a"]),
    ("kx", ["job:b", "job:a"]), ("wo 82", ["job:c"]), ("81", ["job:b"]), ("birch", ["job:b", "job:a"]),
    ("haul", ["job:b", "job:a"]), ("aeroskov", ["job:c"]), ("ÆRØSKOV", ["job:c"]), ("birch tipper", ["job:b"]),
    ("haul 4210", ["job:a"]), ("birch van", []), ("tk290 kx471", ["job:a"]), ("tk 290", ["job:a", None]),
    ("881204", ["job:a", None]), ("q9", ["job:a", None]), ("0001", [None]), ("nothing of this", []), ("", []), (" - ", []),
    ("_%", []), ("'", [])])
def test_a_filter_is_found_by_what_people_know_of_it_the_newest_job_first(shop, typed, found):
    assert jobs(shop, typed) == found


def test_what_only_begins_so_is_found_when_nothing_reads_so_and_that_is_told(shop):
    assert not shop.finding.find("kx 471").is_loose
    write(shop, "job:c", truck="KX 471-B")  # begins so; the other one reads so
    assert jobs(shop, "kx 47") == ["job:c", "job:b", "job:a"] and shop.finding.find("kx 47").is_loose
    assert jobs(shop, "kx 471") == ["job:c", "job:a"] and not shop.finding.find("kx 471").is_loose
    assert jobs(shop, "birch tip") == ["job:b"] and shop.finding.find("birch tip").is_loose


def test_the_newest_job_of_a_filter_is_given_but_the_one_whose_work_order_was_named(shop):
    write(shop, "job:a2", filter="filter:a", truck="Blue tractor, LM 10", work_order="WO-90")
    assert jobs(shop, "E-3307-4210") == jobs(shop, "KX 471") == jobs(shop, "LM 10") == ["job:a2"]
    assert jobs(shop, "WO-80") == ["job:a"] and jobs(shop, "WO-90") == ["job:a2"]


def test_filters_that_were_joined_count_as_one_and_apart_again_as_two(shop):
    assert jobs(shop, "4210") == ["job:c", "job:a"]
    shop.join("filter:a", "filter:c", "desk:office", "")
    assert jobs(shop, "4210") == ["job:c"] == jobs(shop, "grey tractor")
    assert shop.finding.find("4210").finds[0].filters == ("filter:a", "filter:c")
    assert jobs(shop, "grey oro") == [] and jobs(shop, "grey aeroskov") == ["job:c"], "of either filter, not of neither"
    [link] = [entry["record"] for entry in lookup.records(shop.store, "link")]
    write_void(shop, link)
    assert jobs(shop, "4210") == ["job:c", "job:a"]


def test_a_truck_on_which_a_filter_was_fitted_finds_it_until_that_is_voided(shop):
    write(shop, "fitting:x", filter="filter:c", truck="QS 7", span={"since": "2026-11-25"})
    assert jobs(shop, "qs-7") == ["job:c"]
    write_void(shop, "fitting:x")
    assert jobs(shop, "qs-7") == []


def test_both_of_two_answers_find_a_filter_and_an_answer_that_was_replaced_does_not(shop):
    shop.write("job:c", {"truck": "QS 8"}, "person:ravn", {})
    assert jobs(shop, "qs 8") == jobs(shop, "lm 9") == ["job:c"]
    write(shop, "job:c", truck="QS 8")
    assert jobs(shop, "lm 9") == [] and jobs(shop, "qs 8") == ["job:c"]
    write(shop, "filter:c", serial=None)
    assert jobs(shop, "F-3327-4210") == []


def test_a_job_that_names_no_filter_is_found_too(shop):
    write(shop, "job:loose", truck="QS 9")
    assert jobs(shop, "qs9") == ["job:loose"] and shop.finding.find("qs9").finds[0].filters == ()
    assert jobs(shop, "qs 9 van") == []


def test_a_report_is_found_by_its_number_with_or_without_the_mark_of_its_series(shop):
    for count, mark, job in ((7, "", "job:a"), (12345, "-K7M2", "job:b")):
        shop.store.rows("INSERT INTO issued_report (number, year, count, job, verdict, issued_at, issued_by, answers, "
                        "calculation, rules, content, replaced_by) VALUES (?, 2026, ?, ?, '', '', '', '', '', '', '{}', '')",
                        (f"2026-{count:04}{mark}", count, job))
    write(shop, "job:a2", filter="filter:a")  # it came again; the paper is of the first stay
    assert jobs(shop, "2026-0007") == jobs(shop, "2026 0007") == jobs(shop, "20260007") == ["job:a"]
    assert jobs(shop, "2026-12345-k7m2") == jobs(shop, "202612345K7M2") == jobs(shop, "2026-12345") == ["job:b"]
    for other in ("2026-0008", "2026-7", "2026-12345-K7M3", "2026-0007-K7M2", "2026" + "9" * 40, "2025-0007"):
        assert jobs(shop, other) == []


def test_more_than_can_be_read_is_cut_off_and_told(shop, monkeypatch):
    monkeypatch.setattr(finding, "MOST_READ", 3)
    for n in range(3):
        write(shop, f"job:n{n}", filter="filter:c", owner="owner:birch", truck="KX 480")
    assert jobs(shop, "birch") == ["job:n2", "job:b"] and shop.finding.find("birch").is_more, "five jobs, four are read"
    assert jobs(shop, "kx 480") == ["job:n2"] and not shop.finding.find("kx 480").is_more
    assert len(jobs(shop, "kx")) == 1 and shop.finding.find("kx").is_more
    for n in range(4):
        write(shop, f"owner:many{n}", name=f"Many {n}")
    assert jobs(shop, "many") == [] and jobs(shop, "birch van") == ["job:n2"]


def test_of_two_words_the_rarer_one_is_followed_though_the_other_leads_to_more_than_can_be_read(shop, monkeypatch):
    monkeypatch.setattr(finding, "MOST_READ", 3)
    for n in range(9):  # their names are newer than that of the one that is meant
        write(shop, f"filter:n{n}", serial=f"N-{n}", model="model:m")
        write(shop, f"job:n{n}", filter=f"filter:n{n}", owner="owner:birch")
    for typed in ("tk290 tractor", "tractor tk290", "birchwood 4210", "hauling tractor"):
        assert jobs(shop, typed) == ["job:a"] and not shop.finding.find(typed).is_more


def test_a_job_under_two_filters_is_one_find(shop):
    shop.write("job:c", {"filter": "filter:d"}, "person:ravn", {})
    assert jobs(shop, "wo 82") == jobs(shop, "lm 9") == ["job:c"]


def test_an_index_that_lags_by_a_little_misses_nothing_and_one_that_lags_by_much_says_so(shop, monkeypatch):
    monkeypatch.setattr(finding, "MOST_UNREAD", 4)
    behind = shop.finding.find("aeroskov")
    assert behind.is_behind and behind.finds == []
    assert [find.job for find in shop.finding.find("white van").finds] == ["job:c"], "what moved last is read"
    assert jobs_after_reading(shop, "aeroskov") == ["job:c"]
    for n in range(4):
        write(shop, f"job:late{n}", truck="QS 7")
    found = shop.finding.find("qs 7")
    assert len(found.finds) == 4 and not found.is_behind


def jobs_after_reading(shop, typed):
    while shop.index.is_behind():
        shop.index.step()
    found = shop.finding.find(typed)
    assert not found.is_behind
    return [find.job for find in found.finds]


def words_of_record(shop, record):
    return sorted(row[0] for row in shop.store.rows("SELECT word FROM find_word WHERE record = ?", (record,)))


def test_a_word_that_was_noted_wrongly_shows_nothing_that_the_books_do_not_say(shop):
    jobs(shop, "x")
    shop.store.rows("INSERT INTO find_word (word, record) VALUES ('wforged', 'job:a')")
    shop.store.rows("INSERT INTO find_word (word, record) VALUES ('wforged', 'job:gone')")
    assert shop.finding.find("forged").finds == []


def test_the_background_fills_the_index_page_by_page_and_an_unchanged_record_is_not_written_again(shop, monkeypatch):
    monkeypatch.setattr(find_index, "PAGE", 3)
    shop.judging.catch_up()
    assert not shop.index.is_behind() and words_of_record(shop, "owner:birch") == ["nbirchwoodhauling", "nhauling"]
    written, write_many = [], shop.store.write_many

    def watched(sql, rows):
        listed = list(rows)
        written.extend(row for row in listed if "find_word" in sql)
        write_many(sql, listed)

    monkeypatch.setattr(shop.store, "write_many", watched)
    write(shop, "job:a", **{"note": "bolt seized"})
    shop.judging.catch_up()
    assert not shop.index.is_behind() and written == []
    write(shop, "job:a", work_order="WO-99")
    shop.judging.catch_up()
    assert sorted(written) == [("w80", "job:a"), ("w99", "job:a"), ("wwo80", "job:a"), ("wwo99", "job:a")]


def test_the_background_stands_still_while_a_push_is_at_work(shop, monkeypatch):
    monkeypatch.setattr(judging, "LONGEST_WAIT_S", 600.0)
    waits, wait = threading.Event(), shop.judging._wait_for_requests
    monkeypatch.setattr(shop.judging, "_wait_for_requests", lambda: (waits.set(), wait()))
    with shop.judging.giving_way():
        shop.judging.start()
        assert waits.wait(60) and shop.index.is_behind() and words_of_record(shop, "job:a") == []
    while shop.index.is_behind():
        threading.Event().wait(0.01)
    shop.judging.stop()
    assert words_of_record(shop, "job:a") != []


def test_two_programs_that_read_at_once_leave_one_index_that_is_right(shop, url):
    others = [Shop(shop.data, url) for _ in range(2)]
    for n in range(30):
        write(shop, f"job:n{n}", truck=f"QS {n}")

    def read(one):
        while one.index.is_behind():
            one.index.step()
        one.store.close()

    threads = [threading.Thread(target=read, args=(one,)) for one in others]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for one in others:  # the connection that it was made with
        one.store.close()
    assert all(words_of_record(shop, f"job:n{n}") == sorted({"wqs", f"w{n}", f"wqs{n}"}) for n in range(30))


def test_books_without_an_index_or_with_other_keys_are_read_anew_by_themselves(shop, url, monkeypatch):
    def rows():
        return shop.store.rows("SELECT word, record FROM find_word ORDER BY word, record")

    shop.judging.catch_up()
    before = rows()
    for spoil in (["DROP TABLE find_word", "DROP TABLE find_place"], ["UPDATE find_place SET made_by = 0"]):
        for sql in spoil:
            shop.store.rows(sql)
        shop.store.close()
        again = Shop(shop.data, url)
        assert again.index.is_behind() and rows() == []
        again.judging.catch_up()
        assert rows() == before
        again.store.close()
    assert FindIndex(shop.store).is_behind() is False, "of its own keys nothing is made anew"


def test_an_erased_owner_is_found_no_more_whatever_the_background_was_doing(shop, url):
    shop.judging.catch_up()
    assert jobs(shop, "birchwood") == ["job:b", "job:a"]
    shop.erasures.erase("owner:birch", "office", "asked", "2026-11-26T10:00:00.000Z")
    assert words_of_record(shop, "owner:birch") == [] == jobs(shop, "birchwood") == jobs(shop, "hauling")
    assert jobs(shop, "grey tractor") == ["job:a"], "the job itself stays"
    write(shop, "owner:birch", name="Birchwood Hauling")  # as a phone that did not know
    shop.judging.catch_up()
    shop.erasures.came_in(["owner:birch"], has_held=False)
    assert words_of_record(shop, "owner:birch") == [] == jobs(shop, "birchwood")


def test_verify_backup_and_restore_hold_and_the_restored_books_are_read_anew(shop, url):
    shop.judging.catch_up()
    path, _manifest = keeping.backup(shop.data, url)
    shop.erasures.erase("owner:birch", "office", "asked", "2026-11-26T10:00:00.000Z")
    assert keeping.verify(shop.data, url)[1] == []
    shop.store.close()
    said = restoring.restore(shop.data, path, url, is_replace=True)
    assert any("erased again" in line for line in said), said
    again = Shop(shop.data, url)
    assert again.index.is_behind(), "a restore drops what is derived"
    assert jobs(again, "birchwood") == [] and jobs(again, "4211") == ["job:b"]
    again.judging.catch_up()
    assert words_of_record(again, "owner:birch") == [] and words_of_record(again, "job:a") != []
    assert keeping.verify(shop.data, url)[1] == []
    again.store.close()


@pytest.mark.postgresql
def test_postgresql_too_finds_words_and_their_beginnings_by_the_index(cluster, tmp_path):  # noqa: F811
    shop = Shop(tmp_path / "shop", cluster.new_url())
    shop.store.rows("INSERT INTO find_word SELECT 'w' || n, 'job:' || n FROM generate_series(1, 20000) AS n")
    shop.store.rows("ANALYZE find_word")
    for condition in ("word = 'w777'", "word >= 'w777' AND word < 'w777\U0010ffff'", "record = 'job:777'"):
        plan = shop.store.rows("EXPLAIN SELECT record FROM find_word WHERE " + condition + " LIMIT 201")
        assert "Index" in repr(plan) and "Seq Scan" not in repr(plan), plan
    found = shop.store.rows("SELECT COUNT(*) FROM find_word WHERE word >= 'w777' AND word < 'w777\U0010ffff'")
    assert found == [(11,)]  # w777, w7770 to w7779
    shop.store.close()
