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

from .making import open_store, policy_of

SEEDS = [*range(16), *(pytest.param(seed, marks=pytest.mark.soak) for seed in range(16, 60))]
STEPS = 60
RECORDS = [f"job:j{n}" for n in range(24)]
RECENT = 4
SIZES = (1, 2, 3, 5, 8)


class Shop:
    """A server that is put back now and then, and three devices on links that break."""

    def __init__(self, folder, seed, monkeypatch):
        self.folder, self.draw, self.is_bad, self.copies = folder, random.Random(seed), False, 0
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
        device.write(record, {field: str(self.draw.randrange(100))}, "person:kim",
                     replaces={} if self.draw.random() < 0.3 else None)

    def sync(self, device):
        device._most["pull"] = self.draw.choice(SIZES)
        self.is_bad = self.draw.random() < 0.7
        try:
            device.sync()
        except NotCarried:
            assert self.is_bad
        self.is_bad = False

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
