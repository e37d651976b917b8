"""The database below the server, on SQLite and on PostgreSQL: its address, a copy of it, the copy put back, a full disk."""

import contextlib
import os
import resource
import shutil
import subprocess
import time
from pathlib import Path

import psycopg

from sync.log import Store

ROOM_BYTES = 8192  # a commit that writes beyond this finds the disk full; every database is larger


class Copied:
    """A place whose books can be copied aside and put back; it has `books`, `kill`, `start` and `open_store`."""

    def back_up(self):
        """Copies the database aside."""
        self.books.back_up()

    def restore(self, is_by_book):
        """Puts the copy back while nothing is served, with a new epoch or without."""
        self.kill()
        self.books.put_back()
        if is_by_book:
            store = self.open_store()
            store.begin_epoch()
            store.close()
        self.start()


class SqliteBooks:
    """A file in the shop's folder."""

    name = "sqlite"

    def __init__(self, folder):
        self.file = folder / "shop.db"
        self.copy = folder.with_name("copy.db")
        self.url = f"sqlite:///{self.file}"

    def back_up(self):
        """Copies the database aside while the server works on it."""
        self.copy.unlink(missing_ok=True)
        store = Store(self.url)
        store.rows("VACUUM INTO ?", (str(self.copy),))
        store.close()

    def put_back(self):
        """The copy in the place of the database; nothing may have it open."""
        for ending in ("", "-wal", "-shm"):
            Path(f"{self.file}{ending}").unlink(missing_ok=True)
        shutil.copy(self.copy, self.file)

    def fill_disk(self, server_pid):
        """No file of the server can grow."""
        resource.prlimit(server_pid, resource.RLIMIT_FSIZE, (ROOM_BYTES, resource.RLIM_INFINITY))

    def free_disk(self, server_pid):
        """There is room again, for the same process."""
        resource.prlimit(server_pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))


class PostgresqlBooks:
    """A database in a cluster of the tests' own."""

    name = "postgresql"

    def __init__(self, cluster):
        self.cluster, self.url = cluster, cluster.new_url()
        self.database = self.url.split("/")[3].split("?")[0]
        self.copy = f"{cluster.directory}/{self.database}.dump"

    def back_up(self):
        """Dumps the database while the server works on it."""
        self._run("pg_dump", "-Fc", "-f", self.copy, self.database)

    def put_back(self):
        """The dump in the place of the database; connections that are left are ended."""
        self._run("dropdb", "--force", self.database)
        self._run("createdb", self.database)
        self._run("pg_restore", "-d", self.database, self.copy)

    def fill_disk(self, server_pid):
        """No file of the database's processes for this server can grow. PostgreSQL then ends them all and recovers."""
        for pid in self._backends():
            self._limit(pid, str(ROOM_BYTES))

    def free_disk(self, server_pid):
        """There is room again; processes that PostgreSQL started since had it already."""
        for pid in self._backends():
            self._limit(pid, "unlimited")

    def _backends(self):
        with self._connected() as connection:
            return [row[0] for row in connection.execute(
                "SELECT pid FROM pg_stat_activity WHERE datname = %s AND pid <> pg_backend_pid() "
                "AND backend_type = 'client backend'", (self.database,))]

    def _connected(self):
        """A connection, once the database takes any: a process that still finds the disk full may take it down."""
        for _ in range(1200):
            with contextlib.suppress(psycopg.OperationalError):
                return psycopg.connect(self.url)
            time.sleep(0.05)  # polls a condition
        raise AssertionError("the database did not come up again")

    def _limit(self, pid, most):
        # prlimit(1) as the user whose process it is: another user's limits are not ours to set
        subprocess.run([*self.cluster.user, "prlimit", "--pid", str(pid), f"--fsize={most}:unlimited"], check=False,
                       capture_output=True)

    def _run(self, program, *arguments):
        subprocess.run([*self.cluster.user, os.path.join(self.cluster.programs, program), "-h", self.cluster.directory,
                        "-U", "postgres", *arguments], check=True, cwd=self.cluster.directory)
