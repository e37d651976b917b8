"""One phone: its store on disk, its tabs, its clock, its version of the app, and ways in which it can be hit."""

import contextlib
import datetime
import functools
import json
import sqlite3
import threading
from unittest import mock

from sync import device_book
from sync.change import make_change
from sync.client import Client, Offline
from webform.checklist.lookup import policy_of

YEAR_S = 365 * 86400
OWN_SCHEMA = 2  # what the server knows, too

one_pen = threading.Lock()  # the version is patched into the client's module, which several phones share


class Killed(Exception):
    """The app is gone in the middle of what it was doing."""


class Dying:
    """A phone's store that works for so many statements; then the app is killed, before the next or before a commit."""

    def __init__(self, disk, statements):
        self.disk, self.left = disk, statements

    def _count(self):
        self.left -= 1
        if self.left < 0:
            raise Killed

    def execute(self, *arguments):
        self._count()
        return self.disk.execute(*arguments)

    def executemany(self, *arguments):
        self._count()
        return self.disk.executemany(*arguments)

    def __enter__(self):
        return self.disk.__enter__()

    def __exit__(self, kind, problem, trace):
        if kind is None and self.left <= 0:
            self.disk.rollback()
            raise Killed
        return self.disk.__exit__(kind, problem, trace)


class Phone:
    """A device as the server knows it. make_post(cookie) gives its way to the server."""

    def __init__(self, name, path, cookie, make_post):
        self.name, self.path, self.cookie, self.make_post = name, path, cookie, make_post
        self.offline_steps, self.clock_s = 0, 0.0
        self.begun = []
        self.tabs = [self.tab()]

    def tab(self):
        """One more tab over the same store. Its `meanwhile` is called once, when an answer is there but not yet taken."""
        honest = self.make_post(self.cookie)

        def post(route, body):
            if self.offline_steps:
                raise Offline("no network here")
            answer = honest(route, body)
            meanwhile, tab.meanwhile = tab.meanwhile, None
            if meanwhile is not None:
                meanwhile()
            return answer

        tab = Client(str(self.path), self.name, post, policy_of)
        tab.meanwhile = None
        return tab

    @property
    def client(self):
        """The first tab."""
        return self.tabs[0]

    def write(self, tab, said, by):
        """The id of a change that this tab now says is saved."""
        with one_pen, mock.patch.object(device_book, "make_change", functools.partial(make_change, schema=said["schema"])):
            return tab.write(said["record"], said["set"], by, replaces=said["seen"], basis=said["basis"], at=self.now())

    def now(self):
        """What this phone's clock shows, as text."""
        true_s = datetime.datetime.now(datetime.UTC).timestamp()
        shown = datetime.datetime(1970, 1, 1) + datetime.timedelta(seconds=max(0.0, true_s + self.clock_s))
        return shown.isoformat(timespec="milliseconds") + "Z"

    def kill_within(self, statements, action):
        """Whether the app was killed within so many statements of an action; it is then opened again."""
        tab = self.tabs[0]
        tab.disk = Dying(tab.disk, statements)
        try:
            with contextlib.suppress(Offline):
                action(tab)
        except Killed:
            self.reopen()
            return True
        tab.disk = tab.disk.disk
        return False

    def reopen(self):
        """The app is started again on what is on disk; whatever was not committed is gone."""
        for tab in self.tabs:
            tab.disk = getattr(tab.disk, "disk", tab.disk)
            tab.close()
        self.tabs = [self.tab()]

    def clone(self, path):
        """Another phone with a copy of this one's store: the same device to the server."""
        with contextlib.closing(sqlite3.connect(path)) as copy:
            self.client.disk.backup(copy)
        other = Phone(self.name, path, self.cookie, self.make_post)
        other.clock_s = self.clock_s
        return other

    def close(self):
        """Closes the tabs."""
        for tab in self.tabs:
            tab.close()


def standing_in(tab):
    """Record → field → answers, as a tab knows them: what is compared between phones."""
    found = {}
    for record in tab.records():
        heads = {field: answers for field, answers in tab.snapshot(record)["heads"].items() if answers}
        found[record] = json.loads(json.dumps(heads))
    return found
