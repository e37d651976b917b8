"""The reference client through a real server process's front door: waitress in a thread, HTTP on loopback."""

import contextlib
import json
import socket
import struct
import threading

import pytest
from waitress.server import create_server

from sync import client, exchange, lookup, wire
from sync.client import Client, NotCarried, Offline, http_post
from sync.log import FIRST_CHAIN

from .making import AT, made, policy_of, pushed, values

JOB = "job:one"


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path}/shop.db"


@pytest.fixture
def address(store):
    """The address of a server of this store."""

    def app(environ, start_response):
        route = environ["PATH_INFO"].rpartition("/")[2]
        body, encoding = environ["wsgi.input"].read(), environ.get("HTTP_CONTENT_ENCODING")
        if route == "push":
            status, answer = wire.answer_push(store, environ["HTTP_DEVICE"], body, encoding)
        elif route == "fetch":
            status, answer = wire.answer_fetch(store, body, encoding)
        else:
            status, answer = wire.answer_pull(store, body, encoding)
        packed, headers = wire.packed(answer, environ["HTTP_ACCEPT_ENCODING"])
        start_response(f"{status} x", [*headers.items(), ("Content-Length", str(len(packed)))])
        return [packed]

    server = create_server(app, host="127.0.0.1", port=0, threads=2)
    thread = threading.Thread(target=server.run)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}/sync"
    server.trigger.pull_trigger(server.close)
    thread.join()
    server.task_dispatcher.shutdown()


@pytest.fixture
def clients(address, tmp_path):
    """Two devices."""
    made_ones = [Client(str(tmp_path / f"{name}.db"), name, http_post(address, {"Device": name}), policy_of, ("owner",))
                 for name in ("van", "desk")]
    yield made_ones
    for one in made_ones:
        one.close()


def test_what_one_writes_the_other_reads(clients):
    van, desk = clients
    van.write(JOB, {"flow": {"n": "2.75", "u": "inH2O"}, "note": "é" * 1000}, "person:kim", at=AT)
    assert len(van.waiting()) == 1 and van.view(JOB)["fields"]["flow"]["used"] == {"n": "2.75", "u": "inH2O"}
    van.sync()
    desk.sync()
    assert van.waiting() == [] and desk.view(JOB) == van.view(JOB) and desk.records() == [JOB]
    assert desk.view("job:nobody") is None


def test_two_answers_are_open_on_both_until_one_settles_them(clients):
    van, desk = clients
    for one, value in ((van, "1"), (desk, "2")):
        one.write(JOB, {"flow": value}, "person:kim")
    van.sync()
    desk.sync()
    van.sync()
    assert van.view(JOB)["fields"]["flow"]["open"] and desk.view(JOB) == van.view(JOB)
    desk.write(JOB, {"flow": "2"}, "person:ana")
    desk.sync()
    van.sync()
    assert values(van.view(JOB), "flow") == ["2"] and not van.view(JOB)["fields"]["flow"]["open"]


def test_the_own_change_stays_in_view_between_its_receipt_and_the_pull(clients, store):
    van, _ = clients
    van.write(JOB, {"flow": "1"}, "person:kim")
    van.push()
    assert van.waiting() == [] and values(van.view(JOB), "flow") == ["1"]
    pushed(store, made("x.1", JOB, {"light": "0"}))
    van.pull()
    assert sorted(van.view(JOB)["fields"]) == ["flow", "light"]


@pytest.mark.parametrize("wrong", [
    b"", b"<html>Welcome to the hotel</html>", b"[]", b"{}", b'{"receipts": null}', b'{"epoch": "x", "receipts": [{}]}',
    b'{"error": {"code": "x"}}', b'{"epoch": "x", "receipts": []}',
    b'{"epoch": "x", "receipts": [{"id": "van.x.1", "hash": "y", "status": "stored", "position": 1, "reason": null}]}',
])
def test_only_a_receipt_for_id_and_hash_takes_a_change_out_of_the_outbox(clients, wrong):
    van, _ = clients
    identity = van.write(JOB, {"flow": "1"}, "person:kim")
    honest, van.post = van.post, lambda route, body: wrong.replace(b"van.x.1", identity.encode())
    with contextlib.suppress(Offline):
        van.push()
    assert van.waiting() == [identity]
    with pytest.raises(Offline):
        van.pull()
    van.post = honest
    van.sync()
    assert van.waiting() == []


