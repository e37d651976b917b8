"""A real server process on a disk of the tests' own, and one phone of Python that speaks to it."""

import hashlib
import json
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

from sync import change
from tests.proxying import free_port
from webform.access import Doors

ROOT = Path(__file__).parents[2]


class Served:
    """`ashbook serve` on one port and one folder. words: what runs it; log: where it may say something."""

    def __init__(self, data, log, words, seen_at=None):
        """seen_at: where this process sees the server's folder, if it is not the same place."""
        self.data, self.log, self.words, self.port = data, log, words, free_port()
        self.seen_at = seen_at or data
        self.url, self.process = f"http://127.0.0.1:{self.port}", None
        self.start()

    def start(self, words=None):
        with self.log.open("a") as out:
            command = [*(words or self.words), "serve", "--data", str(self.data), "--port", str(self.port)]
            self.process = subprocess.Popen(command, cwd=ROOT, stdout=out, stderr=subprocess.STDOUT)
        for _ in range(1200):
            if self.ask("GET", "/health")[0] == 200:
                return
            assert self.process.poll() is None, self.log.read_text()
            time.sleep(0.05)  # polls a condition
        raise AssertionError("the server did not come up: " + self.log.read_text())

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def ask(self, method, path, body=None, headers=None):
        """(status, text); status 0 where nobody answers."""
        request = urllib.request.Request(self.url + path, body, headers or {}, method=method)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                return answer.status, answer.read().decode("utf-8", "replace")
        except urllib.error.HTTPError as answered:
            with answered:
                return answered.code, answered.read().decode("utf-8", "replace")
        except OSError:
            return 0, ""

    def enrolled(self):
        """A phone that was enrolled just now."""
        body = json.dumps({"code": Doors(self.seen_at).new_code(), "name": "Van phone"}).encode()
        request = urllib.request.Request(self.url + "/sync/enrol", body, {"Content-Type": "application/json"})
        with urllib.request.urlopen(request, timeout=30) as answer:
            cookie = re.match(r"[^;]+", answer.headers["Set-Cookie"]).group()
            return PythonPhone(self, json.load(answer)["device"], cookie)


class PythonPhone:
    """A phone's requests, one at a time, and nothing that it would hide."""

    def __init__(self, served, device, cookie):
        self.served, self.device, self.cookie, self.number = served, device, cookie, 0

    def text(self, **answers):
        """One change more, as it travels."""
        self.number += 1
        return change.to_text(change.make_change(f"{self.device}.r.{self.number}", f"job:j{self.number}", answers or {
            "truck": f"HL {self.number}"}, lamport=self.number, at="2026-11-25T17:40:00.000Z", by="person:kim"))

    def push(self, *texts):
        """(status, answer) of one push."""
        body = json.dumps({"schema": 1, "changes": texts, "hashes": [change.content_hash(text) for text in texts],
                           "witness": None}).encode()
        return self._told("POST", "/sync/push", body, {"Content-Type": "application/json"})

    def pull(self):
        """(status, answer): all that the server has."""
        return self._told("POST", "/sync/pull", b'{"cursor": null, "next": null}', {"Content-Type": "application/json"})

    def put(self, photo, start=0, end=None):
        """(status, answer) of one piece of a photo."""
        piece = photo[start:end]
        return self._told("PUT", "/sync/photos/" + hashlib.sha256(photo).hexdigest(), piece, {
            "Content-Type": "application/octet-stream",
            "Content-Range": f"bytes {start}-{start + len(piece) - 1}/{len(photo)}"})

    def state(self, photo):
        """(status, answer): how far a photo has come."""
        return self._told("GET", "/sync/photos/" + hashlib.sha256(photo).hexdigest())

    def _told(self, method, path, body=None, headers=None):
        status, text = self.served.ask(method, path, body, {"Cookie": self.cookie, **(headers or {})})
        return status, json.loads(text)


def is_refused(answer, status=503, code="unavailable"):
    """Whether it is that refusal, in the one shape of errors, and says nothing of a receipt."""
    return answer[0] == status and set(answer[1]) == {"error"} and answer[1]["error"]["code"] == code


def plain_command():
    """The words of the command itself."""
    return [sys.executable, "-m", "webform"]


def watched_command(board):
    """The same on a disk that is watched."""
    return [sys.executable, "-m", "tests.disk.watched", str(board)]
