"""The phone's own app in Chromium and two Python clients under one seeded schedule: a link that cuts, a stranger's pages,
kill -9 of server and browser. Afterwards nothing is lost or twice and all copies are the same byte for byte.
"""

import collections
import contextlib
import json
import random

import pytest

from sync import lookup, merge, verify
from sync.client import Client, Offline, http_post
from tests.browser.link import Link
from tests.browser.test_bad_link import try_to_sync
from tests.browser.test_killed_in_pull import book_of
from tests.fire.phones import standing_in
from tests.keeping.test_served import enrolled
from webform.shop import Shop

pytestmark = pytest.mark.browser

STEPS = 16
JOBS = ("job:demo5", "job:demo1")
FAULTS = ("refuse", "portal", "cut", "cut_up", "server killed", "phone killed", "up")
SEEDS = [pytest.param(13), *(pytest.param(seed, marks=pytest.mark.soak) for seed in range(14, 20))]


class Fire:
    """One schedule and what its people saw as saved."""

    def __init__(self, seed, server, phone, link, clients):
        self.server, self.phone, self.link, self.clients = server, phone, link, clients
        self.draw, self.saved, self.tally = random.Random(seed), collections.Counter(), collections.Counter()
        self.faults = [*FAULTS, *FAULTS, *self.draw.sample(FAULTS, STEPS - 2 * len(FAULTS))]
        self.draw.shuffle(self.faults)  # every fault at least twice, in an order of the seed's own

    def write(self, step):
        """A weight in Chromium, and one by one of the clients, who has not seen it, or a truck."""
        job, grams = self.draw.choice(JOBS), str(14000 + step)
        self.phone.go(f"#/job/{job}/after.weight")
        self.phone.fill("field-mass", grams)
        if not self.phone.page.get_by_test_id("save").is_visible():  # two answers stand: nothing is filled in beforehand
            self.phone.pick("field-temperature-cold", "field-moisture-dry")
        self.phone.save()
        self.saved[grams] += 1
        client, other = self.draw.choice(self.clients), str(24000 + step)
        weight = {"mass": {"n": other, "u": "g"}, "temperature": "cold", "moisture": "dry"}
        client.write(job, self.draw.choice(({"after.weight": weight}, {"truck": other})), "person:ravn")
        self.saved[other] += 1

    def meet(self, fault):
        """Everybody tries to sync while it happens."""
        self.tally[fault] += 1
        if fault in ("server killed", "phone killed"):
            self.phone.page.evaluate("() => { dispatchEvent(new Event('online')); }")
            self.phone.page.wait_for_timeout(self.draw.randrange(60))  # the moment of the fault, not a wait for something
            if fault == "server killed":
                self.server.kill()
                self.tried()
                self.server.start()
            else:
                self.phone.kill()
                self.phone.open()
            return
        self.link.turn(fault, self.draw.randrange(1500))
        try_to_sync(self.phone)
        self.tried()
        self.link.turn("up")

    def tried(self):
        """The clients try, and may not get through."""
        for client in self.clients:
            with contextlib.suppress(Offline):
                client.sync()

    def heal(self):
        """Everybody syncs until nobody has anything left."""
        self.link.turn("up")
        for _ in range(2):
            self.phone.sync()
            for client in self.clients:
                client.sync()
        self.phone.sync()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_phones_own_app_loses_nothing_and_ends_as_all_others(seed, server, demo_phone, phone, tmp_path):
    link = Link(server.port)
    van = phone("van", url=link.url)
    van.enrol(server.code(), "Ravn")
    van.end()
    van.open()  # Chromium writes cookies within half a minute, or when it is ended in peace
    demo_phone.end()
    clients = []
    for name in ("bench", "desk"):
        device, cookie = enrolled(server)
        clients.append(Client(f"{tmp_path}/{name}.db", device, http_post(link.url + "/sync", cookie, timeout_s=10)))
    fire = Fire(seed, server, van, link, clients)
    for step, fault in enumerate(fire.faults):
        fire.write(step)
        fire.meet(fault)
    assert set(fire.tally) == set(FAULTS), fire.tally
    fire.heal()
    shop = Shop(server.data)
    entries = [entry for entry in lookup.entries(shop.store, limit=5000) if entry["device"] != "desk"]
    stored = collections.Counter(said_by(json.loads(entry["text"])["set"]) for entry in entries)
    assert {text: stored[text] for text in fire.saved} == fire.saved
    assert verify.verify(shop.store).problems == []
    records = lookup.entries(shop.store, limit=5000)
    served = {record: merge.canonical({field: heads for field, heads in snapshot["heads"].items() if heads})
              for record, snapshot in shop.store.snapshots(sorted({entry["record"] for entry in records})).items()}
    assert van.waiting() == 0 and book_of(van)[1] == served
    for client in clients:
        assert client.waiting() == [] and client.held() == []
        assert {record: merge.canonical(heads) for record, heads in standing_in(client).items()} == served
        client.close()
    assert book_of(van)[0]["chain"] == shop.store.counter()["chain"]
    shop.store.close()
    link.close()


def said_by(answers):
    """The weight or truck that a change of this schedule says."""
    return answers["after.weight"]["mass"]["n"] if "after.weight" in answers else answers.get("truck")
