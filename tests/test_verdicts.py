"""Kept verdicts: judged once in whatever process, never stale, judged anew after an upgrade, on both databases.

All readings are invented; those of demo/shop.py stand there."""

import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from demo.shop import seed
from sync import lookup
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform import create_app, judging, report_tables
from webform.checklist import case
from webform.checklist.case import basis_of
from webform.shop import Shop, open_store, standing_ids
from webform.verdicts import TABLES, Verdicts

ROOT = Path(__file__).parents[1]
JOBS = [f"job:demo{place}" for place in range(1, 6)]


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


@pytest.fixture(scope="module")
def seeded(tmp_path_factory):
    """The folder of the demo shop, to be copied."""
    made = Shop(tmp_path_factory.mktemp("seeded"))
    seed(made)
    made.store.rows("PRAGMA wal_checkpoint(TRUNCATE)")
    made.store.close()
    return made.data


@pytest.fixture
def shop(tmp_path, url, seeded):
    if url is None:
        shutil.copytree(seeded, tmp_path / "shop")
    made = Shop(tmp_path / "shop", url)
    if url is not None:
        seed(made)
    yield made
    made.store.close()


@pytest.fixture
def judged(monkeypatch):
    """The jobs that were judged, in their order."""
    found, judge = [], case.job_state

    def counted(job, *more):
        found.append(job)
        return judge(job, *more)

    monkeypatch.setattr(case, "job_state", counted)
    return found


def another(shop, url, calculation=None):
    """The same books in the hands of another program, under another calculation where one is named."""
    made = Shop(shop.data, url)
    made.calculation = made.verdicts.calculation = made.judging.calculation = calculation or shop.calculation
    return made


def sign(shop, job, decision=None, seen=None, calculation=None):
    state = shop.job_state(job)
    basis = {**basis_of(state), **({"verdict": seen, "calculated": seen} if seen else {}),
             **({"calculation": calculation} if calculation else {})}
    receipt = shop.write(job, {"signoff": {"decision": decision or state["verdict"], "person": "person:kim"}}, "person:kim",
                         {"signoff": standing_ids(lookup.view(shop.store, job), "signoff")}, basis)
    assert receipt["status"] == "stored"


def test_a_job_is_judged_once_in_whatever_process(shop, url, judged):
    first = shop.job_state(JOBS[0])
    other = another(shop, url)
    assert other.job_state(JOBS[0]) == first == shop.job_state(JOBS[0])
    assert judged == JOBS[:1]
    assert {entry["job"]: entry["state"] for entry in other.todays_jobs()}[JOBS[0]] == first
    assert sorted(judged) == JOBS
    other.todays_jobs()
    assert sorted(judged) == JOBS
    other.store.close()


def test_a_kept_state_is_what_judging_says(shop):
    for job in JOBS:
        fresh = case.job_state(job, shop.views_of_job(job), None, shop.calculation)
        seen = shop.store.counter()["position"]
        for _ in range(2):  # judged, then kept
            assert shop.verdicts.states({job: shop.views_of_job(job)}, seen)[job] == fresh


CHANGES = {
    "a reading": ("job:demo1", {"after.flow": {"bench": "good", "drop": {"n": "1.79", "u": "inH2O"}}}),
    "a field that only waits": ("job:demo1", {"note": "bolt seized"}),
    "a round": ("round:demo1-9", {"job": "job:demo1", "treatment": {"method": "air", "minutes": {"n": "5", "u": "min"}}}),
    "its filter": ("filter:demo1", {"unit_kind": "one_box"}),
    "its model": ("model:window", {"depth": {"n": "291", "u": "mm"}}),
    "who may sign": ("person:kim", {"may_sign": "no"}),
    "the shop's rules": ("shop:rules", {"rules": {"lit_cells": {"n": "10", "u": ""}, "why": "invented"}}),
    "another stay of the filter": ("job:other", {"filter": "filter:demo1"}),
    "a tag that leads to two filters": ("tag:7K3M9QX07", {"filter": "filter:demo2"}),
    "a filter found to be the same one": ("link:one", {"one": "filter:demo1", "other": "filter:demo2"}),
    "a void": ("job:demo1", {"void": {"state": "void", "reason": "typed twice"}}),
}


