"""One schedule from its seed, on one kind of place, and what is said where it fails."""

import contextlib
import random
import shutil
import tempfile
from pathlib import Path

from . import checks
from .databases import PostgresqlBooks, SqliteBooks
from .faults import Tally
from .inside import InsidePlace
from .process import ProcessPlace
from .schedule import steps_of
from .world import World


def real(seed, store, cluster=None):
    """The tally of a schedule against a server process, on "sqlite" or "postgresql"; raises where a promise broke."""
    with replayable(seed, store), new_folder() as folder:
        books = SqliteBooks(folder / "shop") if store == "sqlite" else PostgresqlBooks(cluster)
        return played(ProcessPlace(folder / "shop", books, Tally()), folder, seed)


def inside(seed, on_kill=lambda: None):
    """The tally of a schedule against the app in this process."""
    with replayable(seed, "inside"), new_folder() as folder:
        return played(InsidePlace(folder / "shop", SqliteBooks(folder / "shop"), Tally(), on_kill), folder, seed)


def played(place, folder, seed):
    """The tally, after all steps and all checks."""
    world = World(place, folder)
    try:
        return _played(world, seed)
    except BaseException as problem:
        problem.add_note("The server's last words: " + place.last_words())
        raise
    finally:
        world.close()


def _played(world, seed):
    for number, step in enumerate(steps_of(seed)):
        with noted(f"in step {number}, {step.name}"):
            world.play(step)
    with noted("in the checks"):
        checks.after(world, random.Random(seed))
    return world.tally


@contextlib.contextmanager
def replayable(seed, store):
    """A failure names the command that plays it again."""
    with noted(f"Play it again: python -m tests.fire --seed {seed} --store {store}"):
        yield


@contextlib.contextmanager
def noted(text):
    """Whatever fails in here says so too."""
    try:
        yield
    except BaseException as problem:
        problem.add_note(text)
        raise


@contextlib.contextmanager
def new_folder():
    """A folder that lives as long as a schedule."""
    folder = Path(tempfile.mkdtemp(prefix="ashbook-fire-"))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
