"""Stores on both databases: SQLite in a file, PostgreSQL in a cluster that the tests start for themselves."""

import glob
import itertools
import os
import pwd
import shutil
import subprocess
import tempfile

import pytest

from .making import open_store

_numbers = itertools.count(1)


class Cluster:
    """A PostgreSQL server of our own, on a socket in a directory that only lives as long as the tests."""

    def __init__(self):
        found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb")) or [shutil.which("initdb")]
        assert found[-1], "No PostgreSQL here: apt-get install postgresql, or run pytest -m 'not postgresql'"
        self.programs = os.path.dirname(found[-1])
        self.directory = tempfile.mkdtemp(prefix="ashbook-pg-")
        self.user = []
        if os.geteuid() == 0:  # the server refuses to run as root
            self.user = ["runuser", "-u", "postgres", "--"]
            owner = pwd.getpwnam("postgres")
            os.chown(self.directory, owner.pw_uid, owner.pw_gid)
        self._run("initdb", "-D", f"{self.directory}/data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = f"-c listen_addresses='' -c unix_socket_directories={self.directory}"
        self._run("pg_ctl", "-D", f"{self.directory}/data", "-o", options, "-l", f"{self.directory}/log", "-w", "start")

    def _run(self, program, *arguments):
        subprocess.run([*self.user, f"{self.programs}/{program}", *arguments], check=True, stdout=subprocess.DEVNULL,
                       cwd=self.directory)

    def new_url(self):
        """The address of a new, empty database."""
        name = f"shop{next(_numbers)}"
        self._run("createdb", "-h", self.directory, "-U", "postgres", name)
        return f"postgresql://postgres@/{name}?host={self.directory}"

    def stop(self):
        """Ends the server and takes its directory away."""
        self._run("pg_ctl", "-D", f"{self.directory}/data", "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.directory)


@pytest.fixture(scope="session")
def cluster():
    """One PostgreSQL server for the whole run."""
    started = Cluster()
    yield started
    started.stop()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request, tmp_path):
    """The address of an empty database, once for SQLite and once for PostgreSQL."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/shop.db"
    return request.getfixturevalue("cluster").new_url()


@pytest.fixture
def store(url):
    """An empty store on either database."""
    opened = open_store(url)
    yield opened
    opened.close()
