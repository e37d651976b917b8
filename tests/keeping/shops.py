"""Shops to keep, and the command as a person types it. All that stands in them is invented."""

import hashlib
import subprocess
import sys
from pathlib import Path

from sync import lookup
from webform.access import Doors
from webform.shop import Shop, open_store

ROOT = Path(__file__).parents[2]


def ashbook(*words):
    return subprocess.run([sys.executable, "-m", "webform", *map(str, words)], cwd=ROOT, capture_output=True, text=True,
                          timeout=120)


def refused(done):
    """The sentence of a command that could not do its work."""
    assert done.returncode == 1 and "Traceback" not in done.stderr, done.stderr
    [sentence] = done.stderr.strip().splitlines()
    assert sentence.endswith(".")
    return sentence


def photo(data, content):
    name = hashlib.sha256(content).hexdigest()
    path = data / "photos" / name[:2] / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    return path


def write_shop(data, url=None, jobs=8):
    """A shop with some jobs, two answers in one of them, a held change, a phone and two photos."""
    shop, doors = Shop(data, url), Doors(data)
    doors.ensure_office("invented-word")
    doors.redeem(doors.new_code(), "Van phone")
    for n in range(jobs):
        assert shop.write(f"job:j{n}", {"truck": f"HL {n}"}, "person:kim", {})["status"] == "stored"
    shop.write("job:j1", {"truck": "HL 99"}, "person:ravn", {})
    shop.write("job:j1", {"no_such_field": "x"}, "person:ravn", {})
    assert len(shop.two_answers()) == 1
    shop.store.close()
    for content in (b"one invented picture", b"another invented picture"):
        photo(data, content)
    return data


def at(url):
    return ("--database", url) if url else ()


def trucks(data, url=None):
    """What stands in every job, and how many changes are held."""
    store = open_store(data, url)
    try:
        views = lookup.views(store, [entry["record"] for entry in lookup.records(store, "job", 10_000)])
        return ({job: sorted(answer["value"] for answer in view["fields"]["truck"]["answers"])
                 for job, view in views.items()}, lookup.held_count(store))
    finally:
        store.close()
