"""`ashbook verify` proves the issued reports: whatever direct SQL does to them is found, and papers are compared."""

import json
import re

import pytest

from tests.report.test_issued import MADE
from webform import keeping, report_check, sealing
from webform.issued import paper_line, sealed
from webform.shop import Shop

from .shops import ashbook, at, refused
from .test_put_back import shop_at


@pytest.fixture
def books(tmp_path, url):
    """A shop with four reports of two jobs, one of them replaced, and three links, one of them withdrawn."""
    shop = shop_at(tmp_path / "shop", url)
    for n, name in enumerate(("job:a", "job:b", "job:a", "job:c"), 1):
        shop.write(name, {"truck": f"HL {n}"}, "person:kim", {})
        state = {"job": name, "verdict": "replace", "calculation": "c", "rules": "start-2"}
        shop.issued.issue(lambda number: {"shop": "Häfen", "issue": number, "facts": []}, state, str(n), "desk:office", MADE)
    shop.issued.links.make("2027-0001", MADE)
    shop.issued.links.make("2027-0002", "2099-01-01T00:00:00.000Z")
    shop.issued.links.withdraw(["2027-0002"], MADE)
    yield shop
    shop.store.close()


def found(shop, papers=()):
    """(code, where) of what verify finds, by the sentences it says."""
    url = shop.store.url if shop.store.is_postgresql else None
    codes = {sentence: code for code, sentence in keeping.SENTENCES.items()}
    return [(codes[sentence], where) for where, sentence in keeping.verify(shop.data, url, papers=papers)[1]]


TAMPERED = {
    "content edited": (["UPDATE issued_report SET content = replace(content, 'Häfen', 'Hafen') WHERE number = '2027-0002'"],
                       "report_altered"),
    "verdict edited": (["UPDATE issued_report SET verdict = 'ok_to_reinstall' WHERE number = '2027-0002'"], "report_altered"),
    "moved to another job": (["UPDATE issued_report SET job = 'job:z' WHERE number = '2027-0002'"], "report_altered"),
    "its day edited": (["UPDATE issued_report SET issued_at = '2026-01-01T00:00:00.000Z' WHERE number = '2027-0001'"],
                       "report_altered"),
    "its basis edited": (["UPDATE issued_report SET answers = 'x' WHERE number = '2027-0001'"], "report_altered"),
    "its place edited": (["UPDATE report_seal SET place = 1 WHERE number = '2027-0002'"], "report_altered"),
    "opening emptied": (["UPDATE report_seal SET opening = '{}' WHERE number = '2027-0002'"], "report_altered"),
    "a report deleted": (["DELETE FROM issued_report WHERE number = '2027-0002'"], "report_missing"),
    "a report deleted with its seal": (["DELETE FROM issued_report WHERE number = '2027-0002'",
                                        "DELETE FROM report_seal WHERE number = '2027-0002'"], "report_chain_broken"),
    "a report put in": (["INSERT INTO issued_report (number, year, count, job, verdict, issued_at, issued_by, answers, "
                         "calculation, rules, content, replaced_by) SELECT '2027-0009', year, 9, 'job:new', verdict, "
                         "issued_at, issued_by, answers, calculation, rules, content, '' FROM issued_report "
                         "WHERE number = '2027-0002'"], "report_unsealed"),
    "a seal taken out": (["DELETE FROM report_seal WHERE number = '2027-0004'"], "report_unsealed"),
    "a seal altered": (["UPDATE report_seal SET seal = replace(seal, substr(seal, 1, 9), 'invented0') "
                        "WHERE number = '2027-0003'"], "report_chain_broken"),
    "the order altered": (["UPDATE report_seal SET serial = 9 WHERE number = '2027-0002'"], "report_chain_broken"),
    "said to be replaced": (["UPDATE issued_report SET replaced_by = '2027-0004' WHERE number = '2027-0002'"],
                            "report_replaced_wrongly"),
    "said to stand": (["UPDATE issued_report SET replaced_by = '' WHERE number = '2027-0001'"], "report_replaced_wrongly"),
    "renumbered": (["UPDATE issued_report SET number = '2027-0007' WHERE number = '2027-0004'"], "report_unsealed"),
    "a withdrawn link opened": (["UPDATE report_link SET withdrawn_at = ''"], "link_reopened"),
}


@pytest.mark.parametrize("what", TAMPERED)
def test_what_direct_sql_does_to_a_report_is_found(books, what):
    assert found(books) == []
    statements, code = TAMPERED[what]
    for sql in statements:
        books.store.rows(sql)
    assert code in [entry[0] for entry in found(books)], found(books)


def test_a_seal_that_was_taken_out_is_not_made_again_at_the_next_start(books, url):
    books.store.rows("UPDATE issued_report SET verdict = 'clean' WHERE number = '2027-0004'")
    books.store.rows("DELETE FROM report_seal WHERE number = '2027-0004'")
    Shop(books.data, url).store.close()
    assert found(books) == [("report_unsealed", "report 2027-0004")]


