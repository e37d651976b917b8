"""An owner is erased: nothing that this server keeps tells the name any more, and what stays is told. Names are invented."""

import io
import json
from pathlib import Path

import pytest

from demo.shop import seed
from sync import change, held, lookup
from sync.log import Unavailable
from tests.office.test_access import enrolled, office, token
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform import create_app, erasing, keeping, restoring
from webform.checklist.case import basis_of
from webform.sealing import ERASED
from webform.shop import Shop, standing_ids

NAME, OLD_NAME, CONTACT = "Zanzibarra Fuhrwerk", "Zanzibarra und Söhne", "quibble-4711@invented.example"
CANARIES = [text.encode() for text in ("Zanzibarra", "anzibarra", CONTACT, "quibble-4711")]
OWNER, JOB = "owner:canary", "job:demo1"


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


@pytest.fixture
def app(tmp_path, url):
    """The demo shop; an owner who is named in a report, in its link, in held changes and in older versions of the record."""
    made = create_app(tmp_path / "shop", url)
    made.extensions["doors"].ensure_office("harbour")
    shop = made.extensions["shop"]
    seed(shop)
    write(shop, OWNER, {"name": OLD_NAME, "contact": CONTACT})
    write(shop, OWNER, {"name": NAME})
    for job in (JOB, "job:demo2"):
        write(shop, job, {"owner": OWNER})
    while shop.index.is_behind():  # the words by which the desk finds it, as the background notes them
        shop.index.step()
    yield made
    made.extensions["shop"].store.close()


def write(shop, record, answers, by="person:kim"):
    view = lookup.view(shop.store, record)
    receipt = shop.write(record, answers, by, {field: standing_ids(view, field) for field in answers})
    assert receipt["status"] == "stored", receipt
    return receipt


def issue(app):
    """(number, address of a link) of the job's report, signed and issued now."""
    shop, desk = app.extensions["shop"], office(app)
    state = shop.job_state(JOB)
    receipt = shop.write(JOB, {"signoff": {"decision": state["calculated"], "person": "person:kim"}}, "person:kim",
                         {"signoff": standing_ids(lookup.view(shop.store, JOB), "signoff")}, basis_of(state))
    assert receipt["status"] == "stored"
    from tests.report.test_issued import form, link
    done = desk.post("/office/jobs/demo1/report", data=form(desk))
    assert done.status_code == 302, done.text
    number = done.location.rpartition("/")[2]
    return number, link(desk, number)


def hold(app, text):
    """A phone sends this text, which is held."""
    phone, _device = enrolled(app)
    answer = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert answer.json["receipts"][0]["status"] == "held", answer.json
    return phone


def told(name, record=OWNER, identity="van.run.1", schema=1, replaces=None):
    """The text of a phone's change that tells an owner's name."""
    return change.to_text(change.make_change(identity, record, {"name": name}, lamport=99, at="2026-11-25T08:00:00.000Z",
                                             by="person:kim", replaces=replaces or {}, schema=schema))


def erase(desk, reason="asked by letter of 3 March"):
    path = "/office/owners/canary/erase"
    return desk.post(path, data={"csrf_token": token(desk, "/office/phones"), "reason": reason})


def files_with_canary(data):
    """The files of a shop's folder in whose bytes the name or the contact stands."""
    return sorted({path.relative_to(data).as_posix() for path in Path(data).rglob("*") if path.is_file()
                   and any(canary in path.read_bytes() for canary in CANARIES)})


def rows_with_canary(store):
    """The tables of a PostgreSQL database in whose rows the name or the contact stands."""
    tables = [row[0] for row in store.rows("SELECT tablename FROM pg_tables WHERE schemaname = current_schema()")]
    found = []
    for table in tables:
        raw = repr([[bytes(value) if isinstance(value, memoryview) else value for value in row]
                    for row in store.rows(f"SELECT * FROM {table}")])
        found += [table for canary in CANARIES if canary.decode() in raw]
    return sorted(set(found))


def where_it_stands(app):
    store = app.extensions["shop"].store
    return files_with_canary(app.extensions["shop"].data) + (rows_with_canary(store) if store.is_postgresql else [])


