"""What must hold after every schedule. What is expected is worked out from what people said, not by sync's own merge."""

import functools
import hashlib
import shutil
import tempfile

from sync import exchange, json_text, lookup, merge
from sync.log import Store
from webform.checklist.lookup import policy_of, ref_fields
from webform.shop import Shop

from .people import JOBS, READINGS, readings_in
from .phones import standing_in
from .world import NEWER_SCHEMA, TRIES

ROUNDS = 12
MOST = 10_000


class Broken(AssertionError):
    """A promise that did not hold."""


def check(is_kept, promise, *details):
    """Raises Broken with the promise where it was not kept."""
    if not is_kept:
        raise Broken(f"{promise}: {' '.join(str(detail)[:600] for detail in details)}")


def after(world, rng):
    """Heals everything, waits until all is quiet, checks; then the desk settles all, and it is checked again."""
    world.heal(rng)
    quiet(world, "after healing")
    check_all(world, rng)
    world.place.upgrade(NEWER_SCHEMA)
    world.desk.retry()
    answered(world, "after the upgrade", [functools.partial(tab.push, is_held_offered=True) for tab in world.tabs()])
    quiet(world, "after the upgrade")
    settle_all(world, rng)
    quiet(world, "after the desk has settled all")
    for tab in world.tabs():
        check(tab.waiting() == [] and tab.held() == [], "every outbox empties", tab.waiting(), tab.held())
    check(world.desk.held() == [], "nothing stays held after the upgrade", world.desk.held())
    check_all(world, rng)


def quiet(world, when):
    """Every phone syncs until nothing waits anywhere and nobody learns anything new."""
    before = None
    for _ in range(ROUNDS):
        answered(world, when, [tab.sync for tab in world.tabs()])
        now = merge.canonical([[tab.waiting(), tab._place("cursor")] for tab in world.tabs()])
        if now == before and not any(tab.waiting() for tab in world.tabs()):
            return
        before = now
    raise Broken(f"every outbox empties {when}: {[tab.waiting() for tab in world.tabs()]}")


def answered(world, when, actions):
    """Every action gets its answer: the link is good now and the server runs."""
    for action in actions:
        troubles = world.tried_again(action)
        check(len(troubles) < TRIES, f"every phone is served {when}", troubles)


def settle_all(world, rng):
    """The desk settles one question after another until there is none."""
    for _ in range(MOST):
        forms = world.desk.questions()
        if not forms:
            return
        world.settle(rng.choice(forms), rng)
    raise Broken("the office can settle everything")


def check_all(world, rng):
    """Nothing lost, nothing twice, all the same, nothing OK that nobody saw."""
    store = world.place.open_store()
    try:
        entries = lookup.entries(store, limit=MOST)
        held = {entry["id"]: entry for entry in lookup.held(store, limit=MOST)}
        snapshots = all_snapshots(store)
        dump = dump_of(store, snapshots)
    finally:
        store.close()
    none_twice(entries)
    nothing_lost(world, entries, held)
    receipts_are_true(world, entries)
    check({one["id"] for one in world.desk.held()} >= held.keys(), "the desk is shown what is held", held)
    expected = heads_of(world.said, [entry["id"] for entry in entries])
    check(expected == ids_in(snapshots), "an answer stands until a change names it",
          difference(expected, ids_in(snapshots)))
    all_see_the_same(world, snapshots)
    rebuilt(entries, dump, snapshots, rng)
    no_ok_unseen(world, expected, snapshots)


def none_twice(entries):
    """Every change is in the log once, without a hole, and the chain is the one that PROTOCOL.md describes."""
    ids, chain = [entry["id"] for entry in entries], "0" * 32
    check(len(set(ids)) == len(ids), "nothing is twice in the log", ids)
    for number, entry in enumerate(entries, 1):
        chain = hashlib.sha256(f"{chain} {entry['id']} {entry['hash']}".encode()).hexdigest()[:32]
        check((entry["position"], entry["chain"]) == (number, chain), "the log has no hole and its chain holds", entry)
        check(hashlib.sha256(entry["text"].encode()).hexdigest()[:32] == entry["hash"], "texts are verbatim", entry)


def nothing_lost(world, entries, held):
    """Everything that a person saw as saved is in the log as it was said, or held with its text."""
    stored = {entry["id"]: entry["text"] for entry in entries}
    for identity, said in world.said.items():
        text = stored.get(identity) or (held[identity]["text"] if identity in held else None)
        check(text is not None, "what was saved is in the books or held", identity, said)
        found = json_text.strict_json(text)
        replaces = {field: sorted(ids) for field, ids in said["seen"].items() if ids}
        check((found["record"], found["set"], {field: ids for field, ids in found["replaces"].items() if ids})
              == (said["record"], said["set"], replaces), "a change says what its author said", identity, said, text)
        check(identity in stored or held[identity]["reason"] == "newer_schema", "only what is newer is held", held)
    check(stored.keys() <= world.said.keys(), "nothing is in the books that nobody said", stored.keys() - world.said.keys())


