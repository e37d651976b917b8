"""Pages of a few records, read while others write, links break and the server is put back: nobody keeps what is stale.

Seeded; a record is carried while it is open or among the last that moved, as the phone's are (webform/carrying.py).
"""

import json
import random
import shutil
from pathlib import Path

import pytest

from sync import client, lookup, wire
from sync.client import Client, NotCarried

from .making import made, open_store, policy_of, pushed, values

SEEDS = [*range(16), *(pytest.param(seed, marks=pytest.mark.soak) for seed in range(16, 60))]
STEPS = 60
RECORDS = [f"job:j{n}" for n in range(24)]
RECENT = 4
SIZES = (1, 2, 3, 5, 8)


class Shop:
    """A server that is put back now and then, and three devices on links that break."""

    def __init__(self, folder, seed, monkeypatch):
        self.folder, self.draw, self.is_bad, self.copies = folder, random.Random(seed), False, 0
        self.replaced, self.signed = set(), set()  # (field, id) that anybody ever replaced; records that were ever signed
        monkeypatch.setattr(client, "LEAST", 1)
        self.store = open_store(f"sqlite:///{folder}/shop.db")
        self.devices = [self.device(name) for name in ("van", "bench", "desk")]

    def device(self, name):
        return Client(":memory:", name, lambda route, body: self.post(name, route, body), policy_of)

    def carried(self, _kind, record, heads):
        recent = {entry["record"] for entry in lookup.records(self.store, "job", RECENT)}
        return record in recent or not heads.get("signoff")

    def post(self, name, route, body):
        """Whatever may happen to one request; somebody else may write before and after it."""
        for _ in range(self.draw.randrange(3) if self.is_bad else 0):
            self.somebody_writes()
        if self.is_bad and self.draw.random() < 0.2:
            raise NotCarried("broke off on the way there")
        if route == "push":
            answer = wire.answer_push(self.store, name, body)
        elif route == "fetch":
            answer = wire.answer_fetch(self.store, body)
        else:
            answer = wire.answer_pull(self.store, body, limit=self.draw.choice(SIZES), carried=self.carried)
        assert answer[0] == 200, answer
        if self.is_bad and self.draw.random() < 0.2:
            raise NotCarried("broke off on the way back")
        return json.dumps(answer[1]).encode()

    def somebody_writes(self):
        """One who is always there, over a link of his own."""
        other = Client(":memory:", f"other{self.draw.getrandbits(40):x}",
                       lambda route, body: json.dumps(wire.answer_push(self.store, "other", body)[1]).encode(), policy_of)
        self.write(other)
        other.push()
        other.close()

    def write(self, device):
        record, field = self.draw.choice(RECORDS), self.draw.choice(("flow", "note", "signoff"))
        written = device.write(record, {field: str(self.draw.randrange(100))}, "person:kim",
                               replaces={} if self.draw.random() < 0.3 else None)
        [text] = device.disk.execute("SELECT text FROM outbox WHERE id = ?", (written,)).fetchone()
        self.replaced.update((field, one) for ids in json.loads(text)["replaces"].values() for one in ids)
        self.signed.update([record] if field == "signoff" else [])

    def sync(self, device):
        device._most["pull"] = self.draw.choice(SIZES)
        self.is_bad = self.draw.random() < 0.7
        try:
            device.sync()
        except NotCarried:
            assert self.is_bad
        self.is_bad = False
        assert self.missing(device) == []

    def copy(self):
        self.copies += 1
        self.store.rows("PRAGMA wal_checkpoint(TRUNCATE)")
        shutil.copy(self.folder / "shop.db", self.folder / f"{self.copies}.copy")

    def put_back(self):
        if not self.copies:
            return
        self.store.close()
        for ending in ("", "-wal", "-shm"):
            Path(f"{self.folder}/shop.db{ending}").unlink(missing_ok=True)
        shutil.copy(self.folder / f"{self.draw.randint(1, self.copies)}.copy", self.folder / "shop.db")
        self.store = open_store(f"sqlite:///{self.folder}/shop.db")
        if self.draw.random() < 0.5:
            self.store.begin_epoch()

    def step(self):
        """What happens next."""
        what = self.draw.random()
        if what < 0.45:
            self.write(self.draw.choice(self.devices))
        elif what < 0.92:
            self.sync(self.draw.choice(self.devices))
        elif what < 0.96:
            self.copy()
        else:
            self.put_back()


    def missing(self, device):
        """Own answers that nobody has replaced and that are not on their author's screen; old work may be left out whole."""
        own = [json.loads(row[0]) for row in device.disk.execute("SELECT text FROM outbox WHERE status <> 'held'")]
        shown = {(record, field, answer["id"]) for record in device.records()
                 for field, held in (device.view(record) or {"fields": {}})["fields"].items() for answer in held["answers"]}
        pulled = {row[0] for row in device.disk.execute("SELECT record FROM snapshot")}
        absent = self.signed - pulled - set(json.loads(device._state("wanted") or "[]"))
        return [change for change in own for field in change["set"] if (field, change["id"]) not in self.replaced
                and change["record"] not in absent and (change["record"], field, change["id"]) not in shown]