def test_a_lost_answer_costs_nothing(clients, store):
    van, _ = clients
    van.write(JOB, {"flow": "1"}, "person:kim")
    honest = van.post

    def lossy(route, body):
        honest(route, body)
        raise Offline("the answer was lost")

    van.post = lossy
    with pytest.raises(Offline):
        van.sync()
    van.post = honest
    van.sync()
    assert store.counter()["position"] == 1 and values(van.view(JOB), "flow") == ["1"] and van.waiting() == []


def test_a_server_that_is_not_there_changes_nothing(clients):
    van, _ = clients
    van.post = http_post("http://127.0.0.1:9/sync", timeout_s=2)
    identity = van.write(JOB, {"flow": "1"}, "person:kim")
    with pytest.raises(Offline):
        van.sync()
    assert van.waiting() == [identity]


def test_held_changes_are_told_and_offered_again_on_request(clients, store):
    van, _ = clients
    identity = van.write(JOB, {"flow": "1"}, "person:kim")
    store.newest_schema = 0
    van.sync()
    assert van.held() == [(identity, "newer_schema")] and van.waiting() == [] and van.view(JOB) is None
    store.newest_schema = 1
    van.push(is_held_offered=True)
    van.pull()
    assert van.held() == [] and values(van.view(JOB), "flow") == ["1"] and lookup.held(store) == []


def test_after_a_new_epoch_confirmed_changes_are_offered_again(clients, store):
    van, desk = clients
    van.write(JOB, {"flow": "1"}, "person:kim")
    van.sync()
    desk.sync()
    for table in ("change_log", "snapshot", "ref"):  # a restored backup from before all this
        store.rows(f"DELETE FROM {table}")
    store.rows("UPDATE counter SET position = 0, chain = ?", ("0" * 32,))
    store.begin_epoch()
    desk.sync()
    assert desk.view(JOB) is None
    van.sync()
    desk.sync()
    assert values(desk.view(JOB), "flow") == ["1"] and van.view(JOB) == desk.view(JOB) and van.waiting() == []


def test_a_thousand_changes_go_up_in_batches_and_come_down_in_pages(clients, store, monkeypatch):
    monkeypatch.setitem(client.MOST, "push", 30)
    monkeypatch.setattr("sync.client.BATCH_CHARACTERS", 5_000)
    monkeypatch.setattr(exchange, "PAGE_CHARACTERS", 10_000)
    van, desk = clients
    for n in range(100):
        van.write(f"job:j{n % 60}", {"flow": str(n)}, "person:kim")
    van.sync()
    desk.sync()
    assert store.counter()["position"] == 100 and len(desk.records()) == 60
    assert [desk.view(record) for record in desk.records()] == [van.view(record) for record in van.records()]


def test_a_client_opened_again_goes_on_where_it_was_with_new_ids(clients, tmp_path, address):
    van, _ = clients
    first = van.write(JOB, {"flow": "1"}, "person:kim")
    again = Client(str(tmp_path / "van.db"), "van", http_post(address, {"Device": "van"}), policy_of)
    second = again.write(JOB, {"flow": "2"}, "person:kim")
    assert again.waiting() == [first, second] and first.split(".")[1] != second.split(".")[1]
    again.sync()
    assert values(again.view(JOB), "flow") == ["2"]
    again.close()