def receipts_are_true(world, entries):
    """What a phone keeps as confirmed stands in the log at the place, and with the hash, that its receipt said."""
    placed = {entry["id"]: (entry["hash"], entry["position"]) for entry in entries}
    for tab in world.tabs():
        rows = tab.disk.execute("SELECT id, hash, position FROM outbox WHERE status = 'stored'").fetchall()
        for identity, found_hash, position in rows:
            check(placed.get(identity) == (found_hash, position), "a receipt tells where its change stands", tab.pen.device,
                  identity, position, placed.get(identity))


def heads_of(said, stored):
    """(record, field) → ids that stand, by the plain definition: stored, and named by no stored change."""
    gone = {(said[one]["record"], field, other) for one in stored for field, ids in said[one]["seen"].items()
            for other in ids}
    found = {}
    for one in stored:
        for field in said[one]["set"]:
            if (said[one]["record"], field, one) not in gone:
                found.setdefault((said[one]["record"], field), set()).add(one)
    return found


def ids_in(snapshots):
    """(record, field) → ids that stand in the server's snapshots."""
    return {(record, field): {answer["id"] for answer in answers} for record, snapshot in snapshots.items()
            for field, answers in snapshot["heads"].items() if answers}


def difference(one, other):
    """Where two of these differ."""
    return {key: (one.get(key), other.get(key)) for key in one.keys() | other.keys() if one.get(key) != other.get(key)}


def all_see_the_same(world, snapshots):
    """All tabs of all phones see the server's answers, byte for byte."""
    served = {record: {field: answers for field, answers in snapshot["heads"].items() if answers}
              for record, snapshot in snapshots.items()}
    for tab in world.tabs():
        check(merge.canonical(standing_in(tab)) == merge.canonical(served), "all phones and the server see the same",
              tab.pen.device, tab._place("cursor"), difference(standing_in(tab), served))


def rebuilt(entries, dump, snapshots, rng):
    """A server that is built from the log is the same byte for byte; in any other order every record is the same."""
    check(dump_of_changes(entries)[0] == dump, "a server rebuilt from its log is the same")
    mixed = list(entries)
    rng.shuffle(mixed)
    plain = {record: (snapshot["heads"], snapshot["gone"]) for record, snapshot in snapshots.items()}
    again = {record: (snapshot["heads"], snapshot["gone"]) for record, snapshot in dump_of_changes(mixed)[1].items()}
    check(merge.canonical(again) == merge.canonical(plain), "order does not matter", difference(plain, again))


def dump_of_changes(entries):
    """(dump, snapshots) of an empty store after these changes."""
    folder = tempfile.mkdtemp(prefix="ashbook-rebuilt-")
    store = Store(f"sqlite:///{folder}/shop.db", policy_of=policy_of, ref_fields=ref_fields, newest_schema=NEWER_SCHEMA)
    try:
        exchange.push(store, "rebuild", [entry["text"] for entry in entries], [entry["hash"] for entry in entries])
        snapshots = all_snapshots(store)
        return dump_of(store, snapshots), snapshots
    finally:
        store.close()
        shutil.rmtree(folder)


def all_snapshots(store):
    """Record → snapshot, of every record."""
    return store.snapshots([row[0] for row in store.rows("SELECT record FROM snapshot ORDER BY record")])


def dump_of(store, snapshots):
    """All that follows from the log, as one text: snapshots, references, and where the log ends."""
    end = store.counter()
    refs = store.rows("SELECT record, field, target FROM ref ORDER BY record, field, target")
    return merge.canonical([snapshots, [list(row) for row in refs], end["position"], end["chain"], end["lamport"]])


def no_ok_unseen(world, expected, snapshots):
    """No job reads OK to reinstall on readings that the author of its sign-off had not seen, or on two answers."""
    shop = Shop(world.place.folder, world.place.books.url)
    try:
        for job in JOBS:
            state = shop.job_state(job)
            signed = state["signoff"] and state["signoff"]["decision"] == "ok_to_reinstall"
            if not state["may_issue"] and not (signed and state["verdict"] == "ok_to_reinstall"):
                continue  # nobody can take this job for signed and good
            now = readings_in(snapshots[job]["heads"])
            seen = {world.said[one].get("evidence") for one in expected.get((job, "signoff"), ())}
            check(now in seen, "a sign-off stands on what its author saw", job, now, seen)
            open_readings = [entry for entry in state["two_answers"] if entry["field"] in READINGS]
            check(not open_readings or state["verdict"] != "ok_to_reinstall", "two answers in a reading are never OK", job,
                  open_readings)
    finally:
        shop.store.close()
