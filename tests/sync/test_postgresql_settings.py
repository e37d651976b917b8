"""Whatever a PostgreSQL server is set to: a commit that was told is on its disk, and a push sees what others have stored."""

import threading
import time

import psycopg
import pytest

from sync.log import Unavailable

from .making import made, open_store, pushed

pytestmark = pytest.mark.postgresql


@pytest.fixture
def url(cluster):
    """A database that its owner has tuned to be quick, and to be strict."""
    address = cluster.new_url()
    name = address.rpartition("/shop")[2].partition("?")[0]
    store = open_store(address)
    store.rows(f"ALTER DATABASE shop{name} SET synchronous_commit = off")
    store.rows(f"ALTER DATABASE shop{name} SET default_transaction_isolation = 'serializable'")
    store.close()
    return address


def test_every_connection_waits_for_the_disk(url):
    store = open_store(url)
    assert store.rows("SHOW synchronous_commit") == [("on",)]
    store.close()


def test_a_stricter_way_to_commit_stays(url):
    store = open_store(url + "&options=-c%20synchronous_commit%3Dremote_apply")
    assert store.rows("SHOW synchronous_commit") == [("remote_apply",)]
    store.close()


@pytest.fixture
def careless(cluster):
    """The address of a database whose server does not wait for its disk."""
    url = cluster.new_url()
    set_fsync(url, "off")
    yield url
    set_fsync(url, "on")


def set_fsync(url, wanted):
    """Comes back when the server has taken it up."""
    with psycopg.connect(url, autocommit=True) as link:
        link.execute(f"ALTER SYSTEM SET fsync = {wanted}")
        link.execute("SELECT pg_reload_conf()")
        until = time.monotonic() + 20
        while link.execute("SHOW fsync").fetchone() != (wanted,):
            assert time.monotonic() < until


def test_a_server_that_does_not_wait_for_its_disk_is_refused(careless):
    with pytest.raises(Unavailable, match=r"fsync = off.*Set fsync = on"):
        open_store(careless)


@pytest.fixture
def careful(cluster):
    """The address of a database whose server waits for its disk, whatever a test does to it."""
    url = cluster.new_url()
    yield url
    set_fsync(url, "on")


def test_a_server_that_ceases_to_wait_for_its_disk_gets_no_new_connection(careful):
    url, store = careful, open_store(careful)
    pushed(store, made("a.1", "job:one", {"flow": "1"}))
    store.close()
    set_fsync(url, "off")
    with pytest.raises(Unavailable, match="fsync"):
        pushed(store, made("a.2", "job:one", {"flow": "2"}))
    set_fsync(url, "on")
    assert pushed(store, made("a.2", "job:one", {"flow": "2"}))[0]["status"] == "stored"
    store.close()


def test_pushes_at_once_wait_for_each_other_and_none_is_refused(url):
    store, troubles, begin = open_store(url), [], threading.Barrier(4)

    def push(device):
        begin.wait(20)
        try:
            for number in range(1, 40):
                pushed(store, made(f"{device}.{number}", "job:one", {"flow": str(number)}), device=device)
        except Exception as trouble:
            troubles.append(trouble)
        finally:
            store.close()

    threads = [threading.Thread(target=push, args=(device,)) for device in "abcd"]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert troubles == [] and store.counter()["position"] == 4 * 39
    store.close()
