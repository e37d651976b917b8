"""Several at once, each in a thread with a tab of its own: two tabs whose answers cross, and all phones in a rush."""

import random
import threading
import time

from . import people
from .phones import OWN_SCHEMA

ROUNDS = 3
WAIT_S = 20


def second_tab(world, rng):
    """A slow tab gets its answer late: after a quick one has pulled, and asked once more, on the same store."""
    world.place.start()
    phone, other = rng.sample(world.phones, 2)
    phone.offline_steps = other.offline_steps = 0
    is_pull, has_answer, may_take, problems = rng.random() < 0.5, threading.Event(), threading.Event(), []

    def hold_back():
        has_answer.set()
        assert may_take.wait(WAIT_S)

    def slow():
        tab = phone.tab()
        tab.meanwhile = hold_back
        world.attempt(phone, tab.pull if is_pull else tab.sync)
        has_answer.set()
        tab.close()

    def others_go_on():
        world.save(other, other.client, people.edit(other.client, rng, OWN_SCHEMA))
        world.attempt(other, other.client.sync)

    others_go_on()
    if not is_pull:
        world.save(phone, phone.client, people.edit(phone.client, rng, OWN_SCHEMA))
    threads = started(problems, slow)
    assert has_answer.wait(WAIT_S)
    others_go_on()
    world.attempt(phone, phone.client.sync)
    others_go_on()

    def slow_one_takes():
        may_take.set()
        joined(threads, problems)
        world.tally.took_place("second_tab")

    phone.client.meanwhile = slow_one_takes
    world.attempt(phone, phone.client.pull)
    phone.client.meanwhile = None
    may_take.set()
    joined(threads, problems)


def rush(world, rng):
    """All phones write and sync at once; the server may be killed under them."""
    world.place.start()
    problems = []

    def busy(phone, seed):
        own, tab = random.Random(seed), phone.tab()
        for _ in range(ROUNDS):
            world.save(phone, tab, people.edit(tab, own, OWN_SCHEMA))
            world.attempt(phone, tab.sync)
        tab.close()

    threads = started(problems, *[lambda phone=phone, seed=rng.random(): busy(phone, seed) for phone in world.phones])
    if world.place.is_process and rng.random() < 0.5:
        time.sleep(rng.random() * 0.05)  # the moment of the kill is the fault itself
        world.place.kill()
        world.tally.took_place("killed")
    joined(threads, problems)
    world.tally.took_place("rush")


def joined(threads, problems):
    """Waits for threads, and raises what one of them met."""
    for thread in threads:
        thread.join(WAIT_S)
        assert not thread.is_alive(), "a phone hangs"
    if problems:
        raise problems[0]


def started(problems, *actions):
    """Threads that run these actions; what they raise goes into problems."""

    def guarded(action):
        try:
            action()
        except BaseException as problem:
            problems.append(problem)

    threads = [threading.Thread(target=guarded, args=(action,)) for action in actions]
    for thread in threads:
        thread.start()
    return threads
