"""The same shop without a process and a socket, for the planted bugs: they are patched in, and a schedule takes a second.

The app is the real one behind its real routes; the faults of the link are played at the same moments of a request.
A kill drops the app with everything that it had not committed.
"""

import gzip
import threading

from sync.client import Offline
from sync.log import Store
from webform import create_app
from webform.access import Doors
from webform.checklist import check, declaration

from .databases import Copied
from .process import PASSWORD
from .proxy import PORTALS

ANSWERED_IN_ITS_PLACE = {"portal_200": 200, "portal_302": 302, "error_500": 500, "error_401": 401}


class InsidePlace(Copied):
    """One shop in this process. on_kill: told whenever the server dies, so that a planted bug can forget with it."""

    is_process = False

    def __init__(self, folder, books, tally, on_kill=lambda: None):
        self.folder, self.books, self.tally, self.on_kill = folder, books, tally, on_kill
        self.app, self.is_full, self.schema = None, False, 2
        self.fates, self.late, self.lock = [], [], threading.Lock()

    def begin(self):
        """The office's account, and the app."""
        Doors(self.folder).ensure_office(PASSWORD)
        self.start()

    def plan(self, *fates):
        """These fates, one for each of the next requests, and nothing that was planned before."""
        with self.lock:
            self.fates = list(fates)

    def deliver_late(self, rng):
        """Requests that were swallowed reach the server now, in another order."""
        with self.lock:
            waiting, self.late = self.late, []
        rng.shuffle(waiting)
        for request in waiting:
            if self.is_up():
                self._ask(*request)
                self.tally.took_place("sent_late")

    def post_for(self, cookie):
        """How a phone with this cookie posts."""

        def post(route, body):
            with self.lock:
                fate = self.fates.pop(0) if self.fates else None
            if not self.is_up():
                raise Offline("nobody there")
            if fate is None:
                return self._answer(cookie, route, body)
            if fate.name != "sent_late":
                self.tally.took_place(fate.name)
            return self._suffer(fate, cookie, route, body)

        return post

    def _suffer(self, fate, cookie, route, body):
        name, where = fate.name, fate.where
        if name == "request_short":
            body = body[:int(where * len(body))]
        if name == "sent_late":
            self.late.append((cookie, route, body))
        if name == "portal_200":
            return PORTALS[int(where * len(PORTALS))]
        if name == "sent_twice":
            self._answer(cookie, route, body)
        if name in ("refused", "request_cut", "sent_late", *ANSWERED_IN_ITS_PLACE):
            raise Offline(name)
        if name == "killed_while_answering" and where < 0.5:
            self.kill()
            raise Offline(name)
        answer = self._answer(cookie, route, body)
        if name == "killed_while_answering":
            self.kill()
        if name in ("answer_short", "answer_cut"):
            return answer[:int(where * len(answer))]
        if name in ("request_short", "sent_twice"):
            return answer
        raise Offline(name)

    def _answer(self, cookie, route, body):
        if self.is_full and route == "push":
            raise Offline("503")
        status, text = self._ask(cookie, route, body)
        if status != 200:
            raise Offline(text)
        return text.encode()

    def _ask(self, cookie, route, body):
        status, _, text = self.ask("POST", f"/sync/{route}", gzip.compress(body, 1),
                                   {"Cookie": cookie, "Content-Type": "application/json", "Content-Encoding": "gzip"})
        return status, text

    def ask(self, method, path, body=b"", headers=None):
        """(status, headers, text) of the app."""
        client = self.app.test_client(use_cookies=False)
        answer = client.open(path, method=method, data=body, headers=headers or {})
        return answer.status_code, dict(answer.headers), answer.get_data(as_text=True)

    def new_code(self):
        """A code that enrols a phone."""
        return Doors(self.folder).new_code()

    def is_up(self):
        """Whether there is an app."""
        return self.app is not None

    def start(self):
        """A new app on the same data."""
        if self.app is None:
            self.app = create_app(self.folder, self.books.url)
            self.app.extensions["shop"].store.newest_schema = check.SCHEMA = self.schema

    def kill(self):
        """Drops the app."""
        if self.app is not None:
            self.app.extensions["shop"].store.close()
            self.app = None
            self.on_kill()

    def upgrade(self, schema):
        """The same data under another version of the declaration."""
        self.kill()
        self.schema = schema
        self.start()

    def fill_disk(self):
        """The store takes nothing more."""
        self.is_full = True

    def free_disk(self):
        """There is room again."""
        self.is_full = False

    def open_store(self):
        """The books, read beside the app."""
        return Store(self.books.url)

    def last_words(self):
        """What there is of a log: nothing, it is this process."""
        return ""

    def close(self):
        """Drops the app."""
        self.kill()
        check.SCHEMA = declaration.SCHEMA
