"""The faults by name, and a tally of how often each took place: counted when it has hit something, not when planned."""

import threading
from collections import Counter
from dataclasses import dataclass

LINK = {
    "refused": "the connection is reset before a byte is read",
    "request_cut": "cut at byte n of the request, before the server's commit",
    "request_short": "the request arrives shorter, with a length that fits what is left",
    "cut_while_committing": "cut right after the whole request, while the server works on it",
    "answer_lost": "cut after the server's commit, before a byte of the answer",
    "answer_cut": "cut at byte n of the answer",
    "answer_short": "the answer arrives shorter, with a length that fits what is left",
    "sent_twice": "the request arrives twice, one after the other or both at once",
    "sent_late": "the request is swallowed and arrives later, behind others and out of order",
    "portal_200": "a captive portal answers 200 with something of its own",
    "portal_302": "a captive portal sends on to its login page",
    "error_500": "somebody on the way answers 500",
    "error_401": "somebody on the way answers 401",
    "killed_while_answering": "kill -9 of the server while it has a request",
}
SERVER = {
    "killed": "kill -9 of the server, and a start on the same data some steps later",
    "disk_full": "no byte more can be written; later there is room again",
    "backup_restored": "an earlier backup put back by the book, with a new epoch",
    "file_copied_back": "an earlier copy of the database put back by hand",
}
PHONE = {
    "offline": "no server can be reached for some steps",
    "clock_years_off": "a phone's clock is years off",
    "clock_backwards": "a phone's clock goes backwards",
    "older_app": "a change made under an older declaration",
    "newer_app": "a change made under a newer declaration than the server's",
    "second_tab": "another tab of the phone syncs while an answer is on its way to the first",
    "edit_in_flight": "a person goes on writing while a request is under way",
    "cloned_phone": "a phone's store copied to another phone; both go on as the same device",
    "app_killed": "the app is killed between two statements to its store",
    "rush": "all phones write and sync at the same time",
}
ALL = {**LINK, **SERVER, **PHONE}


@dataclass(frozen=True)
class Fate:
    """What happens to one request: a name of LINK and a share from 0 to 1 that says where."""

    name: str
    where: float = 0.0


class Tally:
    """How often each fault took place; several threads count."""

    def __init__(self):
        self.counts, self.further_tries = Counter(), Counter()
        self._lock = threading.Lock()

    def took_place(self, name):
        """One more of this fault."""
        assert name in ALL, name
        with self._lock:
            self.counts[name] += 1

    def needed_another_try(self, trouble):
        """With a good link and a server that runs, a request went wrong; it is tried again, and told at the end."""
        with self._lock:
            self.further_tries[trouble[:70]] += 1

    def add(self, other):
        """Another tally into this one."""
        with self._lock:
            self.counts.update(other.counts)
            self.further_tries.update(other.further_tries)

    def missing(self):
        """The faults that never took place."""
        return [name for name in ALL if not self.counts[name]]

    def lines(self):
        """One line a fault, for people."""
        return [*[f"{self.counts[name]:6}  {name}: {ALL[name]}" for name in ALL],
                *[f"{times:6}  times tried again, healed: {trouble}" for trouble, times in self.further_tries.items()]]
