"""Fills a store with very many records in seconds: the rows that pushes of these changes would have made, written straight.

A few changes are made and merged by the product's own code; each record is one of them under another name.
tests/bench/test_seeding.py proves such a store with sync.verify.
"""

import hashlib
import itertools
import random

from sync import exchange, merge
from sync.change import make_change, to_text
from sync.log import next_chain
from webform.shop import Shop

from . import inspections
from .telling import tag_of

NUMBER, POSITION, NAME, FILTER = "777000777", "888000888", "zzzzzzzzzzzzzzzz", "yyyyyyyyyyyyyyyy"  # stand for what differs
TAG = "7K3M9QX07"
SERIAL, TRUCK, ORDER, OWNER, OWNER_NAME = "XXserialXX", "XXtruckXX", "XXorderXX", "xxxxxxxxxxownerx", "XXnameXX"
OF_ONE_TRUCK, OF_ONE_OWNER = 2, 10  # filters
VARIETY = 200
BATCH = 10_000
AT, BY = inspections.AT, "person:0000000000invent"


def inspection_patterns():
    """Patterns of inspections as tests/bench/inspections.py makes them, one record each, of a filter each."""
    return [[("job:" + NAME, {**inspections.answers(10**9 + n), "filter": "filter:" + FILTER})] for n in range(VARIETY)]


def shop_patterns(models=50):
    """Patterns of a filter with its tag and its one job."""
    found = []
    for n in range(VARIETY):
        whole = inspections.answers(10**9 + n)
        job = {field: whole[field] for field in ("work_order", "truck", "before.visual", "before.weight")}
        found.append([("filter:" + NAME, {"unit_kind": "wall_flow", "model": f"model:m{n % models}", "serial": NUMBER}),
                      ("tag:" + TAG, {"filter": "filter:" + NAME}), ("job:" + NAME, {"filter": "filter:" + NAME, **job})])
    return found


def desk_patterns():
    """The same of filters, trucks and owners that can be told apart, as a desk looks for them: desk_names()."""
    found = shop_patterns()
    for n, group in enumerate(found):
        group[0][1]["serial"] = SERIAL
        group[2][1].update(truck=TRUCK, work_order=ORDER, owner="owner:" + OWNER)
        if n % OF_ONE_OWNER == 0:
            group.append(("owner:" + OWNER, {"name": OWNER_NAME}))
    return found


def desk_names(number):
    """What stands in the records of one filter; its serial ends with six characters that no other has."""
    owner, letters = number // OF_ONE_OWNER, ""
    for place in range(5):
        letters += "abcdefghijklmnopqrstuvwxyz"[owner // 26 ** place % 26]
    return {NAME: f"{number:016d}", TAG: tag_of(number), SERIAL: f"E-{number % 7}-{number:06d}",
            ORDER: f"WO/{number:07d}", TRUCK: f"Tractor, KX T{number // OF_ONE_TRUCK:06d}", OWNER: f"{owner:016d}",
            OWNER_NAME: f"Firm Q{letters} Haulage"}


def note_words(data):
    """Fills the desk's index of the shop in this folder, as the background does, without its rests."""
    shop = Shop(data)
    while shop.index.is_behind():
        shop.index.step()
    shop.store.close()


def seed(store, patterns, many, names):
    """Adds `many` groups of records after what the store holds. names(number): {stand-in: text} of a group."""
    ready = [[_prepared(store, record, answers) for record, answers in group] for group in patterns]
    numbers = itertools.count()
    for start in range(0, many, BATCH):
        with store.writing() as counter:
            log, snapshots, refs = [], [], []
            for number in itertools.islice(numbers, min(BATCH, many - start)):
                given = names(number)
                for pattern in ready[number % len(ready)]:
                    counter.position += 1
                    _fill(pattern, {**given, NUMBER: str(counter.position), POSITION: str(counter.position)}, counter, log,
                          snapshots, refs)
            counter.lamport = max(counter.lamport, counter.position)
            store.write_many("INSERT INTO change_log (position, id, hash, chain, record, kind, device, received_at, body) "
                             "VALUES (?,?,?,?,?,?,?,?,?)", log)
            store.write_many("INSERT INTO snapshot (record, kind, position, json) VALUES (?,?,?,?)", snapshots)
            store.write_many("INSERT INTO ref (record, field, target) VALUES (?,?,?)", refs)


def names_of_a_year(number):
    """The names in an inspection of the year before those of inspections.texts, which sort as new ones do."""
    draw = random.Random(number)
    return {NAME: inspections.name(draw, inspections.FIRST_MS + number * inspections.MINUTES_MS),
            FILTER: inspections.name(draw, inspections.FIRST_MS + draw.randrange(inspections.YEAR_MS))}


def call_it_judged(data):
    """Tells the background of the shop in this folder that all jobs there are judged, so that it does not begin to."""
    shop = Shop(data)
    end = shop.store.counter()["position"]
    shop.store.rows("INSERT INTO verdict_place (calculation, position, target) VALUES (?, ?, ?) ON CONFLICT (calculation) "
                    "DO UPDATE SET position = excluded.position, target = excluded.target", (shop.calculation, end, end))
    shop.store.close()


def _prepared(store, record, answers):
    change = make_change(f"seed.seed.{NUMBER}", record, answers, lamport=int(NUMBER), at=AT, by=BY)
    snapshot = merge.empty(record, change["kind"])
    merge.lay(snapshot, change)
    refs = [(field, target) for field in sorted(store.ref_fields(change["kind"]))
            for target in exchange.targets(merge.standing(snapshot, field))]
    return record, change["kind"], change["id"], to_text(change), "", refs


def _fill(pattern, given, counter, log, snapshots, refs):
    def named(text):
        for stand_in, real in given.items():
            text = text.replace(stand_in, real)
        return text

    record, kind, identity, text, snapshot = (named(part) for part in pattern[:5])
    found = hashlib.sha256(text.encode()).hexdigest()[:32]
    counter.chain = next_chain(counter.chain, identity, found)
    log.append((counter.position, identity, found, counter.chain, record, kind, "seed", AT, text))
    snapshots.append((record, kind, counter.position, snapshot))
    refs.extend((record, field, named(target)) for field, target in pattern[5])
