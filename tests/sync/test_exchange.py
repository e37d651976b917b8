"""Push, pull, fetch and held changes, on SQLite and on PostgreSQL alike."""

import json

import pytest

from sync import change, erasing, exchange, held, lookup, merge, wire
from sync.log import Unavailable

from .making import long_id, made, open_store, pushed, values

JOB = "job:one"


def position_of(receipts):
    """Statuses and positions, for short comparisons."""
    return [(receipt["status"], receipt["position"]) for receipt in receipts]


def test_a_push_gives_one_receipt_for_each_change_in_the_order_sent(store):
    receipts = pushed(store, made("a.1", JOB, {"flow": "1"}), made("a.2", "filter:x", {"serial": "S"}))
    assert position_of(receipts) == [("stored", 1), ("stored", 2)]
    assert [receipt["id"] for receipt in receipts] == [long_id("a.1"), long_id("a.2")]
    assert exchange.touched(receipts) == ["filter:x", JOB]
    assert pushed(store) == []


def test_a_second_push_changes_nothing_and_gives_the_same_receipt(store):
    changes = [made("a.1", JOB, {"flow": "1"}), made("a.2", JOB, {"flow": "2"}, {"flow": ["a.1"]})]
    first = pushed(store, *changes)
    before = exchange.pull(store, None), store.counter()
    again = pushed(store, *reversed(changes), *changes)
    assert position_of(again) == [("stored", 2), ("stored", 1), ("stored", 1), ("stored", 2)]
    assert (exchange.pull(store, None), store.counter()) == before
    assert exchange.touched(first) == [JOB] and exchange.touched(again) == []


def test_out_of_order_and_half_a_batch_end_in_the_same_record(store):
    changes = [made("a.1", JOB, {"flow": "1"}), made("a.2", JOB, {"flow": "2"}, {"flow": ["a.1"]}),
               made("a.3", JOB, {"flow": "3"}, {"flow": ["a.2"]})]
    pushed(store, changes[2])
    pushed(store, *changes[:1])
    pushed(store, *changes)
    assert values(lookup.view(store, JOB), "flow") == ["3"]
    snapshot = store.snapshots([JOB])[JOB]
    assert merge.canonical({key: snapshot[key] for key in ("record", "kind", "heads", "gone")}) == \
        merge.canonical(merge.apply_all(None, changes))