def test_after_erasing_no_byte_of_the_shops_folder_tells_the_name_but_the_backups_that_are_listed(app, url):
    shop, desk = app.extensions["shop"], office(app)
    issue(app)
    hold(app, told(NAME, schema=2, identity="van.run.7"))
    hold(app, '{"record": "owner:canary", "set": {"name": "' + NAME)  # cut off in the middle
    path, _manifest = keeping.backup(shop.data, url)
    kept = path.relative_to(shop.data).as_posix()
    before = where_it_stands(app)
    assert kept in before and len(before) >= (4 if url else 2) and (not url or "find_word" in before), before
    assert "/jobs/demo" in desk.get("/office/find?text=zanzibarra").text
    page = desk.get("/office/owners/canary/erase").text
    assert NAME in page and "issued reports (1)" in page and "reports (1): they" in page
    assert "Jobs (2)" in page and kept in page
    answer = erase(desk)
    assert answer.status_code == 200 and "Erased" in answer.text
    assert where_it_stands(app) == [kept], "the backup alone, and the page says so"
    assert desk.get("/office/find?text=zanzibarra").status_code == 404
    assert f'data-testid="left">{kept}' in answer.text and "Zanzibarra" not in answer.text
    assert "held changes (2)" in answer.text and "asked by letter of 3 March" in answer.text
    counts, problems = keeping.verify(shop.data, url)
    assert problems == [] and counts["reports"] == 1 and counts["erased"] >= 4
    later, _manifest = keeping.backup(shop.data, url)
    assert where_it_stands(app) == [kept] and "quibble" not in later.read_bytes().decode("latin-1")


def test_an_issued_report_keeps_what_was_found_and_loses_the_name_and_who_spoke(app):
    shop, desk = app.extensions["shop"], office(app)
    write(shop, JOB, {"owner_answer": {"answer": "clean", "said_by": "Quendrell, the driver"}})
    number, address = issue(app)
    before = shop.issued.find(number)
    assert NAME in desk.get(f"/office/issued/{number}").text and "Quendrell" in desk.get(f"/office/issued/{number}").text
    assert app.test_client().get(address).status_code == 200
    erase(desk)
    report, page = shop.issued.find(number), desk.get(f"/office/issued/{number}").text
    assert "Zanzibarra" not in page and "Quendrell" not in page and ERASED in page and "1.78" in page
    differing = [(one["label"], other["text"]) for one, other in zip(before["content"]["facts"], report["content"]["facts"],
                                                                     strict=True) if one != other]
    assert differing == [("Owner", ERASED)]
    assert (report["seal"], report["content"]["table"]) == (before["seal"], before["content"]["table"])
    assert desk.get(f"/office/issued/{number}.pdf").status_code == 200
    assert app.test_client().get(address).status_code == 404, "its links are withdrawn"


def test_another_owners_report_keeps_its_name(app):
    shop, desk = app.extensions["shop"], office(app)
    write(shop, "owner:other", {"name": "Quillon Haulage"})
    write(shop, JOB, {"owner": "owner:other"})  # the job was first said to be the canary's
    number, address = issue(app)
    erase(desk)
    assert "Quillon Haulage" in desk.get(f"/office/issued/{number}").text
    assert app.test_client().get(address).status_code == 404, "the job named the erased owner once: no risk is taken"


def test_a_reason_is_asked_and_must_not_tell_the_name(app):
    shop, desk = app.extensions["shop"], office(app)
    for reason in ("", "  ", "x" * 301, f"letter of {NAME}"):
        assert erase(desk, reason).status_code == 422, reason
    assert shop.erasures.all() == [] and lookup.view(shop.store, OWNER)["fields"]["name"]["used"] == NAME
    assert desk.get("/office/owners/nobody/erase").status_code == 404
    phone, _device = enrolled(app)
    for client in (phone, app.test_client()):
        assert client.get("/office/owners/canary/erase").status_code == 302


def test_every_device_is_told_to_forget(app):
    phone, _device = enrolled(app)
    cursor = phone.post("/sync/pull", json={"cursor": None, "next": None}).json["cursor"]
    erase(office(app))
    told_now = phone.post("/sync/pull", json={"cursor": cursor, "next": None}).json["records"]
    heads = {entry["record"]: entry["heads"] for entry in told_now}[OWNER]
    assert {field: [answer["value"] for answer in answers] for field, answers in heads.items()} == {
        "name": [None], "contact": [None]}