@pytest.mark.parametrize("what", CHANGES)
def test_a_state_is_never_kept_beyond_what_it_was_made_of(shop, judged, what):
    shop.job_state(JOBS[0])
    record, answers = CHANGES[what]
    view = lookup.view(shop.store, record)
    replaces = {} if record.startswith("tag:") else {field: standing_ids(view, field) for field in answers}
    receipt = shop.write(record, answers, "person:kim", replaces)
    assert receipt["status"] == "stored", receipt
    del judged[:]
    shop.job_state(JOBS[0])
    shop.job_state(JOBS[0])
    assert judged == JOBS[:1], what


@pytest.mark.parametrize("what", CHANGES)
def test_the_background_finds_every_job_that_a_change_feeds(shop, judged, what):
    shop.judging.catch_up()
    record, answers = CHANGES[what]
    view = lookup.view(shop.store, record)
    replaces = {} if record.startswith("tag:") else {field: standing_ids(view, field) for field in answers}
    assert shop.write(record, answers, "person:kim", replaces)["status"] == "stored"
    shop.judging.catch_up()
    del judged[:]
    shop.job_state(JOBS[0])
    assert judged == [], what


def test_the_background_judges_a_one_box_when_a_brick_of_it_was_read(shop, judged):
    for record, answers in (
            ("filter:box", {"unit_kind": "one_box", "serial": "BOX-1"}), ("job:box", {"filter": "filter:box"}),
            ("filter:brick", {"unit_kind": "wall_flow", "serial": "BRICK-1", "box": "filter:box"}),
            ("job:brick", {"filter": "filter:brick"}), ("round:brick", {"job": "job:brick"})):
        assert shop.write(record, answers, "person:kim", {})["status"] == "stored"
    shop.judging.catch_up()
    for record, answers in (
            ("job:brick", {"after.light": {"kind": "crack"}}),
            ("round:brick", {"treatment": {"method": "air", "minutes": {"n": "5", "u": "min"}}})):
        assert shop.write(record, answers, "person:kim", {})["status"] == "stored"
        shop.judging.catch_up()
        del judged[:]
        assert shop.job_state("job:box")["verdict"] == "replace" and judged == [], record


def test_what_no_verdict_reads_judges_nothing_anew(shop, judged):
    shop.job_state(JOBS[0])
    shop.write("owner:moorland", {"contact": "by telephone"}, "desk:office", {})
    shop.write("person:ravn", {"name": "Ravn B."}, "desk:office", {"name": standing_ids(
        lookup.view(shop.store, "person:ravn"), "name")})
    shop.job_state(JOBS[0])
    assert judged == JOBS[:1]


def test_states_that_are_missing_are_made_again(shop, url):
    before = [shop.job_state(job) for job in JOBS]
    for table in TABLES:
        shop.store.rows(f"DROP TABLE {table}")
    again = another(shop, url)
    assert [again.job_state(job) for job in JOBS] == before
    again.store.close()


def test_a_page_is_read_although_nothing_can_be_kept(shop):
    shop.store.rows("ALTER TABLE verdict DROP COLUMN moved")  # whatever the reason may be, a full disk for one
    assert shop.job_state(JOBS[0])["verdict"] == "ok_to_reinstall"


def test_a_job_that_is_not_there_is_not_kept(shop):
    shop.job_state("job:nowhere")
    assert shop.store.rows("SELECT COUNT(*) FROM verdict WHERE job = 'job:nowhere'")[0][0] == 0


def test_who_saw_less_of_the_log_does_not_overwrite_who_saw_more(shop):
    views = shop.views_of_job(JOBS[0])
    early = shop.store.counter()["position"]
    shop.write(JOBS[0], {"note": "later"}, "person:kim", {})
    shop.job_state(JOBS[0])
    kept = shop.store.rows("SELECT answers, seen FROM verdict WHERE job = ?", (JOBS[0],))
    shop.verdicts.states({JOBS[0]: views}, early)
    assert shop.store.rows("SELECT answers, seen FROM verdict WHERE job = ?", (JOBS[0],)) == kept


