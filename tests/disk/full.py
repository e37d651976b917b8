"""A disk of a few megabytes that can be filled to its last byte: a tmpfs in a mount namespace of its own.

It needs the right to make one: root, or user namespaces for everybody. Where a machine gives neither (some containers), the
server's files may grow no further instead (RLIMIT_FSIZE), which its writes meet as an error as well.
"""

import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
from pathlib import Path

SIZE_KB = 24_000
READY = "ready"
HOLD = 'mount -t tmpfs -o size=%dk,mode=700 ashbook "$1" && echo %s && exec sleep 100000' % (SIZE_KB, READY)


class SmallDisk:
    """Mounted over a folder, for those who are brought into it; the folder outlives the server, not the test."""

    kind = "tmpfs"

    def __init__(self, folder, holder):
        self.folder, self.holder = folder, holder
        self.seen_at = Path(f"/proc/{holder.pid}/root{folder}")  # the same folder, from outside
        self.filler = self.seen_at / "filler"

    def words(self, command):
        """What runs a command inside."""
        users = [] if os.geteuid() == 0 else ["--user", "--preserve-credentials"]
        return ["nsenter", "--target", str(self.holder.pid), "--mount", *users, "--wd=" + os.getcwd(), *command]

    def fill(self, server_pid, room_bytes=0):
        """Nothing more fits, except so many bytes."""
        with self.filler.open("ab", buffering=0) as file:
            for size in (65_536, 4_096, 1):
                try:
                    while True:
                        file.write(bytes(size))
                except OSError as trouble:
                    assert trouble.errno == errno.ENOSPC
            if room_bytes:
                file.truncate(file.seek(0, os.SEEK_END) - room_bytes)

    def free(self, server_pid):
        """There is room again."""
        self.filler.unlink()

    def end(self):
        self.holder.send_signal(signal.SIGKILL)
        self.holder.wait()
        self.holder.stdout.close()


class LimitedFiles:
    """No file of the server grows beyond what any of its files needs at the least."""

    kind = "limit"

    def __init__(self, folder):
        self.folder = self.seen_at = folder

    def words(self, command):
        return command

    def fill(self, server_pid, room_bytes=0):
        resource.prlimit(server_pid, resource.RLIMIT_FSIZE, (max(4_096, room_bytes), resource.RLIM_INFINITY))

    def free(self, server_pid):
        resource.prlimit(server_pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))

    def end(self):
        pass


def small_disk(folder):
    """A disk that can be filled, at this folder."""
    folder.mkdir()
    how = ["--mount"] if os.geteuid() == 0 else ["--mount", "--user", "--map-root-user"]
    if not shutil.which("unshare"):
        return LimitedFiles(folder)
    holder = subprocess.Popen(["unshare", *how, "--propagation", "private", "sh", "-c", HOLD, "sh", str(folder)],
                              stdout=subprocess.PIPE, stderr=sys.stderr, text=True)
    if holder.stdout.readline().strip() == READY:
        return SmallDisk(folder, holder)
    holder.wait()
    holder.stdout.close()
    return LimitedFiles(folder)