def test_the_same_id_with_other_content_is_held_and_the_first_value_stays(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    [receipt] = pushed(store, made("a.1", JOB, {"flow": "2"}))
    assert (receipt["status"], receipt["reason"]) == ("held", "other_content")
    both = pushed(store, made("b.1", JOB, {"light": "1"}), made("b.1", JOB, {"light": "2"}))
    assert [receipt["reason"] for receipt in both] == [None, "other_content"]
    assert values(lookup.view(store, JOB), "flow") == ["1"]
    assert {one["reason"] for one in lookup.held(store)} == {"other_content"} and lookup.held_count(store) == 2


def test_a_single_byte_or_another_author_under_the_same_id_is_held_and_the_first_stays(store):
    text = change.to_text(made("a.1", JOB, {"flow": "1.78 inH2O"}))
    pushed(store, text)
    others = [change.to_text(made("a.1", JOB, {"flow": "1.78 inH2O"}, by="person:alex")), text.replace(" inH2O", "  inH2O")]
    for place in range(len(text)):  # every byte of it, turned into its neighbour
        others.append(text[:place] + chr(ord(text[place]) ^ 1) + text[place + 1:])
    for other in others:
        [receipt] = pushed(store, other)
        assert receipt["status"] == "held" or receipt["id"] != long_id("a.1"), other
    [first] = [entry for entry in lookup.entries(store) if entry["id"] == long_id("a.1")]
    assert first["text"] == text and values(lookup.view(store, JOB), "flow")[0] == "1.78 inH2O"
    reasons = [one["reason"] for one in lookup.held(store, limit=1000)]
    assert reasons.count("other_content") >= len(text) // 4


@pytest.mark.parametrize(("text", "reason"), [
    ("{", "not_json"), ('{"id": "a.r.9", "n": NaN}', "not_finite"), ("\x00", "not_json"), ("\ud800", "bad_character"),
    (change.to_text(made("a.9", JOB, {"flow": "1"}, schema=2)), "newer_schema"),
    (change.to_text(made("a.9", JOB, {"flow": 1})).replace('"flow":1', '"flow":' + "[" * 300 + "]" * 300), "too_deep"),
    (change.to_text(made("a.9", JOB, {"forbidden": "1"})), "no_such_field"),
])
def test_a_bad_change_is_held_raw_and_blocks_no_other(store, text, reason):
    def accept(one):
        return "no_such_field" if "forbidden" in one["set"] else None

    receipts = pushed(store, made("a.1", JOB, {"flow": "1"}), text, made("a.2", JOB, {"light": "2"}), accept=accept)
    assert [receipt["status"] for receipt in receipts] == ["stored", "held", "stored"]
    assert receipts[1]["reason"] == reason and receipts[1]["hash"] == change.content_hash(text)
    pushed(store, text, accept=accept)
    [kept] = lookup.held(store)
    assert (kept["reason"], kept["device"]) == (reason, "a")
    if "\ud800" not in text:
        assert kept["text"] == text
    assert sorted(lookup.view(store, JOB)["fields"]) == ["flow", "light"]


def test_a_wrong_hash_is_held_and_resolved_by_the_undamaged_change(store):
    text = change.to_text(made("a.1", JOB, {"flow": "1"}))
    [receipt] = exchange.push(store, "a", [text.replace("kim", "tim")], [change.content_hash(text)])
    assert (receipt["status"], receipt["reason"], receipt["id"]) == ("held", "hash_mismatch", long_id("a.1"))
    [odd] = exchange.push(store, "a", [text], ["\x00 no hash"])
    assert odd["reason"] == "hash_mismatch"
    assert position_of(exchange.push(store, "a", [text], [change.content_hash(text)])) == [("stored", 1)]
    assert [one["hash"] for one in lookup.held(store)] == [change.content_hash(text)]  # as it arrived, whatever was stated


def test_held_changes_are_stored_when_what_they_lacked_arrives(store):
    text = change.to_text(made("a.1", JOB, {"flow": "1"}, schema=2))
    pushed(store, text, device="van")
    pushed(store, made("a.2", JOB, {"light": "1"}), accept=lambda one: "not_yet")
    assert held.retry_held(store, lambda one: "still_not")[0]["status"] == "held"
    assert {one["reason"] for one in lookup.held(store)} == {"newer_schema", "still_not"}
    store.newest_schema = 2
    receipts = held.retry_held(store, lambda one: None)
    assert [receipt["status"] for receipt in receipts] == ["stored", "stored"]
    assert lookup.held(store) == [] and held.retry_held(store) == []
    assert {entry["device"] for entry in lookup.history(store, JOB)} == {"van", "a"}


@pytest.mark.parametrize("limit", ["newest_schema", "LONGEST_TEXT"])
def test_what_is_stored_gets_its_receipt_also_from_a_program_that_would_not_take_it(store, monkeypatch, limit):
    """A program that was put back a version, or that has narrower limits than the one that stored it."""
    store.newest_schema = 2
    text = change.to_text(made("a.1", JOB, {"flow": "1" * 100}, schema=2))
    [stored] = pushed(store, text)
    if limit == "newest_schema":
        store.newest_schema = 1
    else:
        monkeypatch.setattr(change, limit, 100)
    [again, beside] = pushed(store, text, text.replace("a.r.1", "a.r.2"))
    assert (again["status"], again["position"], again["reason"]) == ("stored", stored["position"], None)
    assert beside["status"] == "held" and [one["hash"] for one in lookup.held(store)] == [beside["hash"]]
    assert exchange.touched([again]) == []
    assert exchange.push(store, "a", [text], ["0" * 32])[0]["reason"] == "hash_mismatch"


def test_a_revoked_device_is_answered_held_and_nothing_else_until_somebody_lets_it_in(store):
    known = made("a.1", JOB, {"flow": "1"})
    pushed(store, known)
    receipts = pushed(store, known, made("a.2", JOB, {"flow": "2"}), "{", shut="device_revoked")
    assert {receipt["reason"] for receipt in receipts} == {"device_revoked"}
    assert lookup.held_count(store, "a") == 2 and lookup.held_count(store, "b") == 0
    assert held.retry_held(store) == []
    receipts = held.retry_held(store, reasons=["device_revoked"])
    assert sorted(receipt["status"] for receipt in receipts) == ["held", "stored"]
    assert values(lookup.view(store, JOB), "flow") == ["1", "2"]


def test_a_pull_gives_only_the_fields_whose_answers_changed(store):
    pushed(store, made("a.1", JOB, {"flow": "1", "light": "0"}), made("a.2", "filter:x", {"serial": "S"}))
    page = exchange.pull(store, None)
    assert {entry["record"] for entry in page["records"]} == {JOB, "filter:x"} and page["next"] is None
    assert exchange.pull(store, page["cursor"])["records"] == []
    pushed(store, made("b.1", JOB, {"flow": "2"}))
    [entry] = exchange.pull(store, page["cursor"])["records"]
    assert entry["record"] == JOB and list(entry["heads"]) == ["flow"]
    assert [answer["id"] for answer in entry["heads"]["flow"]] == [long_id("a.1"), long_id("b.1")]
    page = exchange.pull(store, page["cursor"])
    pushed(store, made("desk.1", JOB, {"flow": "2"}, {"flow": ["a.1", "b.1"]}))
    [entry] = exchange.pull(store, page["cursor"])["records"]
    assert [answer["id"] for answer in entry["heads"]["flow"]] == [long_id("desk.1")]


def test_a_change_that_was_already_replaced_is_not_sent_to_anybody(store):
    pushed(store, made("b.1", JOB, {"flow": "2"}, {"flow": ["a.1"]}))
    cursor = exchange.pull(store, None)["cursor"]
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    page = exchange.pull(store, cursor)
    assert page["records"] == [] and page["cursor"]["position"] == 2


def test_pages_together_give_everything_even_while_records_move(store):
    pushed(store, *[made(f"a.{n}", f"job:j{n}", {"flow": str(n)}) for n in range(1, 8)])
    seen, cursor = {}, None
    for turn in range(20):
        page = exchange.pull(store, cursor, limit=2)
        for entry in page["records"]:
            seen.setdefault(entry["record"], {}).update(entry["heads"])
        cursor = page["cursor"]
        if turn < 2:
            pushed(store, made(f"b.{turn}", f"job:j{turn + 1}", {"light": "0"}))
        if page["next"] is None:
            break
    assert seen == {record: snapshot["heads"] for record, snapshot in store.snapshots(seen).items()} and len(seen) == 7
    assert cursor == exchange.pull(store, None)["cursor"]


def test_a_page_ends_early_when_its_records_are_large(store, monkeypatch):
    monkeypatch.setattr(exchange, "PAGE_CHARACTERS", 50)
    pushed(store, *[made(f"a.{n}", f"job:j{n}", {"flow": str(n)}) for n in range(1, 4)])
    assert [len(exchange.pull(store, None)["records"]), exchange.pull(store, None)["next"]] == [1, "more"]


@pytest.mark.parametrize("odd", ["\ud800", "job:\ud800", "\x00", "job:\x00", "", "x" * 5000, "job:one "])
def test_an_id_that_no_record_can_have_is_left_out_of_a_fetch(store, odd):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    for request in ({"records": [odd, JOB]}, {"records": [JOB], "around": [odd]}):
        status, answer = wire.answer_fetch(store, json.dumps(request).encode())
        assert status == 200 and [entry["record"] for entry in answer["records"]] == [JOB]


@pytest.mark.parametrize("odd", ["1.\ud800", "1.\x00", "1.é", "1.", "\ud800.x", "x", "."])
def test_a_hold_that_was_never_made_here_is_a_place_that_does_not_fit(store, odd):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    place = {**exchange.pull(store, None)["cursor"], "held": odd}
    status, answer = wire.answer_pull(store, json.dumps({"cursor": None, "witness": place}).encode())
    assert status == 200 and answer["reset"] is True


def test_a_device_gets_what_it_carries_and_can_fetch_the_rest(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}), made("a.2", "filter:x", {"serial": "S"}))
    page = exchange.pull(store, None, carried=lambda kind, record, heads: kind == "filter")
    assert [entry["record"] for entry in page["records"]] == ["filter:x"] and page["cursor"]["position"] == 2
    pushed(store, made("a.3", JOB, {"light": "1"}))
    [later] = exchange.pull(store, page["cursor"], carried=lambda *_: False)["records"]  # changes are told of all
    assert (later["record"], list(later["heads"]), later["whole"]) == (JOB, ["light"], False)
    found = exchange.fetch(store, [JOB, "job:nobody", JOB])["records"]
    assert [(entry["record"], list(entry["heads"])) for entry in found] == [(JOB, ["flow", "light"])]


