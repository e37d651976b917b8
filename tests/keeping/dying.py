"""The `ashbook` command, killed at its n-th step: python -m tests.keeping.dying N DATA WORDS...

Ends as the command does where there is no n-th step. A step is each statement to a store, and each time that a file below
DATA is opened, made, renamed or removed.
"""

import os
import signal
import sys

from sync.log import Store
from webform.__main__ import main

EVENTS = {"open", "os.rename", "os.mkdir", "os.rmdir", "os.remove", "shutil.rmtree"}


class Steps:
    """Counts down and kills."""

    def __init__(self, left, data):
        self.left, self.data = left, data

    def step(self):
        """One step; the last is the last of this process."""
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def audit(self, event, arguments):
        """Python tells of every opening and renaming before it happens."""
        if event in EVENTS and self.data in str(arguments[0]):
            self.step()

    def counted(self, real):
        """A store's method that counts as a step."""
        def run(store, sql, values=()):
            self.step()
            return real(store, sql, values)
        return run


if __name__ == "__main__":
    steps = Steps(int(sys.argv[1]), sys.argv[2])
    Store.rows, Store.write_many = steps.counted(Store.rows), steps.counted(Store.write_many)
    sys.addaudithook(steps.audit)
    sys.exit(main(sys.argv[3:]))