def test_a_change_goes_after_the_highest_lamport_that_was_seen(clients, store):
    van, _ = clients
    pushed(store, made("x.1", JOB, {"flow": "1"}, lamport=41))
    van.sync()
    identity = van.write(JOB, {"note": "x"}, "person:kim", basis={"verdict": "clean"}, replaces={})
    [answer] = van.view(JOB)["fields"]["note"]["answers"]
    assert (answer["id"], answer["lamport"], answer["basis"]) == (identity, 42, {"verdict": "clean"})
    assert json.loads(van.disk.execute("SELECT text FROM outbox").fetchone()[0])["replaces"] == {}


def cross(quick, path, slow_action, between, quick_action):
    """A slow tab asks first; its answer is taken while that to a later question of a quick tab is on its way."""
    honest, has_answer, may_take = quick.post, threading.Event(), threading.Event()

    def held_back(route, body):
        answer = honest(route, body)
        has_answer.set()
        assert may_take.wait(10)
        return answer

    def slow():
        tab = Client(path, quick.pen.device, held_back, policy_of)
        with contextlib.suppress(Offline):
            slow_action(tab)
        tab.close()

    def crossed(route, body):
        answer = honest(route, body)
        may_take.set()
        thread.join(10)
        return answer

    thread = threading.Thread(target=slow)
    thread.start()
    assert has_answer.wait(10)
    between()
    quick.post = crossed
    with contextlib.suppress(Offline):
        quick_action(quick)
    quick.post = honest


def test_a_page_that_comes_late_to_one_tab_takes_nothing_back_from_another(clients, tmp_path, store):
    van, _ = clients
    pushed(store, made("x.1", JOB, {"flow": "1"}))

    def between():
        pushed(store, made("x.2", JOB, {"flow": "2"}, {"flow": ["x.1"]}))
        van.pull()
        pushed(store, made("x.3", "job:two", {"flow": "3"}))

    cross(van, str(tmp_path / "van.db"), Client.pull, between, Client.pull)
    van.pull()
    assert values(van.view(JOB), "flow") == ["2"] and values(van.view("job:two"), "flow") == ["3"]


def test_a_receipt_that_comes_late_to_one_tab_confirms_nothing_that_a_restored_server_has_lost(clients, tmp_path, store):
    van, _ = clients
    van.write(JOB, {"flow": "1"}, "person:kim")

    def between():
        for table in ("change_log", "snapshot", "ref"):  # a backup from before all this is put back
            store.rows(f"DELETE FROM {table}")
        store.rows("UPDATE counter SET position = 0, chain = ?", ("0" * 32,))
        store.begin_epoch()
        van.pull()
        pushed(store, *[made(f"x.{n}", f"job:j{n}", {"flow": "3"}) for n in range(3)])

    cross(van, str(tmp_path / "van.db"), Client.push, between, Client.pull)
    van.sync()
    assert van.waiting() == [] and lookup.view(store, JOB) is not None


def test_a_restored_server_is_offered_the_held_changes_again(clients, store):
    van, _ = clients
    identity = van.write(JOB, {"flow": "1"}, "person:kim")
    store.newest_schema = 0
    van.sync()
    store.rows("DELETE FROM held")  # a backup from before it was held is put back
    store.begin_epoch()
    van.sync()
    assert van.held() == [(identity, "newer_schema")] and [entry["id"] for entry in lookup.held(store)] == [identity]


def test_a_database_file_copied_back_from_before_a_hold_is_offered_the_held_change_again(clients, store):
    """Nothing was accepted in between, so neither position nor chain tells; another phone's hold has the same number now."""
    van, desk = clients
    for one in (van, desk):
        one.write(JOB, {"flow": "1"}, "person:kim")
    store.newest_schema = 0
    van.sync()
    store.rows("DELETE FROM held")  # the copy is put back by hand: no new epoch
    desk.sync()
    van.sync()
    assert sorted(entry["id"] for entry in lookup.held(store)) == sorted(one.held()[0][0] for one in clients)