@pytest.mark.parametrize("is_older", [False, True], ids=["this server's cursor", "an older server's"])
def test_what_moves_while_a_first_pull_rests_is_told_though_it_is_carried_no_more(store, is_older):
    """A first pull over a bad link may rest for weeks: a job that it brought open is signed meanwhile, and long done."""
    pushed(store, *[made(f"a.{n}", f"job:j{n}", {"flow": "1"}) for n in range(1, 5)], made("a.5", "job:old", {"flow": "1"}))
    signed = set()

    def carried(_kind, record, _heads):
        return record not in {"job:old", *signed}

    page = exchange.pull(store, None, limit=2, carried=carried)
    assert [entry["record"] for entry in page["records"]] == ["job:j1", "job:j2"]
    pushed(store, made("b.1", "job:j1", {"signoff": "fit"}))
    signed.add("job:j1")
    told, cursor = {}, page["cursor"]
    if is_older:
        del cursor["until"]
    while page["next"] is not None:
        page = exchange.pull(store, cursor, limit=2, carried=carried)
        told.update({entry["record"]: entry for entry in page["records"]})
        cursor = page["cursor"]
    assert list(told["job:j1"]["heads"]) == ["flow", "signoff"] and told["job:j1"]["whole"] is True
    assert ("job:old" in told) is is_older  # which does not say when it began: better too much than too little


