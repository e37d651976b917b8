"""The server as a process of its own behind the bad link: started, killed, filled up, restored, upgraded."""

import atexit
import functools
import http.client
import json
import os
import select
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

from sync.client import http_post
from sync.log import Store
from tests.proxying import free_port
from webform.access import Doors

from .databases import Copied
from .proxy import PATIENCE_S, Proxy

ROOT = Path(__file__).parents[2]
PASSWORD = "7K3M-9QX0-7ABC"  # of the tests' own shop


class Process:
    """A server process, by the words of its command; see serving.py."""

    def __init__(self, given):
        starter = starting()
        starter.stdin.write(json.dumps(given) + "\n")
        starter.stdin.flush()
        self.pid = int(starter.stdout.readline())
        self.end = os.pidfd_open(self.pid)

    def is_there(self):
        """Whether it has not ended."""
        return not select.select([self.end], [], [], 0)[0]

    def kill(self):
        """kill -9; comes back when it has ended."""
        signal.pidfd_send_signal(self.end, signal.SIGKILL)
        assert select.select([self.end], [], [], PATIENCE_S)[0]
        os.close(self.end)


@functools.cache
def starting():
    """The process that all servers are forked from; it ends with this one."""
    started = subprocess.Popen([sys.executable, "-m", "tests.fire.serving"], cwd=ROOT, stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE, text=True)

    def end():
        started.stdin.close()
        started.stdout.close()
        started.wait()

    atexit.register(end)
    return started


class ProcessPlace(Copied):
    """One shop served by a real process. books: its database; begin() once the folder holds what it needs."""

    is_process = True

    def __init__(self, folder, books, tally):
        self.folder, self.books, self.tally, self.lock = folder, books, tally, threading.Lock()
        self.port, self.process, self.schema = free_port(), None, 2
        self.proxy = Proxy(self.port, tally, self.kill)
        self.plan, self.deliver_late = self.proxy.plan, self.proxy.deliver_late

    def begin(self):
        """The office's account, and the server's first start."""
        Doors(self.folder).ensure_office(PASSWORD)
        self.start()

    def post_for(self, cookie):
        """How a phone with this cookie posts, through the link."""
        return http_post(f"http://127.0.0.1:{self.proxy.port}/sync", {"Cookie": cookie}, PATIENCE_S)

    def ask(self, method, path, body=b"", headers=None):
        """(status, headers, text) of the server itself, not through the link."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE_S)
        try:
            connection.request(method, path, body, headers or {})
            answer = connection.getresponse()
            return answer.status, dict(answer.getheaders()), answer.read().decode()
        finally:
            connection.close()

    def new_code(self):
        """A code that enrols a phone."""
        return Doors(self.folder).new_code()

    def is_up(self):
        """Whether there is a server process."""
        return self.process is not None

    def start(self):
        """Comes back when the server answers."""
        if self.process is not None:
            return
        log = self.folder.with_name("server.log")
        self.process = Process({"schema": self.schema, "log": str(log), "words": [
            "serve", "--data", str(self.folder), "--database", self.books.url, "--port", str(self.port)]})
        self._await_answer(log)

    def kill(self):
        """kill -9, whatever it is doing."""
        with self.lock:  # two requests may both be to die of it
            if self.process is not None:
                self.process.kill()
                self.process = None

    def upgrade(self, schema):
        """The same data under another version of the declaration."""
        self.kill()
        self.schema = schema
        self.start()

    def fill_disk(self):
        """No byte more can be written."""
        self.books.fill_disk(self.process.pid)

    def free_disk(self):
        """There is room again; the server is not started anew. Comes back when it answers."""
        if self.process is None:
            return
        for _ in range(1200):
            if self._is_answering():
                break
            time.sleep(0.05)  # polls a condition: a database that recovers
        self.books.free_disk(self.process.pid)

    def open_store(self):
        """The books, read beside the server."""
        return Store(self.books.url, newest_schema=self.schema)

    def last_words(self):
        """The end of the server's log, and whether it is still there."""
        log = self.folder.with_name("server.log")
        text = log.read_text() if log.exists() else ""
        return f"(alive: {self.process is not None and self.process.is_there()}) {text[-6000:]}"

    def close(self):
        """Ends the server and the link."""
        self.kill()
        self.proxy.close()

    def _await_answer(self, log):
        for _ in range(3000):
            if self._is_answering():
                return
            assert self.process.is_there(), log.read_text()
            time.sleep(0.02)  # polls a condition
        raise AssertionError("the server did not come up: " + log.read_text())

    def _is_answering(self):
        try:
            return self.ask("GET", "/health")[0] == 200
        except (OSError, http.client.HTTPException):
            return False
