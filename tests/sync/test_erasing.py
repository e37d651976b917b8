"""A person's texts that were held are emptied, their numbers, hashes and chain stay; everything is invented."""

from sync import change, erasing, exchange, held
from sync.verify import verify

from .making import made, pushed

NAME = "Invented Haulage"


def hold(store):
    """Four held changes: of the person, cut off in the middle, of another person, of a job that names the person."""
    pushed(store, made("h.1", "owner:o", {"name": NAME}, schema=2), '{"record": "owner:o", "set": {"name": "Inv',
           made("h.2", "owner:p", {"name": "Someone else"}, schema=2), made("h.3", "job:j", {"owner": "owner:o"}, schema=2))


def bodies(store):
    return [bytes(row[0]).decode() for row in store.rows("SELECT body FROM held ORDER BY number")]


def test_held_texts_of_a_person_are_emptied_and_no_other(store):
    hold(store)
    before, end = bodies(store), store.counter()
    assert erasing.erase_held(store, ["owner:o", "owner:nobody"]) == {"owner:o": [1, 2]}
    assert bodies(store) == ["", "", *before[2:]] and store.counter() == end
    assert verify(store, emptied=[1, 2]).problems == [] and verify(store, emptied=[1, 2]).counts["erased"] == 2
    assert [problem.code for problem in verify(store).problems] == ["held_altered", "held_hidden"] * 2
    assert [problem.where[:6] for problem in verify(store, emptied=[1]).problems] == ["held 2"] * 2
    assert erasing.erase_held(store, ["owner:o"]) == {}


def test_a_held_text_that_is_nested_without_end_holds_up_no_erasing(store):
    deep = "[" * 20_000
    receipts = pushed(store, deep, '{"x": "owner:o", "y": ' + deep)
    assert [receipt["reason"] for receipt in receipts] == ["too_deep", "too_deep"]
    assert erasing.erase_held(store, ["owner:o"]) == {"owner:o": [2]} and bodies(store) == [deep, ""]


def test_a_number_that_was_told_covers_an_empty_text_only(store):
    hold(store)
    store.rows("UPDATE held SET body = ? WHERE number = 3", (b"other",))
    assert [problem.code for problem in verify(store, emptied=[1, 2, 3]).problems] == ["held_altered"]


def test_an_emptied_change_is_never_stored_and_the_same_one_again_is_not_kept(store):
    hold(store)
    erasing.erase_held(store, ["owner:o"])
    store.newest_schema = 2
    assert [receipt["record"] for receipt in held.retry_held(store)] == ["owner:p", "job:j"]
    store.newest_schema = 1
    text = made("h.1", "owner:o", {"name": NAME}, schema=2)
    receipts = exchange.push(store, "v", [change.to_text(text)], [change.content_hash(change.to_text(text))])
    assert receipts[0]["status"] == "held" and bodies(store)[:2] == ["", ""]


def test_a_held_change_that_was_stored_later_is_emptied_too(store):
    hold(store)
    store.newest_schema = 2
    held.retry_held(store)
    at = store.rows("SELECT resolved_at FROM held WHERE number = 1")[0][0]
    assert at and erasing.erase_held(store, ["owner:o"]) == {"owner:o": [1, 2]}
    assert store.rows("SELECT resolved_at FROM held WHERE number = 1")[0][0] == at
    assert verify(store, emptied=[1, 2]).problems == []


def test_what_a_record_ever_said_is_told_while_the_log_holds_it(store):
    pushed(store, made("a.1", "owner:o", {"name": NAME, "contact": ""}),
           made("a.2", "owner:o", {"name": "New"}, {"name": ["a.1"]}),
           made("a.3", "owner:o", {"name": None, "contact": "New"}, {"name": ["a.2"], "contact": ["a.1"]}))
    assert erasing.texts_of(store, "owner:o") == [NAME, "New"]
    erasing.erase(store, "owner:o")
    assert NAME not in erasing.texts_of(store, "owner:o") and erasing.texts_of(store, "owner:none") == []
