"""Pushes go one after the other in a thread of their own, give what they give, and end in peace."""

import threading

import pytest

from sync.log import Unavailable
from tests.sync.making import open_store
from webform.pushing import Pushing


@pytest.fixture
def pushing(tmp_path):
    store = open_store(f"sqlite:///{tmp_path}/shop.db")
    made = Pushing(store)
    yield made
    made.stop()
    store.close()


def test_before_it_is_started_the_work_is_done_where_it_is_asked_for(pushing):
    assert pushing.do(threading.current_thread) is threading.current_thread()


def test_all_work_is_done_in_one_thread_and_never_two_at_once(pushing):
    pushing.start()
    first, begun, go_on = threading.Event(), [], threading.Event()

    def work():
        begun.append(threading.current_thread())
        first.set()
        assert go_on.wait(20)

    asking = [threading.Thread(target=pushing.do, args=(work,)) for _ in range(3)]
    for one in asking:
        one.start()
    assert first.wait(20) and len(begun) == 1
    go_on.set()
    for one in asking:
        one.join(20)
    assert len(begun) == 3 and len(set(begun)) == 1 and begun[0] is not threading.current_thread()


def test_what_the_work_raises_reaches_whoever_asked_and_the_next_is_done(pushing):
    pushing.start()
    with pytest.raises(KeyError, match="lost"):
        pushing.do(lambda: {}["lost"])
    assert pushing.do(lambda: 7) == 7


def test_a_connection_that_broke_is_opened_anew_and_as_wide_as_before(pushing):
    """As after a disk that was gone for a moment: every question to the old connection fails for ever."""
    pushing.start()
    size = pushing.do(lambda: pushing.store.rows("PRAGMA cache_size"))
    pushing.do(lambda: pushing.store.db.connection().close())
    with pytest.raises(Unavailable):
        pushing.do(pushing.store.counter)
    assert pushing.do(pushing.store.counter)["position"] == 0
    assert pushing.do(lambda: pushing.store.rows("PRAGMA cache_size")) == size == [(-64000,)]


def test_a_push_that_comes_while_it_ends_is_done_all_the_same(pushing):
    pushing.start()
    begun, go_on, done = threading.Event(), threading.Event(), []

    def work():
        begun.set()
        assert go_on.wait(20)
        done.append("in hand")

    asking = threading.Thread(target=pushing.do, args=(work,))
    asking.start()
    assert begun.wait(20)
    ending = threading.Thread(target=pushing.stop)
    ending.start()
    while not pushing._thread._shutdown:  # polls a condition: it has been told to end and waits for the work in hand
        assert ending.is_alive()
    try:
        assert pushing.do(threading.current_thread) is threading.current_thread()
    finally:
        go_on.set()
        for one in (asking, ending):
            one.join(20)
    assert done == ["in hand"] and pushing._thread is None


def test_it_ends_after_the_work_in_hand_and_closes_its_connection(pushing):
    pushing.start()
    thread = pushing.do(threading.current_thread)
    assert pushing.do(lambda: pushing.store.counter()["position"]) == 0
    pushing.stop()
    assert not thread.is_alive() and pushing.do(threading.current_thread) is threading.current_thread()