def test_what_is_sent_to_a_database_file_copied_back_stays_on_its_authors_screen(clients, store):
    """The receipt's position lies before the cursor, which counts in the log that is gone."""
    van, _desk = clients
    pushed(store, *(made(f"other.{n}", f"job:o{n}", {"flow": "1"}) for n in range(1, 9)))
    van.sync()
    store.rows("DELETE FROM change_log")
    store.rows("DELETE FROM snapshot")
    store.rows(f"UPDATE counter SET position = 0, chain = '{FIRST_CHAIN}', lamport = 0")  # the epoch is the old one
    first = van.write(JOB, {"flow": "1.78 inH2O"}, "person:kim")
    assert van.push() is True and van.waiting() == []
    assert values(van.view(JOB), "flow") == ["1.78 inH2O"]  # the link ends here: nothing is pulled
    van.write(JOB, {"flow": "1.79 inH2O"}, "person:kim")
    van.sync()
    assert values(van.view(JOB), "flow") == ["1.79 inH2O"] == values(lookup.view(store, JOB), "flow")
    assert first in [entry["id"] for entry in lookup.entries(store)] and van.view("job:o1") is None


def test_a_part_of_a_record_that_is_not_carried_is_not_shown_but_fetched_whole(clients, store):
    van, _ = clients
    pushed(store, made("x.1", JOB, {"flow": "1", "light": "0"}), made("x.2", "round:one", {"filter": JOB}))
    page = exchange.pull(store, None, carried=lambda *_: False)
    assert page["records"] == []
    van._take_page(page)
    pushed(store, made("x.3", JOB, {"flow": "2"}, {"flow": ["x.1"]}), made("x.4", "job:new", {"flow": "1"}))
    honest = van.post

    def no_fetch(route, body):
        if route == "fetch":
            raise Offline("lost on the way there")
        return honest(route, body)

    van.post = no_fetch
    with pytest.raises(Offline):
        van.pull()
    assert van.view(JOB) is None and values(van.view("job:new"), "flow") == ["1"]
    van.post = honest
    van.pull()
    assert sorted(van.view(JOB)["fields"]) == ["flow", "light"] and values(van.view(JOB), "flow") == ["2"]
    van.post = lambda route, body: b'{"records": [{}]}'
    with pytest.raises(Offline):
        van.fetch([JOB])


def test_an_own_answer_stays_while_its_record_is_to_be_fetched_and_goes_once_somebody_replaced_it(clients, store):
    van, _ = clients
    pushed(store, made("x.1", JOB, {"flow": "1", "filter": "filter:f"}), made("x.2", "filter:f", {"serial": "S"}))
    van._take_page(exchange.pull(store, None, carried=lambda *_: False))
    own = van.write(JOB, {"light": "mine"}, "person:kim")
    van.push()
    van._pull_pages()  # the link ends before the fetch
    assert values(van.view(JOB), "light") == ["mine"]
    pushed(store, {**made("x.3", JOB, {"light": "settled"}), "replaces": {"light": [own]}})
    van._pull_pages()
    van.fetch(around=["filter:f"])  # somebody opens its filter: the whole record comes with that
    assert values(van.view(JOB), "light") == ["settled"]
    assert sorted(van.view(JOB)["fields"]) == ["filter", "flow", "light"]


def test_a_device_forgets_its_own_texts_of_a_person_who_was_erased_and_no_others(clients):
    van, desk = clients
    van.write("owner:o", {"name": "Invented Haulage", "contact": "by telephone"}, "person:kim")
    van.write("owner:p", {"name": "Another Invented"}, "person:kim")
    van.write(JOB, {"note": "rattles"}, "person:kim")
    van.sync()
    desk.sync()
    desk.write("owner:o", {"name": None}, "desk:office")
    desk.write(JOB, {"note": None}, "desk:office")
    desk.sync()
    van.sync()
    assert len(texts_with(van, "Invented Haulage")) == 1, "its contact still stands"
    van.write("owner:o", {"contact": "later"}, "person:kim")  # unsent: nobody has taken a look at it yet
    desk.write("owner:o", {"contact": None}, "desk:office")
    desk.sync()
    van.pull()
    assert texts_with(van, "Invented Haulage") == [] and len(texts_with(van, "later")) == 1
    assert len(texts_with(van, "Another Invented")) == len(texts_with(van, "rattles")) == 1


