"""Many writers in processes of their own, and a reader that must miss nothing."""

import subprocess
import sys
import threading
from pathlib import Path

from sync import change, exchange

from .making import made, open_store, pushed

WRITERS = 4
PUSHES = 40


def test_a_reader_beside_many_writing_processes_misses_nothing(store, url):
    writers = [subprocess.Popen([sys.executable, "-m", "tests.sync.writing", url, f"w{n}", str(PUSHES)], text=True,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2])
               for n in range(WRITERS)]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    seen, cursor, pages_with_news = {}, None, 0
    while True:
        are_done = all(writer.poll() is not None for writer in writers)
        page = exchange.pull(store, cursor, limit=7)
        assert not page["reset"]
        cursor = page["cursor"]
        pages_with_news += bool(page["records"])
        for entry in page["records"]:
            seen.setdefault(entry["record"], {}).update(entry["heads"])
        if are_done and page["next"] is None:
            break
    written = 0
    for writer in writers:
        written += int(writer.communicate()[0])
        assert writer.returncode == 0
    assert pages_with_news > 3, "the reader came too late to prove anything"
    everything = exchange.pull(store, None, limit=10_000)
    assert seen == {entry["record"]: entry["heads"] for entry in everything["records"]}
    assert cursor == everything["cursor"] and cursor["position"] == written
    positions = [row[0] for row in store.rows("SELECT position FROM change_log ORDER BY position")]
    assert positions == list(range(1, written + 1))


def test_a_later_push_waits_for_an_earlier_one_that_has_taken_its_number(store, url):
    has_number, may_commit, receipts = threading.Event(), threading.Event(), {}

    def earlier():
        other = open_store(url)
        with other.writing() as counter:
            has_number.set()
            assert may_commit.wait(10)
            text = change.to_text(made("a.1", "job:one", {"flow": "1"}))
            arrival = exchange.arrive(other, text, change.content_hash(text), None)
            receipts["earlier"] = exchange.store_arrivals(other, counter, "a", [arrival])
        other.close()

    def later():
        other = open_store(url)
        receipts["later"] = pushed(other, made("b.1", "job:two", {"flow": "1"}))
        other.close()

    threads = [threading.Thread(target=earlier), threading.Thread(target=later)]
    threads[0].start()
    assert has_number.wait(10)
    threads[1].start()
    threads[1].join(0.3)  # nothing to wait for: the point is that it does not end
    assert receipts == {} and exchange.pull(store, None)["records"] == []
    may_commit.set()
    for thread in threads:
        thread.join(10)
    assert [receipts[name][0]["position"] for name in ("earlier", "later")] == [1, 2]


def test_a_record_that_moves_on_while_pages_are_read_loses_no_field(store):
    """A page ends at 3 while job:busy stands at 5: its answer from 2 must still come with a later page."""
    pushed(store, made("a.1", "job:one", {"flow": "1"}), made("a.2", "job:busy", {"flow": "2"}),
           made("a.3", "job:two", {"flow": "3"}), made("a.4", "job:three", {"flow": "4"}),
           made("a.5", "job:busy", {"weight": "5"}))
    for start in (None, exchange.pull(store, None, limit=1)["cursor"]):
        cursor, seen = start, {}
        while True:
            page = exchange.pull(store, cursor, limit=1)
            for entry in page["records"]:
                seen.setdefault(entry["record"], {}).update(entry["heads"])
            if page["next"] is None:
                break
            cursor = page["cursor"]
        assert sorted(seen["job:busy"]) == ["flow", "weight"]
