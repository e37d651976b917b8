"""`ashbook serve` on a disk that is watched: each write and each sync is counted, and a sync can be made to fail.

python -m tests.disk.watched BOARD WORDS... runs the command's own main over SQLite's own files below a VFS of ours, which
passes everything on to the system, and over the system's fsync for all else (photos, accounts). What is seen, and what is
to fail, stands on the board: a few numbers in a file that this process and the test both have in memory.
"""

import errno
import mmap
import os
import random
import struct
import sys
import threading
from pathlib import Path

import apsw

# what a sync or a write does: nothing wrong; every sync fails; one in so many syncs and journal writes fails
NUMBERS = ("journal_syncs", "written_by_pushes", "unsynced_of_pushes", "file_syncs", "names", "failed", "is_failing",
           "one_in")
WIDTH = 8


class Board:
    """The numbers, by name; one that does not exist yet begins with zeros."""

    def __init__(self, path):
        self.path = path = Path(path)
        if not path.exists():
            path.write_bytes(bytes(WIDTH * len(NUMBERS)))
        with path.open("r+b") as file:
            self._memory = mmap.mmap(file.fileno(), 0)

    def __getitem__(self, name):
        return struct.unpack_from("<Q", self._memory, WIDTH * NUMBERS.index(name))[0]

    def __setitem__(self, name, number):
        struct.pack_into("<Q", self._memory, WIDTH * NUMBERS.index(name), number)


class Journal(apsw.VFSFile):
    """SQLite's write-ahead log: what a commit writes, and whether it is on the disk when it says so."""

    def __init__(self, board, draw, *opened):
        super().__init__(*opened)
        self.board, self.draw = board, draw

    def xWrite(self, body, offset):
        self.may_fail(apsw.SQLITE_IOERR_WRITE)
        super().xWrite(body, offset)
        if threading.current_thread().name.startswith("pushing"):
            self.board["written_by_pushes"] += len(body)
            self.board["unsynced_of_pushes"] += len(body)

    def xSync(self, flags):
        if self.board["is_failing"]:
            self.fail(apsw.SQLITE_IOERR_FSYNC)
        self.may_fail(apsw.SQLITE_IOERR_FSYNC)
        super().xSync(flags)
        self.board["journal_syncs"] += 1
        self.board["unsynced_of_pushes"] = 0  # a sync takes along whatever was written before

    def may_fail(self, code):
        if self.board["one_in"] and not self.draw.randrange(self.board["one_in"]):
            self.fail(code)

    def fail(self, code):
        self.board["failed"] += 1
        trouble = apsw.IOError("the disk does not do it")
        trouble.extendedresult = code
        raise trouble


class Disk(apsw.VFS):
    """The system's own files; SQLite's journals through Journal."""

    def __init__(self, board):
        self.board, self.draw, self.system = board, random.Random(4711), apsw.vfs_names()[0]
        super().__init__("watched", self.system, makedefault=True)

    def xOpen(self, name, flags):
        path = name.filename() if isinstance(name, apsw.URIFilename) else name
        if path and path.endswith("-wal"):
            return Journal(self.board, self.draw, self.system, name, flags)
        return apsw.VFSFile(self.system, name, flags)


def watch_fsync(board):
    """The system's fsync, by which photos and accounts come to the disk; names: of folders among them."""
    real = os.fsync

    def fsync(number):
        if board["is_failing"]:
            board["failed"] += 1
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        real(number)
        board["names" if os.path.isdir(f"/proc/self/fd/{number}") else "file_syncs"] += 1

    os.fsync = fsync


def main(words):
    """Never returns before the server ends."""
    from webform import __main__ as ashbook

    board = Board(words[0])
    disk = Disk(board)
    watch_fsync(board)
    try:
        return ashbook.main(words[1:])
    finally:
        disk.unregister()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