def texts_with(client, words):
    return [text for (text,) in client.disk.execute("SELECT text FROM outbox") if words in text]


def test_what_was_fetched_late_in_one_tab_takes_nothing_back_from_another_nor_what_is_still_to_be_fetched(
        clients, tmp_path, store):
    van, _ = clients
    pushed(store, made("x.1", JOB, {"flow": "1", "light": "0"}), made("x.2", "job:two", {"flow": "1", "light": "0"}))
    van._take_page(exchange.pull(store, None, carried=lambda *_: False))
    pushed(store, made("x.3", JOB, {"flow": "2"}, {"flow": ["x.1"]}))

    def pulled_in_part(tab):
        tab._turn_asked = tab._turn()
        tab._take_page(exchange.pull(store, tab._place("cursor")))

    def between():
        pushed(store, made("x.4", JOB, {"flow": "3"}, {"flow": ["x.3"]}))
        van.pull()
        pushed(store, made("x.5", "job:two", {"flow": "2"}, {"flow": ["x.2"]}))
        pulled_in_part(van)

    pulled_in_part(van)
    cross(van, str(tmp_path / "van.db"), Client._fetch_wanted, between, lambda tab: tab.fetch(["job:nobody"]))
    assert values(van.view(JOB), "flow") == ["3"]
    van.pull()
    assert values(van.view("job:two"), "flow") == ["2"] and sorted(van.view("job:two")["fields"]) == ["flow", "light"]


@pytest.mark.parametrize("way", ["up", "down", "fetched"])
def test_over_a_link_that_carries_little_less_goes_at_a_time_until_all_is_through(clients, store, way):
    """Asked for whole again and again it would never come."""
    van, desk = clients
    for number in range(100):
        van.write(f"job:j{number}", {"note": f"note {number}"}, "person:kim")
    good = van.post

    def short(route, body):
        answer = good(route, body)
        if len(body if way == "up" else answer) > 6_000:
            raise NotCarried("it broke off")
        return answer

    one = van if way == "up" else desk
    if way != "up":
        van.sync()
    if way == "fetched":  # what it does not carry is told of in part
        one._take_page(exchange.pull(store, None, carried=lambda *_: False))
        pushed(store, *[made(f"x.{number}", f"job:j{number}", {"light": "0"}) for number in range(100)])
    one.post = short
    for _ in range(12):
        with contextlib.suppress(Offline):
            one.sync()
            break
    assert van.waiting() == [] and len(one.records()) == 100


BEGUN = b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\n{"


@pytest.mark.parametrize(("said", "is_reset", "kind"), [
    (BEGUN, False, NotCarried), (BEGUN, True, NotCarried), (b"", True, NotCarried), (b"", False, NotCarried),
    (None, False, Offline)], ids=["broken off", "reset midway", "reset before an answer", "silent", "refused"])
def test_a_link_that_carried_too_little_is_told_from_no_link_at_all(said, is_reset, kind):
    with socket.create_server(("127.0.0.1", 0)) as listening:
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        if said is None:
            listening.close()
        done = threading.Event()

        def serve():
            taken, _ = listening.accept()
            with taken:
                taken.recv(65536)
                taken.sendall(said)
                if is_reset:
                    taken.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                elif not said:
                    done.wait()

        server = threading.Thread(target=serve)
        if said is not None:
            server.start()
        with pytest.raises(Offline) as caught:
            http_post(address, timeout_s=0.5)("pull", b"{}")
        done.set()
        assert caught.type is kind
        if said is not None:
            server.join()