def test_what_a_phone_still_sends_of_an_erased_owner_is_erased_too(app, url):
    shop, desk = app.extensions["shop"], office(app)
    erase(desk)
    phone, text = enrolled(app)[0], told(NAME)
    answer = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert answer.json["receipts"][0]["status"] == "stored"
    hold(app, told(NAME, schema=2, identity="van.run.8"))
    assert where_it_stands(app) == [] and keeping.verify(shop.data, url)[1] == []
    [entry] = shop.erasures.all()
    assert len(entry["held"]) == 1 and entry["reason"] == "asked by letter of 3 March"
    again = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert again.json["receipts"] == answer.json["receipts"] and where_it_stands(app) == []


def test_a_file_that_was_saved_before_the_erasing_brings_the_job_back_and_nobody(app, url):
    shop, desk = app.extensions["shop"], office(app)
    _phone, device = enrolled(app)
    job = change.to_text(change.make_change(f"{device}.run.2", JOB, {"truck": "T 77"}, lamport=99, by="person:kim",
                                            at="2026-11-25T08:00:00.000Z"))
    texts = [told(NAME, identity=f"{device}.run.1"), told(NAME, identity=f"{device}.run.3", schema=2), job]
    file = json.dumps({"ashbook_outbox": 1, "device": device, "schema": 1, "changes": texts,
                       "hashes": [change.content_hash(text) for text in texts]}).encode()
    erase(desk)
    for _ in range(2):
        page = desk.post("/office/phones/file", data={"csrf_token": token(desk, "/office/phones"),
                                                      "file": (io.BytesIO(file), "ashbook-outbox.json")})
        assert page.status_code == 200 and where_it_stands(app) == []
    assert "T 77" in [answer["value"] for answer in lookup.view(shop.store, JOB)["fields"]["truck"]["answers"]]
    assert keeping.verify(shop.data, url)[1] == []


def test_what_came_in_just_before_the_server_died_is_erased_at_the_next_start(app, url, monkeypatch):
    shop = app.extensions["shop"]
    erase(office(app))
    monkeypatch.setattr(shop.erasures, "came_in", lambda *_: None)  # it died after the commit of the push
    hold(app, told(NAME, schema=2, identity="van.run.8"))
    assert where_it_stands(app) != []
    again = Shop(shop.data, url)
    assert where_it_stands(app) == [] and keeping.verify(shop.data, url)[1] == []
    again.store.close()


@pytest.mark.parametrize("trouble", [Unavailable("disk I/O error"), OSError(28, "No space left on device")])
def test_a_push_is_stored_and_says_so_though_nothing_can_be_erased_now_and_the_next_one_makes_up_for_it(
        app, url, monkeypatch, trouble):
    shop = app.extensions["shop"]
    erase(office(app))
    phone, text = enrolled(app)[0], told(NAME)
    with monkeypatch.context() as full:
        full.setattr(shop.erasures, "_work", fail_with(trouble))
        answer = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert answer.status_code == 200 and answer.json["receipts"][0]["status"] == "stored" and where_it_stands(app) != []
    other = change.to_text(change.make_change("van.run.20", JOB, {"truck": "T 77"}, lamport=99, by="person:kim",
                                              at="2026-11-25T08:00:00.000Z"))
    phone.post("/sync/push", json={"schema": 1, "changes": [other], "hashes": [change.content_hash(other)]})
    assert where_it_stands(app) == [] and keeping.verify(shop.data, url)[1] == []


def fail_with(trouble):
    """What raises it whenever it is called."""
    def fail(*_given):
        raise trouble
    return fail


def test_a_held_change_that_is_let_in_while_its_owner_is_erased_is_erased_too(app, url, monkeypatch):
    shop, desk = app.extensions["shop"], office(app)
    phone, device = enrolled(app)
    app.extensions["doors"].revoke(device)
    text = told(NAME, identity="van.run.9")
    answer = phone.post("/sync/push", json={"schema": 1, "changes": [text], "hashes": [change.content_hash(text)]})
    assert answer.json["receipts"][0]["reason"] == "device_revoked"
    real = held.arrive

    def arrive(*given):
        if shop.erasures.all() == []:  # it has been read, and is erased before it is stored
            erase(office(app))
        return real(*given)

    monkeypatch.setattr(held, "arrive", arrive)
    assert desk.post("/office/held", data={"csrf_token": token(desk, "/office/held"),
                                           "reason": "device_revoked"}).status_code == 302
    assert where_it_stands(app) == [] and keeping.verify(shop.data, url)[1] == []