def test_after_a_push_the_jobs_that_it_touched_are_judged_in_the_background(shop, judged):
    shop.judging.catch_up()
    assert sorted(set(judged)) == JOBS and shop.judging.left() == 0
    del judged[:]
    shop.write("round:demo2-1", {"job": JOBS[1]}, "person:kim", {})
    shop.judging.catch_up()
    assert judged == [JOBS[1]]
    shop.write("model:bare", {"depth": {"n": "291", "u": "mm"}}, "desk:office", {"depth": standing_ids(
        lookup.view(shop.store, "model:bare"), "depth")})
    shop.judging.catch_up()
    assert judged[1:] == [JOBS[4]]
    shop.write("person:alex", {"may_sign": "yes"}, "desk:office", {"may_sign": standing_ids(
        lookup.view(shop.store, "person:alex"), "may_sign")})
    shop.judging.catch_up()
    assert sorted(judged[2:]) == JOBS
    del judged[:]
    shop.todays_jobs()
    assert judged == []


def test_the_thread_wakes_for_what_comes_in(shop, url):
    shop.judging.start()
    try:
        shop.write("job:demo1", {"note": "from elsewhere"}, "person:kim", {})
        other, done = another(shop, url), threading.Event()
        while shop.judging.left():
            done.wait(0.02)
        assert other.verdicts.states({JOBS[0]: other.views_of_job(JOBS[0])}, 0)[JOBS[0]]["job"] == JOBS[0]
        other.store.close()
    finally:
        shop.judging.stop()


def test_the_background_stands_still_while_a_request_is_at_work(shop, judged, monkeypatch):
    monkeypatch.setattr(judging, "LONGEST_WAIT_S", 600.0)
    waits, done, wait = threading.Event(), threading.Event(), shop.judging._wait_for_requests

    def watched():
        waits.set()
        wait()

    monkeypatch.setattr(shop.judging, "_wait_for_requests", watched)
    with shop.judging.giving_way():
        shop.judging.start()
        assert waits.wait(60) and shop.judging.left() == 5 and judged == []
        with shop.judging.giving_way():
            pass  # another request comes and goes meanwhile
        assert judged == []
    while shop.judging.left():
        done.wait(0.02)
    assert sorted(set(judged)) == JOBS
    shop.judging.stop()


def test_requests_without_an_end_do_not_keep_it_from_coming_on(shop, judged, monkeypatch):
    monkeypatch.setattr(judging, "LONGEST_WAIT_S", 0.001)
    with shop.judging.giving_way():
        shop.judging.catch_up()
    assert sorted(set(judged)) == JOBS


def test_a_stop_does_not_wait_for_requests(shop, monkeypatch):
    monkeypatch.setattr(judging, "LONGEST_WAIT_S", 600.0)
    waits, wait = threading.Event(), shop.judging._wait_for_requests
    monkeypatch.setattr(shop.judging, "_wait_for_requests", lambda: (waits.set(), wait()))
    with shop.judging.giving_way():
        shop.judging.start()
        assert waits.wait(60)
        shop.judging.stop()
    assert not shop.judging._thread.is_alive()


def test_a_push_and_a_pull_have_the_background_give_way(tmp_path, seeded, monkeypatch):
    from sync import wire
    from tests.office.test_access import enrolled
    shutil.copytree(seeded, tmp_path / "served")
    app = create_app(tmp_path / "served")
    phone, seen = enrolled(app)[0], []
    at_work = app.extensions["shop"].judging
    for name in ("push", "answer_pull"):
        real = getattr(wire, name)
        monkeypatch.setattr(wire, name, lambda *given, real=real, **named: (seen.append(at_work._at_work),
                                                                            real(*given, **named))[1])
    assert phone.post("/sync/push", json={"schema": 1, "changes": [], "hashes": []}).status_code == 200
    assert phone.post("/sync/pull", json={"cursor": None, "next": None}).status_code == 200
    assert seen == [1, 1] and at_work._at_work == 0
    app.extensions["shop"].store.close()


def test_after_an_upgrade_all_that_matter_are_judged_and_the_rest_when_asked_for(shop, url, judged):
    sign(shop, JOBS[0])
    sign(shop, JOBS[1])
    shop.judging.catch_up()
    # the second job was signed long ago, as far as this server's clock can tell
    shop.store.rows("UPDATE change_log SET received_at = '2020-01-01T00:00:00.000Z'")
    newer = another(shop, url, "newer")
    assert newer.judging.left() == 5
    del judged[:]
    newer.judging.catch_up()
    assert sorted(judged) == JOBS[2:] and newer.judging.left() == 0
    assert newer.job_state(JOBS[0])["calculation"] == "newer"
    assert newer.store.rows("SELECT DISTINCT calculation FROM verdict") == [("newer",)]
    assert newer.store.rows("SELECT calculation FROM verdict_place") == [("newer",)]
    newer.store.close()


