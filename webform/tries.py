"""How often somebody may guess: failures are counted by address and door, in this process."""

import threading
import time

TRIES = 10
TRIES_SECONDS = 600
MOST_WATCHED = 1000


class Tries:
    """At most TRIES failures in TRIES_SECONDS from one address for one door."""

    def __init__(self) -> None:
        self.failures: dict[str, list[float]] = {}
        self.lock = threading.Lock()

    def are_spent(self, who: str) -> bool:
        """Whether this address must wait."""
        with self.lock:
            recent = [at for at in self.failures.get(who, []) if at > time.monotonic() - TRIES_SECONDS]
            self.failures[who] = recent
            return len(recent) >= TRIES

    def failed(self, who: str) -> None:
        """Counts one failure."""
        with self.lock:
            if len(self.failures) > MOST_WATCHED:
                oldest = time.monotonic() - TRIES_SECONDS
                self.failures = {name: found for name, found in self.failures.items() if found and found[-1] > oldest}
            self.failures.setdefault(who, []).append(time.monotonic())