def test_a_seal_made_anew_over_an_altered_report_breaks_the_chain_of_seals(books):
    report = books.issued.find("2027-0002")
    report["verdict"] = "ok_to_reinstall"
    seal, opening = sealing.seal(sealed(report))
    books.store.rows("UPDATE issued_report SET verdict = 'ok_to_reinstall' WHERE number = '2027-0002'")
    books.store.rows("UPDATE report_seal SET seal = ?, opening = ? WHERE number = '2027-0002'", (seal, json.dumps(opening)))
    assert found(books) == [("report_chain_broken", "report 2027-0002")]


def test_a_log_that_was_made_anew_below_a_report_is_found_by_its_place(books):
    rewrite_log(books)
    assert [entry for entry in found(books) if entry[0] == "report_place_differs"] == [
        ("report_place_differs", f"report 2027-000{n}") for n in range(1, 5)]


def rewrite_log(shop):
    """Somebody takes change 2 out of the log and makes everything that tells of it anew, chain and records too."""
    from sync import keep
    from sync.log import FIRST_CHAIN, next_chain
    rows = shop.store.rows("SELECT position, id, hash FROM change_log WHERE position <> 2 ORDER BY position")
    shop.store.rows("DELETE FROM change_log WHERE position = 2")
    chain = FIRST_CHAIN
    for place, (position, identity, content_hash) in enumerate(rows, 1):
        chain = next_chain(chain, identity, content_hash)
        shop.store.rows("UPDATE change_log SET position = ?, chain = ? WHERE position = ?", (place, chain, position))
    shop.store.rows("UPDATE counter SET position = ?, chain = ?", (len(rows), chain))
    keep.rebuild(shop.store)


def test_who_makes_everything_anew_is_caught_by_a_single_paper(books):
    """Log, chain, records, reports, seals and their chain are all made to fit; one paper in a drawer tells."""
    papers = [paper_line(books.issued.find(f"2027-000{n}")) for n in range(1, 5)]
    assert found(books, papers) == []
    assert re.fullmatch(r"2027-0004/5:[0-9a-f]{4}(-[0-9a-f]{4}){2}/[0-9a-f]{4}(-[0-9a-f]{4}){2}", papers[3])
    rewrite_log(books)
    books.store.rows("UPDATE report_seal SET epoch = 'x'")
    old = {number: books.issued.find(number) for number in ("2027-0001", "2027-0002", "2027-0003", "2027-0004")}
    books.store.rows("DELETE FROM report_seal")
    for number, report in old.items():
        place = max(1, report["place"] - 1)
        books.issued._seal(report, {"owner": "", "epoch": "x", "place": place,
                                    "place_chain": books.store.chain_at(place)})
        assert books.issued.find(number)["serial"]
    assert found(books) == [], "by themselves they are sound"
    for paper in papers:
        codes = {code for code, _where in found(books, [paper])}
        assert {"paper_place_differs", "paper_differs"} <= codes, paper


def test_a_paper_is_compared_by_place_and_seal_and_a_wrong_line_is_said(books, url):
    line = paper_line(books.issued.find("2027-0003"))
    place, _, seal = line.rpartition("/")
    for good in (line, place, line.replace("-", "").replace("20270003", "2027-0003"), f"  {line[:12]} {line[12:]} "):
        assert found(books, [good]) == [], good
    other = line[:-1] + ("0" if line[-1] != "0" else "1")
    assert found(books, [other]) == [("paper_differs", "the paper of report 2027-0003")]
    assert ("paper_unknown", "the paper of report 2027-0099") in found(books, [line.replace("2027-0003", "2027-0099")])
    later = place.replace("/4:", "/999:")
    assert {code for code, _ in found(books, [later])} == {"paper_place_differs", "paper_differs"}
    for wrong in ("", "2027-0003", f"2027-0003/4:{seal[:9]}", "2027-0003/4:zzzz-zzzz-zzzz", place + "/1234", "x" * 100):
        with pytest.raises(report_check.UnreadablePaper):
            found(books, [wrong])
    done = ashbook("verify", "--data", books.data, "--paper", line, "--paper", place, *at(url))
    assert done.returncode == 0 and "4 reports" in done.stdout, done.stderr
    done = ashbook("verify", "--data", books.data, "--paper", other, *at(url))
    assert done.returncode == 1 and "is not the one on this paper" in done.stderr
    assert "Type it as it is printed" in refused(ashbook("verify", "--data", books.data, "--paper", "2027", *at(url)))


def test_books_of_a_time_before_reports_are_proven_without_them(tmp_path, url):
    shop = Shop(tmp_path / "shop", url)
    for table in ("issued_report", "report_link", "report_seal", "report_series", "erasure"):
        shop.store.rows(f"DROP TABLE {table}")
    assert found(shop) == []
    assert found(shop, ["2027-0001/0:0000-0000-0000"]) == [("paper_unknown", "the paper of report 2027-0001")]
    shop.store.close()
