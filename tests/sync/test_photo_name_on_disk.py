"""A photo is complete only once its name is on the disk, too; under a real server: tests/disk."""

import errno
import os

import pytest

from sync import photos
from sync.photos import Photos

from .picturing import code_of, jpeg, name_of, piece, put


@pytest.mark.parametrize("failing", [0, 1])  # the folder of the photo, the folder of that folder
def test_a_photo_whose_name_cannot_be_synced_is_not_told_as_complete_and_is_taken_when_it_is_sent_again(
        tmp_path, monkeypatch, failing):
    store, photo, asked = Photos(tmp_path / "photos"), jpeg(), []

    def fails(folder):
        asked.append(folder)
        if len(asked) == failing + 1:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(photos, "_sync_folder", fails)
    assert code_of(lambda: store.take("van", name_of(photo), *piece(photo, 0, len(photo)))) == (503, "unavailable")
    assert store.state("van", name_of(photo)) == {"sha256": name_of(photo), "offset": len(photo), "complete": False}
    assert not store.has(name_of(photo)) and asked[0].parent == store.folder
    assert put(store, photo, device="van")["complete"] and store.damaged() == []
    assert asked[-2:] == [store.folder / name_of(photo)[:2], store.folder]
