"""The harness's own parts: the link does what it is told, a seed gives the same steps, a failing seed says how to replay."""

import contextlib
import random
import socket
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from sync.client import Offline, http_post

from . import checks, faults, phones, run, world
from .faults import Fate, Tally
from .proxy import Proxy, read_message, shortened
from .schedule import steps_of

ROOT = Path(__file__).parents[2]
ANSWER = b'{"answer": "' + b"x" * 200 + b'"}'
pytestmark = pytest.mark.fire


class Stub:
    """A server that keeps what it is sent and always answers the same."""

    def __init__(self):
        self.bodies, self.cut, self.seen = [], 0, threading.Condition()
        self.listener = socket.create_server(("127.0.0.1", 0))
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while True:
            try:
                one, _ = self.listener.accept()
            except OSError:
                return
            threading.Thread(target=self._answer, args=(one,), daemon=True).start()

    def _answer(self, one):
        with one:
            try:
                body = read_message(one).partition(b"\r\n\r\n")[2]
            except OSError:
                self._keep(None)
                return
            self._keep(body)
            with contextlib.suppress(OSError):  # the proxy may have gone: that is what it was told
                one.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: %d\r\n\r\n%s" % (len(ANSWER), ANSWER))

    def _keep(self, body):
        with self.seen:
            self.bodies.append(body)
            self.seen.notify()

    def has(self, count):
        """Whether so many requests come in."""
        with self.seen:
            return self.seen.wait_for(lambda: len(self.bodies) == count, 5)


@pytest.fixture
def stub():
    made = Stub()
    yield made
    made.listener.close()


@pytest.fixture
def proxy(stub):
    made = Proxy(stub.listener.getsockname()[1], Tally(), stub.listener.close)
    yield made
    made.close()


@pytest.fixture
def post(proxy):
    return http_post(f"http://127.0.0.1:{proxy.port}/sync", timeout_s=5)


# fate, what the server has of the request b"0123456789" (None: it ended early), whether the phone gets the whole answer
LINK = [
    ("refused", [], False), ("request_cut", [None], False), ("request_short", [b"01234"], True),
    ("cut_while_committing", [b"0123456789"], False), ("answer_lost", [b"0123456789"], False),
    ("answer_cut", [b"0123456789"], False), ("answer_short", [b"0123456789"], False),
    ("sent_twice", [b"0123456789"] * 2, True), ("sent_late", [], False), ("portal_200", [], False),
    ("portal_302", [], False), ("error_500", [], False), ("error_401", [], False),
    ("killed_while_answering", [b"0123456789"], True),
]


def test_every_fault_of_the_link_is_tried_below():
    assert [name for name, _, _ in LINK] == list(faults.LINK)


@pytest.mark.parametrize(("name", "arrived", "is_answered"), LINK)
def test_the_link_does_what_it_is_told_once(name, arrived, is_answered, proxy, stub, post):
    where = 0.97 if name == "request_cut" else 0.5
    proxy.plan(Fate(name, where))
    try:
        got = post("push", b"0123456789")
    except Offline:
        got = None
    assert (got == ANSWER) == is_answered
    assert stub.has(len(arrived)) and stub.bodies == arrived
    assert dict(proxy.tally.counts) == ({} if name == "sent_late" else {name: 1})
    if name != "killed_while_answering":
        assert post("push", b"again") == ANSWER


def test_what_was_late_arrives_later(proxy, stub, post):
    proxy.plan(Fate("sent_late"))
    with pytest.raises(Offline):
        post("push", b"early")
    assert post("push", b"late") == ANSWER
    proxy.deliver_late(random.Random(1))
    assert stub.bodies == [b"late", b"early"] and proxy.tally.counts["sent_late"] == 1


def test_a_shortened_message_says_its_new_length():
    assert shortened(b"POST / HTTP/1.1\r\nContent-Length: 4\r\nA: b\r\n\r\nwxyz", 0.5) \
        == b"POST / HTTP/1.1\r\nA: b\r\nContent-Length: 2\r\n\r\nwx"


def test_a_seed_gives_the_same_steps_and_every_fault():
    assert steps_of(7) == steps_of(7) != steps_of(8)
    assert {step.name for step in steps_of(7)} >= set(faults.ALL)


def test_a_fault_that_never_took_place_is_missing():
    tally = Tally()
    for name in list(faults.ALL)[1:]:
        tally.took_place(name)
    assert tally.missing() == [next(iter(faults.ALL))]


def test_a_failing_schedule_says_how_to_play_it_again(monkeypatch):
    monkeypatch.setattr(world.World, "_edit", lambda self, rng: checks.check(False, "broken on purpose"))
    with pytest.raises(checks.Broken) as found:
        run.real(5, "sqlite")
    assert "Play it again: python -m tests.fire --seed 5 --store sqlite" in found.value.__notes__


def test_the_command_plays_a_seed_again():
    done = subprocess.run([sys.executable, "-m", "tests.fire", "--seed", "5", "--store", "inside"], cwd=ROOT, check=True,
                          capture_output=True, text=True)
    assert "seed 5 on inside" in done.stdout and "1 schedules, every promise held" in done.stdout


def test_an_app_that_dies_keeps_only_what_was_committed(tmp_path):
    phone = phones.Phone("van", tmp_path / "phone.db", "", lambda cookie: None)

    def two_commits(tab):
        for number in range(2):
            with tab.disk:
                tab.disk.execute("INSERT INTO state (name, value) VALUES (?, 'x')", (str(number),))

    assert not phone.kill_within(3, lambda tab: tab._state("turn"))
    assert phone.kill_within(2, two_commits)
    assert [row[0] for row in phone.client.disk.execute("SELECT name FROM state")] == ["0"]
    phone.close()
