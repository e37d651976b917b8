"""Plays the steps of a schedule: phones, the desk, the link and the server, and what every person saw as saved."""

import json
import random
import time

from sync.client import Offline
from webform.checklist import declaration
from webform.shop import Shop

from . import crowds, faults, people
from .desk import Desk
from .faults import Fate
from .phones import OWN_SCHEMA, YEAR_S, Phone

MOST_PHONES = 6
NEWER_SCHEMA = OWN_SCHEMA + 1
PAUSE_S = 0.05
TRIES = 10  # e.g. after PostgreSQL went down, each of the server's 8 threads finds its old connection dead once, and says 503


class World:
    """One shop, three phones and their faults. said: change id → what its author said and had seen."""

    def __init__(self, place, folder):
        self.place, self.folder, self.tally = place, folder, place.tally
        self.said, self.lost_at_desk, self.down_steps, self.phones = {}, 0, 0, []
        shop = Shop(place.folder, place.books.url)
        for record, answers in people.SEEDS:
            receipt = shop.write(record, answers, "desk:office", {})
            self.said[receipt["id"]] = {"record": record, "set": answers, "seen": {}, "schema": declaration.SCHEMA}
        shop.store.close()
        place.begin()
        place.back_up()
        for number in range(3):
            self.phones.append(self._enrolled(number))
        self.desk = Desk(place)
        self.desk.sign_in()

    def close(self):
        """Ends phones and server."""
        for phone in self.phones:
            phone.close()
        self.place.close()

    def play(self, step):
        """One step, and what goes on beside it."""
        rng = random.Random(step.number)
        for phone in self.phones:
            phone.offline_steps = max(0, phone.offline_steps - 1)
        self.down_steps -= 1
        if not self.place.is_up() and self.down_steps <= 0:
            self.place.start()
        if self.place.is_up() and rng.random() < 0.3:
            self.place.deliver_late(rng)
        if step.name in faults.LINK:
            self._bad_link(step.name, rng)
        else:
            getattr(self, "_" + step.name)(rng)

    def tabs(self):
        """Every tab of every phone."""
        return [tab for phone in self.phones for tab in phone.tabs]

    def heal(self, rng):
        """A good link, a running server, room on its disk; what was late arrives; drafts are finished."""
        self.place.plan()
        self.place.start()
        self.place.free_disk()
        self.place.deliver_late(rng)
        for phone in self.phones:
            phone.offline_steps = 0
            while phone.begun:
                self.save(phone, phone.client, phone.begun.pop(0))

    def save(self, phone, tab, said):
        """The person says it and sees "saved"."""
        self.said[phone.write(tab, said, "person:kim")] = said

    def attempt(self, phone, action):
        """What went wrong with the link as text, or None; the phone goes on either way."""
        try:
            action()
        except Offline as trouble:
            if phone.offline_steps:
                self.tally.took_place("offline")
            return str(trouble)
        return None

    def tried_again(self, action):
        """What went wrong each time, until it went well or was tried often enough; a phone does the same by and by."""
        troubles = []
        while len(troubles) < TRIES:
            try:
                action()
                break
            except Offline as trouble:
                troubles.append(str(trouble))
                self.tally.needed_another_try(str(trouble))
                time.sleep(PAUSE_S)  # between two tries, polling the server
        return troubles

    # --- persons -------------------------------------------------------------------------------------------------

    def _edit(self, rng, schema=OWN_SCHEMA):
        phone = rng.choice(self.phones)
        tab = rng.choice(phone.tabs)
        self.save(phone, tab, people.edit(tab, rng, schema))
        return phone

    def _begin(self, rng):
        phone = rng.choice(self.phones)
        phone.begun.append(people.edit(phone.client, rng, OWN_SCHEMA))

    def _finish(self, rng):
        phone = rng.choice([phone for phone in self.phones if phone.begun] or self.phones)
        if not phone.begun:
            return
        self.save(phone, phone.client, phone.begun.pop(0))

    def _sign(self, rng):
        phone, job = rng.choice(self.phones), rng.choice(people.JOBS)
        if phone.client.snapshot(job) is None:
            self.attempt(phone, phone.client.sync)
        if phone.client.snapshot(job) is not None:
            self.save(phone, phone.client, people.sign_off(phone.client, job, rng, OWN_SCHEMA))

    def _sync(self, rng):
        phone = rng.choice(self.phones)
        self.attempt(phone, rng.choice(phone.tabs).sync)

    def _settle(self, rng):
        self.place.start()
        forms = self.desk.questions()
        if forms:
            self.settle(rng.choice(forms), rng)

    def settle(self, form, rng):
        """The desk settles one question; what it wrote is read back, for its id."""
        pick = rng.choice([one for one in form["pick"] if one not in ("another", "same")])
        self.desk.settle(form, pick)
        store = self.place.open_store()
        text = store.rows("SELECT body FROM change_log WHERE device = 'desk' ORDER BY position DESC LIMIT 1")[0][0]
        store.close()
        change, [record], [field] = json.loads(text), form["record"], form["field"]
        assert (change["record"], change["replaces"]) == (record, {field: sorted(form["ids"])}), "the desk wrote otherwise"
        picked = self.said[pick]
        assert field in picked["set"], f"the desk offers an answer to {field} that nobody gave"
        self.said[change["id"]] = {"record": record, "set": {field: picked["set"][field]}, "seen": {field: form["ids"]},
                                   "schema": change["schema"], "evidence": picked.get("evidence")}

    # --- the link and the server ---------------------------------------------------------------------------------

    def _bad_link(self, name, rng):
        self.place.start()
        phone = rng.choice(self.phones)
        phone.offline_steps = 0
        tab, action = phone.client, phone.client.pull
        if rng.random() < 0.6:
            self.save(phone, tab, people.edit(tab, rng, OWN_SCHEMA))
            action = tab.sync
        self.place.plan(Fate(name, rng.random()))
        self.attempt(phone, action)
        self.place.plan()
        self.down_steps = rng.randrange(3)

    def _killed(self, rng):
        self.place.start()
        self.place.kill()
        self.tally.took_place("killed")
        self.down_steps = rng.randrange(1, 4)

    def _disk_full(self, rng):
        self.place.start()
        phone = rng.choice(self.phones)
        phone.offline_steps = 0
        self.place.fill_disk()
        for _ in range(3):
            self.save(phone, phone.client, people.edit(phone.client, rng, OWN_SCHEMA))
            if "503" in (self.attempt(phone, phone.client.sync) or ""):
                self.tally.took_place("disk_full")
        self.place.free_disk()
        troubles = self.tried_again(phone.client.sync)
        assert len(troubles) < TRIES, f"there is room again and the server does not take it: {troubles}"

    def _back_up(self, rng):
        self.place.start()
        self.place.back_up()

    def _backup_restored(self, rng):
        self._put_back(rng, True)

    def _file_copied_back(self, rng):
        self._put_back(rng, False)

    def _put_back(self, rng, is_by_book):
        phone = rng.choice(self.phones)
        self.place.start()
        if rng.random() < 0.4:  # while an answer is on its way
            phone.client.meanwhile = lambda: self._restore(is_by_book)
            self.attempt(phone, phone.client.sync)
        if phone.client.meanwhile is not None or rng.random() < 0.6:
            phone.client.meanwhile = None
            self._restore(is_by_book)

    def _restore(self, is_by_book):
        self.place.restore(is_by_book)
        self.tally.took_place("backup_restored" if is_by_book else "file_copied_back")
        store = self.place.open_store()
        left = {row[0] for row in store.rows("SELECT id FROM change_log")}
        store.close()
        # what the desk wrote after the backup was on the lost disk only; phones offer theirs again
        lost = [one for one in self.said if one.startswith("desk.") and one not in left]
        for one in lost:
            del self.said[one]
        self.lost_at_desk += len(lost)

    # --- phones --------------------------------------------------------------------------------------------------

    def _offline(self, rng):
        phone = rng.choice(self.phones)
        phone.offline_steps = rng.randrange(4, 12)
        self.save(phone, phone.client, people.edit(phone.client, rng, OWN_SCHEMA))
        self.attempt(phone, phone.client.sync)

    def _clock_years_off(self, rng):
        phone = rng.choice(self.phones)
        phone.clock_s = rng.choice((-1, 1)) * rng.uniform(1, 30) * YEAR_S
        self.save(phone, phone.client, people.edit(phone.client, rng, OWN_SCHEMA))
        self.tally.took_place("clock_years_off")

    def _clock_backwards(self, rng):
        phone = rng.choice(self.phones)
        for _ in range(2):
            self.save(phone, phone.client, people.edit(phone.client, rng, OWN_SCHEMA))
            phone.clock_s -= rng.uniform(60, YEAR_S)
        self.tally.took_place("clock_backwards")

    def _older_app(self, rng):
        self._edit(rng, OWN_SCHEMA - 1)
        self.tally.took_place("older_app")

    def _newer_app(self, rng):
        phone = self._edit(rng, NEWER_SCHEMA)
        self.attempt(phone, phone.client.sync)
        self.tally.took_place("newer_app")

    def _edit_in_flight(self, rng):
        phone = rng.choice(self.phones)
        tab = phone.client
        self.save(phone, tab, people.edit(tab, rng, OWN_SCHEMA))

        def write_on():
            self.save(phone, tab, people.edit(tab, rng, OWN_SCHEMA))
            self.tally.took_place("edit_in_flight")

        tab.meanwhile = write_on
        self.attempt(phone, tab.push)
        tab.meanwhile = None

    def _cloned_phone(self, rng):
        phone = rng.choice(self.phones)
        if len(self.phones) < MOST_PHONES:
            clone = phone.clone(self.folder / f"clone{len(self.phones)}.db")
            self.phones.append(clone)
            for one in (phone, clone):
                self.save(one, one.client, people.edit(one.client, rng, OWN_SCHEMA))
                self.attempt(one, one.client.sync)
            self.tally.took_place("cloned_phone")

    def _app_killed(self, rng):
        self.place.start()
        phone, other = rng.sample(self.phones, 2)
        for one in (other, phone):
            one.offline_steps = 0
            self.save(one, one.client, people.edit(one.client, rng, OWN_SCHEMA))
        self.attempt(other, other.client.sync)
        is_pull = rng.random() < 0.7
        if phone.kill_within(rng.randrange(1, 16), lambda tab: tab.pull() if is_pull else tab.sync()):
            self.tally.took_place("app_killed")

    def _second_tab(self, rng):
        crowds.second_tab(self, rng)

    def _rush(self, rng):
        crowds.rush(self, rng)

    def _enrolled(self, number):
        status, headers, text = self.place.ask(
            "POST", "/sync/enrol", json.dumps({"code": self.place.new_code(), "name": f"Phone {number}"}).encode(),
            {"Content-Type": "application/json"})
        assert status == 200, text
        cookie = headers["Set-Cookie"].split(";")[0]
        return Phone(json.loads(text)["device"], self.folder / f"phone{number}.db", cookie, self.place.post_for)
