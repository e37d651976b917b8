"""Commands killed with kill -9 at every step: statements, openings and renamings of files."""

import os
import signal
import subprocess
import sys

import pytest

from tests.proxying import free_port
from tests.sync.older import everything, make_version_1
from webform import archive, keeping
from webform.shop import open_store

from .shops import ROOT, at, trucks, write_shop


def deaths(data, *words, every=1):
    """Runs the command again and again, killed at its first step, its second and so on, until it lives; yields between."""
    for n in range(1, 400, every):
        done = subprocess.run([sys.executable, "-m", "tests.keeping.dying", str(n), str(data), *map(str, words)], cwd=ROOT,
                              capture_output=True, text=True)
        if done.returncode != -signal.SIGKILL:
            assert done.returncode == 0, done.stderr
            return
        yield n
    raise AssertionError("it never came to its end")


def age(folder):
    """What killed programs left behind is old now."""
    for left in folder.glob(".unfinished-*"):
        os.utime(left, (0, 0))


def test_a_backup_killed_at_any_step_leaves_nothing_that_looks_like_one(tmp_path, url):
    data, to = write_shop(tmp_path / "shop", url, jobs=2), tmp_path / "stick"
    to.mkdir()
    killed, whole = 0, set()
    for _ in deaths(tmp_path, "backup", "--data", data, "--to", to, *at(url)):
        killed += 1
        age(to)  # tidied up by the next one: else each that is left there is a step more for all that follow, without an end
        for path in to.iterdir():
            if path.name.startswith(".unfinished-"):
                continue
            assert archive.unpack(path)["position"] == 3
            whole.add(killed)
    assert killed - len(whole) >= 8 and min(whole, default=killed) > killed - 8, "it had its name before it was whole"
    assert keeping.verify(data, url)[1] == []
    age(to)
    keeping.backup(data, url, to)
    assert list(to.glob(".unfinished-*")) == []


@pytest.mark.parametrize("every", [3, pytest.param(1, marks=pytest.mark.soak)])
def test_a_restore_killed_at_any_step_leaves_the_old_shop_or_the_new_one(tmp_path, url, every):
    path = tmp_path / "new.backup"
    keeping.backup(write_shop(tmp_path / "source", jobs=3), None, path)
    shop = write_shop(tmp_path / "shop", url, jobs=2)
    old, new, seen = trucks(shop, url), trucks(tmp_path / "source"), []
    for _ in deaths(tmp_path, "restore", "--data", shop, "--from", path, "--replace", *at(url), every=every):
        assert keeping.verify(shop, url)[1] == []
        assert trucks(shop, url) in (old, new)
        seen.append(trucks(shop, url) == new)
    assert seen == sorted(seen) and seen.count(False) >= 20 // every and any(seen)
    assert trucks(shop, url) == new and archive.unpack(path)["position"] == 4


def test_serving_older_books_killed_at_any_step_of_the_upgrade_loses_nothing(tmp_path):
    make_version_1(f"sqlite:///{tmp_path}/shop.db")
    old = open_store(tmp_path, is_as_found=True)
    before = everything(old)
    upgraded_at = None
    for n in deaths(tmp_path, "serve", "--data", tmp_path, "--port", free_port()):
        version = old.rows("SELECT value FROM about WHERE name = 'version'")[0][0]
        assert everything(old) == before
        if version != "1":
            upgraded_at = n
            break
        for path in tmp_path.glob("*.backup"):
            assert archive.unpack(path)["position"] == 66
    assert upgraded_at >= 15 and list(tmp_path.glob("before-upgrade-1-*.backup"))
    old.close()
    assert keeping.verify(tmp_path)[1] == []