@pytest.mark.parametrize("wrong", [{"epoch": "other"}, {"chain": "f" * 32}, {"position": 99}])
def test_a_cursor_that_does_not_fit_this_log_begins_anew(store, wrong):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    cursor = exchange.pull(store, None)["cursor"]
    assert not exchange.pull(store, cursor)["reset"]
    page = exchange.pull(store, {**cursor, **wrong})
    assert page["reset"] and [entry["record"] for entry in page["records"]] == [JOB] and page["cursor"] == cursor


def test_a_new_epoch_makes_every_device_begin_anew(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    cursor = exchange.pull(store, None)["cursor"]
    assert store.begin_epoch() != cursor["epoch"]
    assert exchange.pull(store, cursor)["reset"]


def test_a_cursor_from_before_the_first_change_is_a_place_too(store):
    cursor = exchange.pull(store, None)["cursor"]
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    page = exchange.pull(store, cursor)
    assert not page["reset"] and len(page["records"]) == 1


def test_the_chain_covers_every_id_and_hash_in_order(store):
    texts = [change.to_text(made(f"a.{n}", JOB, {"flow": str(n)})) for n in (1, 2)]
    pushed(store, *texts)
    chain = "0" * 32
    for n, text in enumerate(texts, 1):
        chain = change.content_hash(f"{chain} a.r.{n} {change.content_hash(text)}")
        assert store.chain_at(n) == chain
    assert store.counter()["chain"] == chain and store.chain_at(3) is None


def test_references_are_found_from_both_ends_and_follow_what_stands(store):
    pushed(store, made("a.1", JOB, {"filter": "filter:x"}), made("a.2", "job:two", {"filter": "filter:x"}),
           made("a.3", "tag:T", {"filter": "filter:x"}), made("a.4", "filter:x", {"model": None, "serial": "S"}))
    assert lookup.children(store, "filter:x") == [JOB, "job:two", "tag:T"]
    assert lookup.find(store, "job", "filter", "filter:x") == [JOB, "job:two"]
    pushed(store, made("b.1", "tag:T", {"filter": "filter:y"}))
    for target in ("filter:x", "filter:y"):
        assert lookup.find(store, "tag", "filter", target) == ["tag:T"]
    pushed(store, made("b.2", "tag:T", {"filter": "filter:y"}, {"filter": ["a.3", "b.1"]}))
    assert lookup.find(store, "tag", "filter", "filter:x") == [] and lookup.children(store, "filter:x", "model") == []


def test_the_desk_writes_after_all_that_it_has_seen(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}, lamport=41), made("b.1", JOB, {"flow": "2"}))
    pen = change.Pen("desk")
    receipt = exchange.write(store, pen, JOB, {"flow": "2"}, "person:ana", replaces={"flow": ["a.r.1", "b.r.1"]})
    [answer] = lookup.view(store, JOB)["fields"]["flow"]["answers"]
    assert receipt["status"] == "stored" and (answer["id"], answer["lamport"]) == (receipt["id"], 42)
    receipt = exchange.write(store, pen, JOB, {"x": "2"}, "person:ana", replaces={}, accept=lambda one: "no_such_field")
    assert (receipt["status"], receipt["reason"]) == ("held", "no_such_field")
    with pytest.raises(change.Refused):
        exchange.write(store, pen, JOB, {"flow": 2.5}, "person:ana", replaces={})


