"""A newer version of the whole program, made of this one, for tests of updates."""

import os
import shutil
import subprocess
import sys

from tests.browser.conftest import ROOT


def newer_tree(folder, root=ROOT):
    """A newer version of the program, built: its phone's book has one store more, and its page says that it is newer."""
    ignored = shutil.ignore_patterns("node_modules", "build", "__pycache__")
    for name in ("webform", "sync"):
        shutil.copytree(root / name, folder / name, ignore=ignored)
    (folder / "webform/phone/node_modules").symlink_to(root / "webform/phone/node_modules")
    for name, old, new in (
            ("store.js", "const VERSION = 2;", "const VERSION = 3;"),
            ("store.js", "const db = request.result;\n      if (oldVersion < 2)",
             "const db = request.result;\n      db.createObjectStore('newer');\n      if (oldVersion < 2)"),
            ("app.js", "const PERSIST_IDLE_MS", "document.documentElement.dataset.app = 'newer';\nconst PERSIST_IDLE_MS"),
            ("calc_worker.js", "self.postMessage({ dead:", "self.postMessage({ newer: true, dead:")):
        path = folder / "webform/phone/js" / name
        text = path.read_text()
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new))
    subprocess.run([sys.executable, "-m", "webform.phone.build"], cwd=folder, check=True, capture_output=True,
                   env={**os.environ, "PYTHONPATH": str(folder)})
    return folder