def test_recently_signed_jobs_are_judged_after_an_upgrade(shop, url, judged):
    sign(shop, JOBS[0])
    newer = another(shop, url, "newer")
    del judged[:]
    newer.judging.catch_up()
    assert sorted(judged) == JOBS
    newer.store.close()


def test_the_pass_goes_on_where_it_was_stopped(shop, url, judged, monkeypatch):
    monkeypatch.setattr(judging, "PAGE", 2)
    newer = another(shop, url, "newer")
    assert newer.judging.step() and newer.judging.left() == 3
    newer.store.close()
    again = another(shop, url, "newer")
    assert again.judging.left() == 3
    del judged[:]
    again.judging.catch_up()
    assert len(judged) == 3 and again.judging.left() == 0
    again.store.close()


def test_a_sign_off_that_the_new_calculation_reads_worse_holds_the_job(shop):
    # demo2 is a proven replace; an older calculation had read "clean" and Kim signed that
    sign(shop, "job:demo4", "clean", seen="ok_to_reinstall", calculation="older")
    state = shop.job_state("job:demo4")
    assert (state["verdict"], state["why"][-1]["code"]) == ("hold", "state.calculation_changed")
    sign(shop, "job:demo4", "clean")
    assert shop.job_state("job:demo4")["verdict"] == "clean"


def test_several_programs_judge_at_once_and_none_fails(shop, url):
    shop.store.close()
    code = ("import sys; from pathlib import Path; from webform.shop import Shop\n"
            "shop = Shop(Path(sys.argv[1]), sys.argv[2] or None)\n"
            "for turn in range(15):\n"
            "    assert shop.write('job:demo1', {'note': str(turn)}, 'person:kim', {})['status'] == 'stored'\n"
            "    shop.judging.catch_up(); shop.todays_jobs()\n"
            "print(shop.judging.left())")
    programs = [subprocess.Popen([sys.executable, "-c", code, shop.data, url or ""], cwd=ROOT, stdout=subprocess.PIPE,
                                 stderr=subprocess.PIPE, text=True) for _ in range(3)]
    for program in programs:
        said, trouble = program.communicate(timeout=120)
        assert program.returncode == 0 and said.strip().isdigit(), trouble
    shop.judging.catch_up()
    assert shop.judging.left() == 0
    for job in JOBS:
        assert shop.job_state(job)["evidence"] == case.job_state(job, shop.views_of_job(job))["evidence"]


def test_one_job_that_cannot_be_judged_stops_no_other(shop, monkeypatch, caplog):
    judge = case.job_state

    def broken(job, *more):
        if job == JOBS[2]:
            raise KeyError("invented")
        return judge(job, *more)

    monkeypatch.setattr(case, "job_state", broken)
    shop.judging.catch_up()
    assert shop.judging.left() == 0 and "job:demo3 could not be judged" in caplog.text
    assert shop.store.rows("SELECT COUNT(*) FROM verdict")[0][0] == 4


def test_health_tells_how_far_the_pass_is(tmp_path, seeded):
    shutil.copytree(seeded, tmp_path / "served")
    app = create_app(tmp_path / "served")
    client = app.test_client()
    assert client.get("/health").json["verdicts"] == {"left": 5}
    app.extensions["shop"].judging.catch_up()
    assert client.get("/health").json["verdicts"] == {"left": 0}
    app.extensions["shop"].store.close()


def test_a_program_that_starts_takes_no_lock_that_a_writer_holds(shop, url):
    # CREATE INDEX IF NOT EXISTS waits for whoever writes the table, though the index is there: with two tables, a deadlock
    with shop.store.db.atomic():
        shop.store.rows("UPDATE verdict SET moved = moved")
        shop.store.rows("UPDATE verdict_asks SET seen = seen")
        shop.store.rows("UPDATE issued_report SET judged = judged")
        if shop.store.is_postgresql:  # SQLite has one writer and no such locks
            other = open_store(shop.data, url)
            other.rows("SET lock_timeout = '2s'")
            with other.alone():
                Verdicts(other, "another")
                report_tables.make(other)
            other.close()
    assert shop.store.has_table("verdict_asking") and shop.store.has_table("issued_report_job")