def test_records_of_a_kind_come_last_changed_first_and_in_pages(store):
    pushed(store, *[made(f"a.{n}", f"job:j{n}", {"flow": "1"}) for n in range(1, 5)])
    pushed(store, made("a.9", "job:j1", {"light": "1"}))
    first = lookup.records(store, "job", 2)
    assert [one["record"] for one in first] == ["job:j1", "job:j4"]
    rest = lookup.records(store, "job", 9, before=first[-1]["position"])
    assert [one["record"] for one in rest] == ["job:j3", "job:j2"]


def test_the_history_keeps_who_and_when_of_every_answer_also_of_those_that_lost(store):
    changes = [made("a.1", JOB, {"flow": "1"}), made("b.1", JOB, {"flow": "2"}, {"flow": ["a.1"]}, by="person:ana")]
    pushed(store, *changes)
    assert [entry["change"] for entry in lookup.history(store, JOB)] == changes
    assert lookup.view(store, "job:nobody") is None


def test_personal_texts_can_be_erased_without_breaking_the_chain(store):
    texts = [change.to_text(one) for one in (
        made("a.1", "owner:o", {"name": "Invented Haulage"}), made("a.2", JOB, {"flow": "1"}),
        made("desk.1", "owner:o", {"name": None}, {"name": ["a.1"]}))]
    pushed(store, *texts)
    counter = store.counter()
    assert erasing.erase(store, "owner:o") == 1 and erasing.erase(store, "owner:nobody") == 0
    assert store.counter() == counter
    chain = "0" * 32
    for entry in lookup.entries(store):
        chain = change.content_hash(f"{chain} {entry['id']} {entry['hash']}")
        assert entry["chain"] == chain
    assert [entry["text"] for entry in lookup.entries(store)] == [None, texts[1], texts[2]]
    assert lookup.history(store, "owner:o")[0]["change"] is None
    assert "Invented" not in json.dumps(store.snapshots(["owner:o"])) + json.dumps(exchange.pull(store, None))
    assert position_of(pushed(store, texts[0])) == [("stored", 1)]  # an old phone that sends it again
    assert values(lookup.view(store, "owner:o"), "name") == [None]
    rebuilt = merge.apply_all(None, [json.loads(texts[2])])
    assert store.snapshots(["owner:o"])["owner:o"]["gone"] == rebuilt["gone"]
    with pytest.raises(ValueError, match="not declared personal"):
        erasing.erase(store, JOB)


def test_the_store_is_the_same_after_it_was_closed_and_opened(store, url):
    pushed(store, made("a.1", JOB, {"flow": "1"}))
    before = exchange.pull(store, None)
    store.close()
    other = open_store(url)
    assert exchange.pull(other, before["cursor"])["records"] == [] and exchange.pull(other, None) == before
    other.close()


def test_an_exception_in_a_push_leaves_nothing_behind(store, monkeypatch):
    monkeypatch.setattr(exchange, "_hold", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        pushed(store, made("a.1", JOB, {"flow": "1"}))
    monkeypatch.undo()
    assert store.counter()["position"] == 0 and store.snapshots([JOB]) == {}
    assert position_of(pushed(store, made("a.1", JOB, {"flow": "1"}))) == [("stored", 1)]


@pytest.mark.postgresql
def test_a_connection_that_broke_is_said_once_and_then_made_anew(cluster):
    url = cluster.new_url()
    store, other = open_store(url), open_store(url)
    [(number,)] = store.rows("SELECT pg_backend_pid()")
    other.rows("SELECT pg_terminate_backend(?)", (number,))
    with pytest.raises(Unavailable):
        pushed(store, made("a.1", JOB, {"flow": "1"}))
    assert position_of(pushed(store, made("a.1", JOB, {"flow": "1"}))) == [("stored", 1)]
    store.close()
    other.close()


def test_the_highest_lamport_of_the_log_is_known(store):
    pushed(store, made("a.1", JOB, {"flow": "1"}, lamport=41), made("a.2", JOB, {"light": "1"}, lamport=7))
    assert store.counter()["lamport"] == 41


def test_all_that_refers_to_a_record_is_found_around_it_two_steps_deep(store):
    pushed(store, made("a.1", JOB, {"filter": "filter:x"}), made("a.2", "tag:T", {"filter": "filter:x"}),
           made("a.3", "filter:x", {"model": "model:m"}), made("a.4", "filter:y", {"model": "model:m"}))
    assert lookup.around(store, ["filter:x"], 9) == ["filter:x", JOB, "tag:T"]
    assert lookup.around(store, ["model:m"], 9) == ["model:m", "filter:x", "filter:y", JOB, "tag:T"]
    assert lookup.around(store, ["model:m"], 2) == ["model:m", "filter:x"] and lookup.around(store, [], 9) == []
