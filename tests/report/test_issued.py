"""Issued reports: frozen under a number, recalled when they no longer stand, read by owners through a link.

All readings are invented; those of demo/shop.py stand there."""

import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest

from demo.shop import seed
from sync import lookup
from tests.office.test_access import office
from tests.office.test_photos import NAME, PHOTO, enrolled, photo, put, read
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform import create_app, keeping, restoring
from webform.checklist.case import basis_of
from webform.issued import Issued
from webform.shop import Shop, standing_ids

ROOT = Path(__file__).parents[2]
MADE = "2027-01-01T08:00:00.000Z"
WORSE_FLOW = {"bench": "good", "drop": {"n": "2.40", "u": "inH2O"}}


@pytest.fixture(scope="module")
def seeded(tmp_path_factory):
    """An app over the demo shop; each test has a job of its own in it."""
    made = create_app(tmp_path_factory.mktemp("issued") / "shop")
    made.extensions["doors"].ensure_office("harbour")
    seed(made.extensions["shop"])
    yield made
    made.extensions["shop"].store.close()


@pytest.fixture
def app(seeded):
    """The app with job demo1 signed as OK on readings that no other test has changed."""
    shop = seeded.extensions["shop"]
    change(shop, "after.flow", {"bench": "good", "drop": {"n": "1.78", "u": "inH2O"}})
    change(shop, "after.visual", {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"})
    sign(shop)
    return seeded


def change(shop, field, value, job="job:demo1"):
    receipt = shop.write(job, {field: value}, "person:kim", {field: standing_ids(lookup.view(shop.store, job), field)})
    assert receipt["status"] == "stored"


def sign(shop, decision=None, job="job:demo1"):
    state = shop.job_state(job)
    signoff = {"decision": decision or state["calculated"], "person": "person:kim"}
    receipt = shop.write(job, {"signoff": signoff}, "person:kim",
                         {"signoff": standing_ids(lookup.view(shop.store, job), "signoff")}, basis_of(state))
    assert receipt["status"] == "stored"


def form(desk, path="/office/jobs/demo1/report"):
    """What the issue button of the page sends."""
    page = desk.get(path).text
    return {"csrf_token": re.search(r'csrf_token" value="([^"]+)', desk.get("/office/books").text).group(1),
            "answers": (re.findall(r'name="answers" value="([0-9a-f]{32})"', page) or [""])[0]}


def issue(app):
    """(desk, number) of a report that was issued just now."""
    desk = office(app)
    done = desk.post("/office/jobs/demo1/report", data=form(desk))
    assert done.status_code == 302, done.text
    return desk, done.location.rpartition("/")[2]


def link(desk, number):
    page = desk.post(f"/office/issued/{number}/link", data=form(desk)).text
    return "/r/" + re.search(r'href="https?://[^/"]+/r/([\w-]+)"', page).group(1)


def sheet(page):
    """What stands on the paper, without the desk's buttons above it."""
    return page[page.index("<main"):]


def words_of(pdf):
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def test_an_issued_report_has_a_number_and_says_the_same_for_ever(app):
    desk, number = issue(app)
    assert re.fullmatch(r"20\d\d-\d{4}", number)
    page, paper = desk.get(f"/office/issued/{number}").text, desk.get(f"/office/issued/{number}.pdf").data
    assert f"Report {number}, issued" in page and f"Report {number}, issued" in words_of(paper) and "1.78" in page
    change(app.extensions["shop"], "work_order", "WO-ALTERED")
    assert sheet(desk.get(f"/office/issued/{number}").text) == sheet(page)
    assert desk.get(f"/office/issued/{number}.pdf").data == paper
    assert "WO-ALTERED" in desk.get("/office/jobs/demo1/report").text
    change(app.extensions["shop"], "work_order", "WO-101")


def test_what_it_was_made_of_is_kept_with_it(app):
    shop, (_desk, number) = app.extensions["shop"], issue(app)
    found, state = shop.issued.find(number), shop.job_state("job:demo1")
    assert (found["calculation"], found["rules"], found["verdict"]) == (state["calculation"], "start-4", "ok_to_reinstall")
    assert re.fullmatch(r"[0-9a-f]{32}", found["answers"]) and found["issued_at"][:4] == number[:4]
    assert found["content"]["may_issue"] is True and found["job"] == "job:demo1"


def test_pressing_twice_gives_one_number_and_numbers_rise(app):
    desk = office(app)
    sent = form(desk)
    first, again = (desk.post("/office/jobs/demo1/report", data=sent).location for _ in range(2))
    assert first == again
    sign(app.extensions["shop"])
    later = desk.post("/office/jobs/demo1/report", data=form(desk)).location
    assert int(later[-4:]) == int(first[-4:]) + 1
    assert f"Replaced by report {later[-9:]}" in desk.get(first).text
    job = desk.get("/office/jobs/demo1").text
    assert first[-9:] in job and later[-9:] in job and f"replaced by {later[-9:]}" in job


def test_only_what_the_page_showed_is_issued(app):
    desk, shop = office(app), app.extensions["shop"]
    sent, before = form(desk), len(shop.issued.of_job("job:demo1"))
    change(shop, "after.flow", {"bench": "good", "drop": {"n": "1.77", "u": "inH2O"}})
    sign(shop)
    assert desk.post("/office/jobs/demo1/report", data=sent).status_code == 409
    assert desk.post("/office/jobs/demo1/report", data={"csrf_token": sent["csrf_token"]}).status_code == 409
    assert len(shop.issued.of_job("job:demo1")) == before


def test_a_report_that_is_not_signed_cannot_be_issued(app):
    desk = office(app)
    sent = form(desk, "/office/jobs/demo2/report")
    assert sent["answers"] == ""
    from webform.report.made import made_of
    with app.test_request_context():
        answers = made_of(app.extensions["shop"], "demo2", "2026-11-25T08:00:00.000Z").answers
    assert desk.post("/office/jobs/demo2/report", data={**sent, "answers": answers}).status_code == 409
    assert desk.post("/office/jobs/nowhere/report", data=sent).status_code == 404


def test_a_report_that_waits_for_a_photo_cannot_be_issued_until_it_is_here(app):
    read(app, photo())
    sign(app.extensions["shop"])
    desk = office(app)
    assert form(desk)["answers"] == ""
    put(enrolled(app)[0])
    desk, number = issue(app)
    address = link(desk, number)
    stranger = app.test_client()
    assert f"{address}/photos/{NAME}?size=small" in stranger.get(address).text
    picture = stranger.get(f"{address}/photos/{NAME}?size=large")
    assert (picture.status_code, picture.mimetype) == (200, "image/jpeg") and picture.data != PHOTO
    assert picture.headers["Cache-Control"] == "no-store"
    assert stranger.get(f"{address}/photos/{'0' * 64}").status_code == 404
    assert stranger.get(f"{address}/photos/{NAME}?size=original").status_code == 404
    assert NAME in desk.get(f"/office/issued/{number}").text


def test_only_the_office_issues_and_makes_links(app):
    desk, number = issue(app)
    phone, stranger = enrolled(app)[0], app.test_client()
    for path in ("/office/jobs/demo1/report", f"/office/issued/{number}/link", f"/office/issued/{number}/withdraw"):
        assert phone.post(path).status_code in (401, 403) and stranger.post(path).status_code in (401, 403)
        assert desk.post(path).status_code == 403, "without the token of the page"
    for path in (f"/office/issued/{number}", f"/office/issued/{number}.pdf"):
        assert stranger.get(path).status_code == 302
    for path in ("/office/issued/2000-0001", "/office/issued/2000-0001.pdf"):
        assert desk.get(path).status_code == 404


def test_a_later_change_that_lowers_the_verdict_recalls_the_report(app):
    desk, number = issue(app)
    assert "Recall" not in desk.get("/office/").text
    change(app.extensions["shop"], "after.flow", WORSE_FLOW)
    app.extensions["shop"].judging.catch_up()
    sentence = f"Recall: report {number} no longer stands, because the job reads Hold now."
    today, job = desk.get("/office/").text, desk.get("/office/jobs/demo1").text
    assert sentence in today and sentence in job and "A reading changed after the sign-off" in today
    assert re.search(r'data-testid="recall"><a [^>]*>HL-S-1001 · HL 42 · [^<]+<br>', today), "whom to call"
    page, paper = desk.get(f"/office/issued/{number}").text, words_of(desk.get(f"/office/issued/{number}.pdf").data)
    for text in (page, paper):
        assert "Recalled: this report no longer stands" in text and "1.78" in text and "OK to reinstall" in text
    # the reading was a slip and is put right: the report stands again
    change(app.extensions["shop"], "after.flow", {"bench": "good", "drop": {"n": "1.78", "u": "inH2O"}})
    assert "Recall" not in desk.get("/office/jobs/demo1").text and "Recall" not in desk.get("/office/").text


def test_a_new_report_ends_the_recall_of_the_one_before_it(app):
    desk, number = issue(app)
    change(app.extensions["shop"], "after.flow", WORSE_FLOW)
    sign(app.extensions["shop"])
    assert "Recall: report" in desk.get("/office/jobs/demo1").text
    later = desk.post("/office/jobs/demo1/report", data=form(desk)).location[-9:]
    for path in ("/office/", "/office/jobs/demo1"):
        assert "Recall: report" not in desk.get(path).text
    page = desk.get(f"/office/issued/{number}").text
    assert f"Replaced by report {later}" in page and "Recalled" in page, "the old paper is still wrong in somebody's hands"


def test_a_calculation_that_reads_worse_recalls_too(app):
    shop, (desk, number) = app.extensions["shop"], issue(app)
    state = {**shop.job_state("job:demo1"), "verdict": "hold"}
    shop.issued.judged([state], shop.store.counter()["position"])
    assert [report["number"] for report in shop.issued.recalled()] == [number]
    assert "Recall" not in desk.get("/office/").text, "told only while the job itself says so"
    shop.issued.judged([{**state, "verdict": "ok_to_reinstall"}], 0)
    assert shop.issued.recalled(), "who saw less of the log has no say"
    shop.issued.judged([{**state, "verdict": "ok_to_reinstall"}], shop.store.counter()["position"])
    assert shop.issued.recalled() == []


def test_an_owner_reads_the_frozen_report_and_nothing_else(app):
    desk, number = issue(app)
    address = link(desk, number)
    assert len(address) >= len("/r/") + 43  # 256 bits in base64 without padding are 43 characters (RFC 4648, from memory)
    assert address != link(desk, number)
    stranger = app.test_client()
    for path in (address, address + "/pdf"):
        answer = stranger.get(path)
        assert answer.status_code == 200
        assert answer.headers["Cache-Control"] == "no-store" and answer.headers["Referrer-Policy"] == "no-referrer"
        assert "noindex" in answer.headers["X-Robots-Tag"]
    page = stranger.get(address).text
    assert f"Report {number}" in page and 'content="noindex"' in page and "/office/" not in page and "<form" not in page
    assert sheet(page) == sheet(desk.get(f"/office/issued/{number}").text)
    assert "Set-Cookie" not in stranger.get(address).headers
    stored = json.dumps(app.extensions["shop"].store.rows("SELECT * FROM report_link"))
    assert address[3:] not in stored


def test_a_withdrawn_link_is_not_found(app):
    desk, number = issue(app)
    address, other = link(desk, number), link(desk, number)
    assert "Withdraw the links (" in desk.get(f"/office/issued/{number}").text
    assert desk.post(f"/office/issued/{number}/withdraw", data=form(desk)).status_code == 302
    stranger = app.test_client()
    guess = stranger.get("/r/" + "A" * 43).text
    for path in (address, address + "/pdf", other, f"{address}/photos/{NAME}", "/r/" + "A" * 43):
        answer = stranger.get(path)
        assert answer.status_code == 404 and answer.headers["Cache-Control"] == "no-store", path
        assert "ask the shop that sent it for a new link" in answer.text and "/office" not in answer.text
        assert answer.text == guess, "who guesses learns no more than who was withdrawn"
    assert "Harbour Lane" not in guess
    page = desk.get(f"/office/issued/{number}").text
    assert "withdrawn" in page and "Withdraw the links" not in page
    assert stranger.get(link(desk, number)).status_code == 200


def test_an_owner_is_told_that_a_report_was_recalled_and_not_why(app):
    desk, number = issue(app)
    address = link(desk, number)
    change(app.extensions["shop"], "after.flow", WORSE_FLOW)
    page = app.test_client().get(address).text
    assert "Ask the shop before the filter is fitted" in page and "A reading changed after" not in page and "1.78" in page


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


def issued_at(issued, at, answers="a"):
    state = {"job": "job:j", "verdict": "replace", "calculation": "c", "rules": "start-4"}
    return issued.issue(lambda number: {"shop": "Häfen", "issue": number}, state, answers, "desk:office", at)


def test_numbers_begin_anew_each_year_and_the_owner_keeps_the_link_through_a_restore(tmp_path, url):
    shop = Shop(tmp_path / "shop", url)
    numbers = [issued_at(shop.issued, at, answers=at) for at in (
        "2026-12-31T08:00:00.000Z", "2026-12-31T09:00:00.000Z", "2027-01-01T08:00:00.000Z")]
    assert numbers == ["2026-0001", "2026-0002", "2027-0001"]
    shop.write("job:j", {"truck": "HL 1"}, "person:kim", {})
    secret, gone = shop.issued.links.make("2027-0001", MADE), shop.issued.links.make("2026-0002", MADE)
    shop.issued.links.withdraw(["2026-0002"], MADE)
    shop.job_state("job:j")
    before = shop.issued.of_job("job:j")
    shop.store.close()
    path, _manifest = keeping.backup(tmp_path / "shop", url, tmp_path / "one.backup")
    restoring.restore(tmp_path / "fresh", path, are_links_kept=True)
    again = Shop(tmp_path / "fresh")
    assert again.issued.of_job("job:j") == before and before[0]["content"] == {"shop": "Häfen", "issue": "2027-0001"}
    assert again.issued.links.opened(secret, MADE) == ("2027-0001", False)
    assert again.issued.links.opened(gone, MADE) == ("", False)
    assert re.fullmatch(r"2027-0002-[0-9A-Z]{4}", issued_at(again.issued, "2027-01-02T08:00:00.000Z", answers="b"))
    again.store.close()
    if url is not None:  # and back into the same database, whose tables are moved aside
        restoring.restore(tmp_path / "shop", path, url, is_replace=True)
        back = Shop(tmp_path / "shop", url)
        assert back.issued.of_job("job:j") == before and back.issued.links.opened(secret, MADE).number == "2027-0001"
        back.store.close()


@pytest.mark.postgresql
def test_reports_move_from_sqlite_to_postgresql(tmp_path, cluster):  # noqa: F811
    shop = Shop(tmp_path / "shop")
    issued_at(shop.issued, "2026-12-31T08:00:00.000Z")
    shop.store.close()
    path, _manifest = keeping.backup(tmp_path / "shop", None, tmp_path / "one.backup")
    url = cluster.new_url()
    restoring.restore(tmp_path / "new", path, url)
    moved = Shop(tmp_path / "new", url)
    assert moved.issued.find("2026-0001")["content"]["issue"] == "2026-0001"
    moved.store.close()


def test_two_programs_never_give_one_number_twice(tmp_path, url):
    shop = Shop(tmp_path / "shop", url)
    code = ("import sys; from pathlib import Path; from webform.shop import Shop\n"
            "shop = Shop(Path(sys.argv[1]), sys.argv[2] or None)\n"
            "state = {'job': '', 'verdict': 'replace', 'calculation': 'c', 'rules': 'r'}\n"
            "for turn in range(10):\n"
            "    state['job'] = f'job:{sys.argv[3]}-{turn}'\n"
            "    print(shop.issued.issue(lambda number: {}, state, 'a', 'desk:office', '2026-11-25T08:00:00.000Z'))\n")
    programs = [subprocess.Popen([sys.executable, "-c", code, shop.data, url or "", str(n)], cwd=ROOT, stdout=subprocess.PIPE,
                                 stderr=subprocess.PIPE, text=True) for n in range(3)]
    given = []
    for program in programs:
        said, trouble = program.communicate(timeout=120)
        assert program.returncode == 0, trouble
        given += said.split()
    assert sorted(given) == [f"2026-{n:04}" for n in range(1, 31)]
    assert isinstance(shop.issued, Issued)
    shop.store.close()