@pytest.mark.parametrize("seed", SEEDS)
def test_whatever_the_pages_no_device_keeps_what_is_stale_and_none_loses_what_it_wrote(seed, tmp_path, monkeypatch):
    shop = Shop(tmp_path, seed, monkeypatch)
    for _ in range(STEPS):
        shop.step()
    for device in shop.devices * 3:
        device.sync()
    served = lookup.views(shop.store, RECORDS)
    for device in shop.devices:
        assert device.waiting() == [] and device.held() == []
        known = {record: view for record in device.records() if (view := device.view(record)) is not None}
        assert known == {record: served[record] for record in known}
        lacking = [record for record in served if record not in known]
        assert all(served[record]["fields"].get("signoff") for record in lacking), "it lacks what is open"
    told = {entry["id"] for entry in lookup.entries(shop.store, limit=100_000)}
    written = {row[0] for device in shop.devices for row in device.disk.execute("SELECT id FROM outbox")}
    assert written <= told
    for device in shop.devices:
        device.close()
    shop.store.close()


@pytest.fixture
def van(tmp_path):
    """A device whose pulls break off after the first page of two records, and the server's store."""
    store, pages = open_store(f"sqlite:///{tmp_path}/shop.db"), []

    def post(route, body):
        if route == "push":
            return json.dumps(wire.answer_push(store, "van", body)[1]).encode()
        pages.append(body)
        if len(pages) % 2 == 0:
            raise NotCarried("broke off")
        return json.dumps(wire.answer_pull(store, body, limit=2)[1]).encode()

    device = Client(":memory:", "van", post, policy_of)
    yield device, store
    device.close()
    store.close()


def broken_off(device):
    """A pull that comes no further than its first page."""
    with pytest.raises(NotCarried):
        device.pull()


def test_an_own_answer_stays_on_the_screen_where_a_pull_broke_off_before_its_record_came(van):
    device, store = van
    device.write("job:own", {"flow": "1"}, "person:kim")
    device.push()
    pushed(store, *[made(f"b.{n}", f"job:other{n}", {"flow": "2"}) for n in range(3)],
           made("b.9", "job:own", {"note": "by somebody else, so the record comes last"}))
    broken_off(device)
    assert "job:own" not in [row[0] for row in device.disk.execute("SELECT record FROM snapshot")]
    assert values(device.view("job:own"), "flow") == ["1"]
    device.pull()  # the second page, which is the last
    assert sorted(device.view("job:own")["fields"]) == ["flow", "note"]


def test_an_own_answer_that_somebody_replaced_does_not_come_back_where_a_pull_broke_off(van):
    device, store = van
    own = device.write("job:own", {"flow": "1"}, "person:kim")
    device.push()
    replacing = {**made("b.1", "job:own", {"flow": "2"}), "replaces": {"flow": [own]}}
    pushed(store, replacing, *[made(f"b.{n}", f"job:other{n}", {"flow": "2"}) for n in range(2, 5)])
    broken_off(device)
    assert values(device.view("job:own"), "flow") == ["2"]