def test_a_held_change_that_was_emptied_without_an_erasure_is_found(app, url):
    shop = app.extensions["shop"]
    hold(app, told(NAME, schema=2))
    shop.store.rows("UPDATE held SET body = ?, reason = 'erased', resolved_at = 'x'", (b"",))
    assert [where for where, _sentence in keeping.verify(shop.data, url)[1]] == ["held 1 (van.run.1)"] * 2


def test_a_restored_backup_brings_nobody_back(app, url, tmp_path):
    shop, desk = app.extensions["shop"], office(app)
    number, _address = issue(app)
    path, _manifest = keeping.backup(shop.data, url, tmp_path / "older.backup")
    erase(desk)
    shop.store.close()
    said = restoring.restore(shop.data, path, url, is_replace=True)
    assert "1 owners who were erased after the backup have been erased again." in said
    again = Shop(shop.data, url)
    assert ERASED in json.dumps(again.issued.find(number)["content"])
    assert lookup.view(again.store, OWNER)["fields"]["name"]["used"] is None
    again.store.close()
    assert keeping.verify(shop.data, url)[1] == []
    assert [name for name in files_with_canary(shop.data) if not name.startswith("before-restore")] == []


def test_erasing_that_was_cut_short_is_finished_at_the_next_start(app, url, monkeypatch):
    shop = app.extensions["shop"]
    issue(app)
    with monkeypatch.context() as cut:
        cut.setattr(erasing.Erasures, "_empty", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            shop.erasures.erase(OWNER, "desk:office", "asked", "2026-11-25T08:00:00.000Z")
    assert shop.erasures.all() == [] and where_it_stands(app) != []
    again = Shop(shop.data, url)
    assert [entry["record"] for entry in again.erasures.all()] == [OWNER] and where_it_stands(app) == []
    again.store.close()
    assert keeping.verify(shop.data, url)[1] == []


def test_books_in_use_are_said_and_the_work_is_finished_later(app, url, monkeypatch):
    from sync.log import Unavailable
    desk, shop = office(app), app.extensions["shop"]
    hold(app, told(NAME, schema=2))
    with monkeypatch.context() as busy:
        busy.setattr(erasing.Erasures, "_clean", lambda _self: (_ for _ in ()).throw(Unavailable("in use")))
        answer = erase(desk)
        assert answer.status_code == 503 and "finished when the server starts next" in answer.text
    assert shop.erasures.all() == [] and keeping.verify(shop.data, url)[1] == [], "what was emptied is known already"
    assert shop.erasures.again() == [OWNER] and where_it_stands(app) == [] and shop.erasures.again() == []
    [entry] = shop.erasures.all()
    assert entry["texts"] >= 2 and entry["held"] == [1] and keeping.verify(shop.data, url)[1] == []


def test_the_page_names_the_jobs_whose_notes_tell_the_name(app):
    write(app.extensions["shop"], JOB, {"note": f"bolt seized, says {NAME}"})
    page = office(app).get("/office/owners/canary/erase").text
    assert "some jobs (1)" in page and "/office/jobs/demo1" in page
    books = office(app).get("/office/books?kind=owner&open=owner:canary").text
    assert "/office/owners/canary/erase" in books


def test_job_and_report_of_today_say_that_the_owner_was_erased(app):
    desk = office(app)
    assert NAME in desk.get("/office/jobs/demo1").text and NAME in desk.get("/office/jobs/demo1/report").text
    erase(desk)
    job, report = desk.get("/office/jobs/demo1").text, desk.get("/office/jobs/demo1/report").text
    assert "an owner who was erased" in job and ERASED in report
    for page in (job, report):
        assert "Zanzibarra" not in page and "owner:canary" not in page


def test_an_erased_record_is_closed_and_stands_apart_from_the_owners(app):
    desk, shop = office(app), app.extensions["shop"]
    erase(desk)
    page = desk.get("/office/books?kind=owner").text
    assert 'name="record" value="owner:canary"' not in page and "Moorland" in page
    assert 'href="/office/owners/canary/erase" data-testid="erased-owner"' in page
    sent = {"csrf_token": token(desk, "/office/phones"), "step": "owner", "record": OWNER, "value.name": NAME}
    assert desk.post("/office/books", data=sent).status_code == 409
    assert lookup.view(shop.store, OWNER)["fields"]["name"]["used"] is None
