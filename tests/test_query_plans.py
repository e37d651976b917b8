"""No page and no exchange reads a table from end to end: the plan of every statement that is really executed."""

import re

import pytest

from sync.change import content_hash
from tests.bench import inspections, seeding
from tests.bench.telling import tag_of
from tests.office.test_access import office
from webform import create_app
from webform.find_index import forget
from webform.shop import open_store

FILTERS = 40
# Tables of which a whole reading is what was asked for, and that stay small.
WHOLE = {"open_field": "each row is a question that the page lists or counts", "about": "one row",
             "open_field_place": "one row", "find_place": "one row",
         "sqlite_master": "the names of the tables"}


# by serial, its end, truck, work order, owner, owner and truck, an unclear beginning, report, nothing
SOUGHT = ("E-0-000007", "000007", "kx-t000003", "WO/0000007", "firm", "qaaaaa t000003", "trac", "2026-0001", "nothing")


@pytest.fixture
def app(tmp_path):
    """A shop with some filters, their tags and jobs."""
    store = open_store(tmp_path)
    seeding.seed(store, seeding.desk_patterns(), FILTERS, seeding.desk_names)
    store.close()
    seeding.note_words(tmp_path)
    made = create_app(tmp_path)
    made.extensions["doors"].ensure_office("harbour")
    yield made
    made.extensions["shop"].store.close()


def collected(app, action):
    """(result, every statement with its values that the store executed meanwhile)."""
    store, seen = app.extensions["shop"].store, []
    rows, write_many = store.rows, store.write_many

    def watched_rows(sql, values=()):
        seen.append((sql, tuple(values)))
        return rows(sql, values)

    def watched_many(sql, many):
        many = list(many)
        seen.extend((sql, tuple(row)) for row in many[:1])
        write_many(sql, many)

    store.rows, store.write_many = watched_rows, watched_many
    try:
        return action(), seen
    finally:
        store.rows, store.write_many = rows, write_many


def scans(store, statements):
    """The lines of the plans that read a whole table, with their statements."""
    found = []
    for sql, values in statements:
        if sql.startswith(("CREATE", "SELECT pg_")):
            continue
        for row in store.rows("EXPLAIN QUERY PLAN " + sql, values):
            table = re.match(r"SCAN (\w+)", row[3])
            if table and table.group(1) not in WHOLE:
                found.append((row[3], sql))
    return found


def pushed(client, texts):
    return client.post("/sync/push", json={"schema": 1, "changes": texts, "hashes": [content_hash(text) for text in texts]})


def phone(app):
    client = app.test_client()
    assert client.post("/sync/enrol", json={"code": app.extensions["doors"].new_code(), "name": "test"}).status_code == 200
    return client


@pytest.mark.parametrize("path", [
    f"/office/find?text={tag_of(7)}", *(f"/office/find?text={text}" for text in SOUGHT), f"/office/jobs/{7:016d}",
    "/office/", "/office/questions", "/office/held", f"/office/jobs/{7:016d}/report", f"/t/{tag_of(7)}", "/health",
])
def test_no_page_scans_a_table(app, path):
    client = office(app)
    answer, statements = collected(app, lambda: client.get(path))
    assert answer.status_code in ((404,) if path.endswith(("nothing", "2026-0001")) else (200, 302)), answer.text[:300]
    assert path.startswith("/t/") or len(statements) > 0
    assert scans(app.extensions["shop"].store, statements) == []


def test_no_exchange_scans_a_table(app):
    client = phone(app)
    texts = [*inspections.texts(1, 5), "{broken", "{broken"]

    def exchange():
        place = client.post("/sync/pull", json={"cursor": None}).json["cursor"]
        receipts = pushed(client, texts).json["receipts"]
        assert [receipt["status"] for receipt in receipts] == ["stored"] * 5 + ["held"] * 2
        pushed(client, texts)
        for cursor in (place, None):
            assert client.post("/sync/pull", json={"cursor": cursor, "witness": place}).json["records"]
        asked = {"records": [f"job:{3:016d}"], "around": [f"filter:{4:016d}"]}
        assert len(client.post("/sync/fetch", json=asked).json["records"]) >= 3

    _, statements = collected(app, exchange)
    assert len({sql for sql, _ in statements}) > 15
    assert scans(app.extensions["shop"].store, statements) == []


def test_neither_filling_nor_emptying_the_index_of_words_scans_a_table(app):
    shop = app.extensions["shop"]

    def work():
        pushed(phone(app), inspections.texts(1, 5))
        assert shop.index.is_behind() and len(shop.index.unread(500)[0]) == 5
        shop.index.step()
        assert not shop.index.is_behind()
        forget(shop.store, f"owner:{0:016d}")

    _, statements = collected(app, work)
    assert any(sql.startswith("DELETE FROM find_word WHERE record") for sql, _ in statements)
    assert scans(shop.store, statements) == []


def test_a_scan_would_be_seen(app):
    store = app.extensions["shop"].store
    assert scans(store, [("SELECT record FROM snapshot WHERE json LIKE ?", ("%x%",))]) != []
