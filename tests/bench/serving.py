"""Servers for the benchmarks: the real `ashbook serve`, and the bare limit, each a process of its own."""

import gzip
import http.client
import json
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from sync.change import content_hash
from webform.access import Doors

ROOT = Path(__file__).parents[2]
PASSWORD = "7K3M-9QX0-7ABC"  # of invented shops that live for one run
PATIENCE_S = 600


class Ashbook:
    """The real server of one shop's folder, with one enrolled phone. data: the folder, made where there is none."""

    def __init__(self, data, database=None):
        self.data, self.port = Path(data), free_port()
        self.data.mkdir(parents=True, exist_ok=True)
        Doors(self.data).ensure_office(PASSWORD)
        words = ["--database", database] if database else []
        self.log = tempfile.TemporaryFile()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "webform", "serve", "--data", str(self.data), "--port", str(self.port), *words],
            cwd=ROOT, stdout=self.log, stderr=self.log)
        for _ in range(1200):
            if self.is_up():
                break
            assert self.process.poll() is None, self.said()
            time.sleep(0.05)  # polls a condition
        self.cookie = self.enrolled()

    def worked(self):
        """Seconds of processor time that it has used."""
        return cpu_of(self.process.pid)

    def is_up(self):
        """Whether it answers."""
        try:
            return Line(self.port).ask("GET", "/health")[0] == 200
        except (OSError, http.client.HTTPException):
            return False

    def enrolled(self, name="bench"):
        """The headers of a new phone."""
        body = json.dumps({"code": Doors(self.data).new_code(), "name": name}).encode()
        status, headers, _ = Line(self.port).ask("POST", "/sync/enrol", body, {"Content-Type": "application/json"})
        assert status == 200, status
        return {"Cookie": headers["Set-Cookie"].split(";")[0]}

    def said(self):
        """What it printed."""
        self.log.seek(0)
        return self.log.read().decode()

    def close(self):
        """Ends it."""
        self.process.terminate()
        self.process.wait()
        self.log.close()


class Bare:
    """The bare limit's server (bare.py) with its database in this folder."""

    def __init__(self, folder):
        self.process = subprocess.Popen([sys.executable, "-m", "tests.bench.bare", str(folder)], cwd=ROOT,
                                        stdout=subprocess.PIPE, text=True)
        self.port = int(self.process.stdout.readline())

    def worked(self):
        """Seconds of processor time that it has used."""
        return cpu_of(self.process.pid)

    def close(self):
        """Ends it."""
        self.process.terminate()
        self.process.wait()
        self.process.stdout.close()


class Line:
    """One connection that stays open. ask() gives (status, headers, body as it came)."""

    def __init__(self, port):
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)

    def ask(self, method, path, body=b"", headers=None):
        self.connection.request(method, path, body, headers or {})
        answer = self.connection.getresponse()
        return answer.status, dict(answer.getheaders()), answer.read()


def cpu_of(pid):
    """Seconds of processor time of all threads of a process, the system's work for it included (to the nanosecond)."""
    return sum(int((task / "schedstat").read_text().split()[0]) for task in Path(f"/proc/{pid}/task").iterdir()) / 1e9


def push_body(texts, witness=None):
    """The packed body of a push, as a phone sends it."""
    return packed({"schema": 1, "changes": texts, "hashes": [content_hash(text) for text in texts], "witness": witness})


def packed(value):
    """Any JSON packed as phones pack theirs: gzip 6."""
    return gzip.compress(compact(value).encode(), 6, mtime=0)


def compact(value):
    """JSON without spaces."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def posted(line, path, body, headers=None):
    """(seconds from the packed bytes at hand to the whole answer, bytes of that answer, the answer)."""
    start = time.perf_counter()
    status, found, answer = line.ask("POST", path, body, {
        "Content-Type": "application/json", "Content-Encoding": "gzip", "Accept-Encoding": "gzip", **(headers or {})})
    seconds = time.perf_counter() - start
    assert status == 200, (status, answer[:300])
    plain = gzip.decompress(answer) if found.get("Content-Encoding") == "gzip" else answer
    return seconds, len(answer), json.loads(plain)


def free_port():
    """A port that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
