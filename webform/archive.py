"""One backup as one file: a tar of the books, the accounts and the photos, and last in it a manifest with every hash.

Promises: the file has its name only when it is complete and on disk; a file that was cut, altered or is something else is
refused with a sentence; nothing is ever written outside the folder that it is unpacked into. Any tar program reads it.
"""

import fcntl
import hashlib
import io
import json
import os
import re
import shutil
import tarfile
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

FORMAT = "ashbook backup"
FORMAT_VERSION = 1
MANIFEST = "manifest.json"
PHOTOS = "photos"
UNFINISHED = ".unfinished-"
LEFT_AFTER_S = 60  # a folder that another program has only just made is not held yet
CHUNK = 2**20
LARGEST_MANIFEST = 2**28
BOOKS = {"books.db", "books.jsonl"}  # of SQLite, of PostgreSQL
ABOUT = {"made_at": str, "database_version": int, "epoch": str, "position": int, "chain": str, "files": dict}

_is_photo = re.compile(r"photos/(?:[0-9a-f]{2}/){0,2}([0-9a-f]{64})(?:\.[a-z0-9]{1,5})?").fullmatch
_is_member = re.compile(r"(?:books\.db|books\.jsonl|reports\.jsonl|access\.json)|"
                        r"photos/(?:[0-9a-f]{2}/){0,2}[0-9a-f]{64}(?:\.[a-z0-9]{1,5})?").fullmatch


class Broken(Exception):
    """This file is no whole backup; the text says why."""


class Hashing:
    """Reads from a file and knows the SHA-256 of what was read."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file, self.sum = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        """The next bytes."""
        piece = self.file.read(size)
        self.sum.update(piece)
        return piece


def photo_hash(name: str) -> str | None:
    """The SHA-256 that a photo's name, as "photos/...", says its bytes have; None for a name of something else."""
    found = _is_photo(name)
    return found.group(1) if found else None


def photos(data: Path) -> Iterator[tuple[str, Path]]:
    """(name, path) of every photo of a shop, sorted; what is still arriving has another kind of name."""
    for path in sorted((data / PHOTOS).rglob("*")):
        name = path.relative_to(data).as_posix()
        if photo_hash(name) and path.is_file():
            yield name, path


def sha256(path: Path) -> str:
    """The SHA-256 of a file."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@contextmanager
def workshop(folder: Path) -> Iterator[Path]:
    """A folder in this one for what is not finished; it is gone afterwards, as are those that killed programs left."""
    for left in folder.glob(UNFINISHED + "*"):
        with _held(left) as is_ours:
            if is_ours and left.stat().st_mtime < time.time() - LEFT_AFTER_S:  # whoever made it does not live any more
                shutil.rmtree(left, ignore_errors=True)
    made = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
    try:
        with _held(made):
            yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


@contextmanager
def _held(folder: Path) -> Iterator[bool]:
    file = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield True
    except BlockingIOError:
        yield False
    finally:
        os.close(file)


def write(path: Path, files: Iterable[tuple[str, Path]], about: dict[str, Any]) -> dict[str, Any]:
    """The manifest of a new archive at this path, on disk when this returns; files: (name in the archive, path)."""
    manifest: dict[str, Any] = {"format": FORMAT, "format_version": FORMAT_VERSION, **about, "files": {}}
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        with tarfile.open(fileobj=out, mode="w") as tar:
            for name, source in files:
                with source.open("rb") as file:
                    info, reader = tar.gettarinfo(arcname=name, fileobj=file), Hashing(file)
                    info.mode, info.uid, info.gid, info.uname, info.gname = 0o600, 0, 0, "", ""
                    tar.addfile(info, reader)  # type: ignore[arg-type]
                manifest["files"][name] = {"size": info.size, "sha256": reader.sum.hexdigest()}
            text = json.dumps(manifest, indent=1).encode()
            last = tarfile.TarInfo(MANIFEST)
            last.size, last.mode = len(text), 0o600
            tar.addfile(last, io.BytesIO(text))
        out.flush()
        os.fsync(out.fileno())
    return manifest


def publish(unfinished: Path, path: Path) -> None:
    """Gives a finished file its name, for good: on disk when this returns."""
    unfinished.rename(path)
    sync_folder(path.parent)


def write_json(path: Path, found: Any) -> None:
    """Writes a whole JSON file in place of the old one, readable by the server's user only; on disk when this returns."""
    fresh = path.with_suffix(".new")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        json.dump(found, out, indent=1)
        out.flush()
        os.fsync(out.fileno())
    publish(fresh, path)


def sync_folder(folder: Path) -> None:
    """The names in this folder are on disk when this returns."""
    file = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(file)
    finally:
        os.close(file)


def unpack(path: Path, folder: Path | None = None) -> dict[str, Any]:
    """The manifest of an archive whose every file has the hash that it names; raises Broken. folder: where they go."""
    found: dict[str, dict[str, Any]] = {}
    manifest: dict[str, Any] | None = None
    try:
        with tarfile.open(path, "r:") as tar:
            for member in tar:
                file = tar.extractfile(member) if member.isreg() else None
                if file is None or manifest is not None:
                    raise Broken(f"{path} holds {member.name!r}, which is not part of a backup.")
                if member.name == MANIFEST and member.size <= LARGEST_MANIFEST:
                    manifest = json.loads(file.read())
                elif _is_member(member.name) and member.name not in found:
                    found[member.name] = {"size": member.size, "sha256": _unpack_one(file, folder and folder / member.name)}
                else:
                    raise Broken(f"{path} holds {member.name!r}, which is not part of a backup.")
    except (tarfile.TarError, EOFError, ValueError) as trouble:
        raise Broken(f"{path} is damaged or no backup ({trouble}). Take another one.") from trouble
    return _checked(path, manifest, found)


def _unpack_one(file: IO[bytes], path: Path | None) -> str:
    reader = Hashing(file)
    if path is None:
        while reader.read(CHUNK):
            pass
        return reader.sum.hexdigest()
    path.parent.mkdir(parents=True, exist_ok=True)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        shutil.copyfileobj(reader, out, CHUNK)
        out.flush()
        os.fsync(out.fileno())
    return reader.sum.hexdigest()


def _checked(path: Path, manifest: dict[str, Any] | None, found: dict[str, dict[str, Any]]) -> dict[str, Any]:
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        raise Broken(f"{path} is no whole backup: its list of contents is missing. Take another one.")
    if not isinstance(manifest.get("format_version"), int) or manifest["format_version"] > FORMAT_VERSION:
        raise Broken(f"{path} was made by a newer program. Restore it with that one.")
    if not all(isinstance(manifest.get(name), kind) for name, kind in ABOUT.items()):
        raise Broken(f"{path} is damaged: its list of contents cannot be read. Take another one.")
    for name in sorted(manifest["files"].keys() | found.keys()):
        if manifest["files"].get(name) != found.get(name):
            raise Broken(f"{path} is damaged: {name} is not what was backed up. Take another one.")
    if len(found.keys() & BOOKS) != 1:
        raise Broken(f"There are no books in {path}. Take another one.")
    return manifest
