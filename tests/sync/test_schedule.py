"""Three devices, one server, lost requests and answers, a restored backup: whatever the order, four things hold.

All agree; nothing is lost; replay in any order gives the same state; a replaced answer never stands.
"""

import json
import random
import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from sync import lookup, merge, wire
from sync.client import Client, Offline

from .making import AT, open_store, policy_of

NAMES = ("van", "bench", "desk")
RECORDS = ("job:one", "job:two")
FATES = ("ok", "request lost", "answer lost", "delivered twice", "login page")
FIELDS = ("flow", "note", "filter")


class Schedule(RuleBasedStateMachine):
    """The server is real down to the bytes of the wire; only the link between is played."""

    @initialize()
    def begin(self):
        """Three devices with nothing on them and an empty shop."""
        self.folder = tempfile.mkdtemp(prefix="ashbook-schedule-")
        self.store = open_store(f"sqlite:///{self.folder}/shop.db")
        self.fate = "ok"
        self.backup = None
        self.devices = {name: Client(":memory:", name, self._link(name), policy_of) for name in NAMES}
        self.written = {}

    def _link(self, name):
        def post(route, body):
            if self.fate == "request lost":
                raise Offline("lost on the way there")
            if self.fate == "login page":
                return b"<html>Welcome. Please accept our terms.</html>"
            for _ in range(2 if self.fate == "delivered twice" else 1):
                if route == "push":
                    answer = wire.answer_push(self.store, name, body)
                else:
                    answer = wire.answer_pull(self.store, body, limit=2)
            assert answer[0] == 200, answer
            if self.fate == "answer lost":
                raise Offline("lost on the way back")
            return json.dumps(answer[1]).encode()

        return post

    @rule(name=st.sampled_from(NAMES), record=st.sampled_from(RECORDS), value=st.sampled_from("123"),
          fields=st.sets(st.sampled_from(FIELDS), min_size=1), is_blind=st.booleans())
    def write(self, name, record, fields, value, is_blind):
        """A person answers, having seen what stands on that screen, or having seen nothing of it."""
        device = self.devices[name]
        answers = dict.fromkeys(sorted(fields), value)
        identity = device.write(record, answers, "person:kim", replaces={} if is_blind else None, at=AT)
        [(text,)] = device.disk.execute("SELECT text FROM outbox WHERE id = ?", (identity,))
        self.written[identity] = json.loads(text)
        standing = device.view(record)["fields"]
        assert all(identity in [answer["id"] for answer in standing[field]["answers"]] for field in fields)

    @rule(name=st.sampled_from(NAMES), fate=st.sampled_from(FATES))
    def push(self, name, fate):
        """A push with whatever happens to it."""
        self._try(self.devices[name].push, fate)

    @rule(name=st.sampled_from(NAMES), fate=st.sampled_from(FATES))
    def pull(self, name, fate):
        """A pull with whatever happens to it."""
        self._try(self.devices[name].pull, fate)

    @rule(name=st.sampled_from(NAMES))
    def sync(self, name):
        """A whole sync over a good link."""
        self.devices[name].sync()

    @rule()
    def back_up(self):
        """The server's database is copied aside."""
        self.backup = f"{self.folder}/backup{len(self.written)}.db"
        self.store.rows("PRAGMA wal_checkpoint(TRUNCATE)")
        shutil.copy(f"{self.folder}/shop.db", self.backup)

    @rule(is_epoch_begun=st.booleans())
    def restore(self, is_epoch_begun):
        """The copy is put back, by the book with a new epoch or by hand without; then people go on working."""
        if self.backup is None:
            return
        self.store.close()
        for ending in ("", "-wal", "-shm"):
            Path(f"{self.folder}/shop.db{ending}").unlink(missing_ok=True)
        shutil.copy(self.backup, f"{self.folder}/shop.db")
        self.store = open_store(f"sqlite:///{self.folder}/shop.db")
        if is_epoch_begun:
            self.store.begin_epoch()

    def _try(self, action, fate):
        self.fate = fate
        try:
            action()
        except Offline:
            assert fate in ("request lost", "answer lost", "login page")
        finally:
            self.fate = "ok"

    @invariant()
    def a_replaced_answer_never_stands(self):
        """By the plain definition over all that the server has, written down apart from the merge."""
        if not hasattr(self, "store"):
            return
        stored = [json.loads(entry["text"]) for entry in lookup.entries(self.store, limit=10_000)]
        expected = {(one["record"], field, one["id"]) for one in stored for field in one["set"]
                    if not any(one["id"] in other["replaces"].get(field, []) for other in stored)}
        snapshots = self.store.snapshots(RECORDS)
        standing = {(record, field, answer["id"]) for record, snapshot in snapshots.items()
                    for field, answers in snapshot["heads"].items() for answer in answers}
        assert standing == expected

    def teardown(self):
        """Everybody gets a good link; then all four checks."""
        if not hasattr(self, "store"):
            return
        try:
            self._check_all()
        finally:
            for device in self.devices.values():
                device.close()
            self.store.close()
            shutil.rmtree(self.folder)

    def _check_all(self):
        for _ in range(3):
            for device in self.devices.values():
                device.sync()
        stored = [json.loads(entry["text"]) for entry in lookup.entries(self.store, limit=10_000)]
        assert {one["id"]: one for one in stored} == self.written, "lost or doubled"
        views = lookup.views(self.store, RECORDS)
        for name, device in self.devices.items():
            assert device.waiting() == [] and device.held() == []
            seen = {record: device.view(record) for record in device.records()}
            assert merge.canonical(seen) == merge.canonical(views), f"{name} sees something else"
        random.Random(len(stored)).shuffle(stored)
        for record, snapshot in self.store.snapshots(RECORDS).items():
            replayed = merge.apply_all(None, [one for one in stored if one["record"] == record])
            assert merge.canonical(replayed) == merge.canonical({key: snapshot[key] for key in replayed})
        self.a_replaced_answer_never_stands()


TestSchedule = Schedule.TestCase
TestSchedule.settings = settings(max_examples=60, stateful_step_count=30)
