"""From a seed to the steps of a schedule: every fault at least once, edits and syncs between them, in an order of its own."""

import random
from dataclasses import dataclass

from . import faults

ORDINARY = {"edit": 26, "begin": 5, "finish": 6, "sync": 20, "sign": 8, "settle": 5, "back_up": 2}
TWICE = ("second_tab", "app_killed", "newer_app", "cloned_phone", "file_copied_back", "rush")


@dataclass(frozen=True)
class Step:
    """One step: what, and the number that its own choices are drawn from."""

    name: str
    number: int


def steps_of(seed):
    """The steps of a seed; the same seed gives the same steps."""
    rng = random.Random(seed)
    names = [name for name, times in ORDINARY.items() for _ in range(times)]
    names += [*faults.ALL, *TWICE, *rng.choices(sorted(faults.LINK), k=6)]
    rng.shuffle(names)
    return [Step(name, rng.randrange(2**32)) for name in names]
