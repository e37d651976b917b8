"""python -m tests.fire --seed 123 --store sqlite: plays one seed again. --minutes 10 plays new seeds as long as that."""

import argparse
import contextlib
import secrets
import sys
import time
import traceback

from tests.sync.conftest import Cluster

from . import run
from .faults import Tally

STORES = ("sqlite", "postgresql", "inside")


def main(words=None):
    """0 where every promise held."""
    parser = argparse.ArgumentParser(prog="python -m tests.fire", description="The fault harness.")
    parser.add_argument("--seed", type=int, help="the seed to play; without it new ones")
    parser.add_argument("--store", choices=STORES, default="sqlite")
    parser.add_argument("--minutes", type=float, default=0, help="how long to play new seeds; one is played at least")
    given = parser.parse_args(words)
    with contextlib.ExitStack() as ends:
        cluster = Cluster() if given.store == "postgresql" else None
        if cluster is not None:
            ends.callback(cluster.stop)
        try:
            tally, played = soak([given.store], given.minutes, cluster, given.seed)
        except Exception:
            traceback.print_exc()
            return 1
    print("\n".join([*tally.lines(), f"{played} schedules, every promise held"]))
    return 0


def soak(stores, minutes, cluster, seed=None):
    """(tally, number of schedules) of new seeds, or of one, played in turn on these stores for so many minutes."""
    ends, tally, played = time.monotonic() + minutes * 60, Tally(), 0
    while True:
        store, chosen = stores[played % len(stores)], secrets.randbelow(10**6) if seed is None else seed
        print(f"seed {chosen} on {store}", flush=True)
        tally.add(run.inside(chosen) if store == "inside" else run.real(chosen, store, cluster))
        played += 1
        if seed is not None or time.monotonic() > ends:
            return tally, played


if __name__ == "__main__":
    sys.exit(main())
