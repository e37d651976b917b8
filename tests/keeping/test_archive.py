"""Archives that are not whole, and what else cannot be done: one sentence each, and nothing is touched."""

import json
import shutil
import tarfile

import pytest

from tests.proxying import free_port
from webform import archive, keeping, restoring
from webform.shop import open_store

from .shops import ashbook, refused


def test_a_backup_that_is_cut_or_altered_anywhere_is_refused_and_nothing_is_touched(shop, tmp_path):
    path = tmp_path / "first.backup"
    keeping.backup(shop, None, path)
    whole, fresh = path.read_bytes(), tmp_path / "fresh"
    end = whole.rindex(b"}") + 1  # what follows is the tar's padding
    places = list(range(0, end, max(1, end // 60)))
    for place in places:
        bad = tmp_path / "bad.backup"
        bad.write_bytes(whole[:place])
        with pytest.raises(archive.Broken):
            restoring.restore(fresh, bad)
        bad.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1:])
        try:
            restoring.restore(fresh, bad, is_replace=True)
        except archive.Broken:
            continue
        # a byte in which nothing stands that counts: padding or a date of the tar
        with tarfile.open(bad) as tar, tarfile.open(path) as good:
            assert {m.name: tar.extractfile(m).read() for m in tar if m.name != "manifest.json"} == {
                m.name: good.extractfile(m).read() for m in good if m.name != "manifest.json"}
        shutil.rmtree(fresh)
    assert not fresh.exists() or list(fresh.iterdir()) == []


def put_together(path, members, manifest=None):
    with tarfile.open(path, "w") as tar:
        for name, content in members:
            source = path.with_name("member")
            source.write_bytes(content)
            tar.add(source, name)
        if manifest is not None:
            source = path.with_name("member")
            source.write_text(json.dumps(manifest))
            tar.add(source, "manifest.json")


SOUND = {"format": "ashbook backup", "format_version": 1, "made_at": "2026-11-25T18:00:00Z", "database_version": 1,
         "epoch": "e", "position": 0, "chain": "0", "files": {}}


@pytest.mark.parametrize(("members", "manifest", "sentence"), [
    ([("../outside", b"x")], None, "not part of a backup"),
    ([("photos/../../outside", b"x")], None, "not part of a backup"),
    ([("shop.db", b"x")], None, "not part of a backup"),
    ([("access.json", b"x"), ("access.json", b"y")], None, "not part of a backup"),
    ([("access.json", b"x")], None, "list of contents is missing"),
    ([("access.json", b"x")], ["a list"], "list of contents is missing"),
    ([("access.json", b"x")], SOUND, "access.json is not what was backed up"),
    ([], {**SOUND, "files": {"books.db": {"size": 1, "sha256": "x"}}}, "books.db is not what was backed up"),
    ([], {**SOUND, "format_version": 2}, "made by a newer program"),
    ([], {**SOUND, "position": "many"}, "list of contents cannot be read"),
    ([], SOUND, "There are no books in"),
    ([("manifest.json", b"{"), ("access.json", b"x")], None, "damaged or no backup"),
    ([("manifest.json", json.dumps(SOUND).encode()), ("access.json", b"x")], None, "not part of a backup"),
])
def test_a_strange_archive_is_refused_with_a_sentence(tmp_path, members, manifest, sentence):
    (tmp_path / "member").write_bytes(b"")
    put_together(tmp_path / "strange.backup", members, manifest)
    assert sentence in refused(ashbook("restore", "--data", tmp_path / "shop", "--from", tmp_path / "strange.backup"))
    assert list((tmp_path / "shop").iterdir()) == [] and not (tmp_path / "outside").exists()


def test_what_cannot_be_done_is_told_in_a_sentence(shop, tmp_path):
    assert "no folder" in refused(ashbook("backup", "--data", tmp_path / "none"))
    (tmp_path / "empty").mkdir()
    assert "There are no books" in refused(ashbook("backup", "--data", tmp_path / "empty"))
    assert "There are no books" in refused(ashbook("verify", "--data", tmp_path / "empty"))
    assert "There is no file" in refused(ashbook("restore", "--data", tmp_path / "new", "--from", tmp_path / "none"))
    assert "no folder" in refused(ashbook("backup", "--data", shop, "--to", tmp_path / "none/x.backup"))
    ashbook("backup", "--data", shop, "--to", tmp_path / "x.backup")
    assert "nothing is ever written over" in refused(ashbook("backup", "--data", shop, "--to", tmp_path / "x.backup"))
    assert "Not a directory" in refused(ashbook("restore", "--data", shop / "shop.db/below", "--from", tmp_path / "x.backup"))
    assert "--database" in refused(ashbook("backup", "--data", shop, "--database", "nonsense"))
    store = open_store(shop)
    store.rows("UPDATE about SET value = '99'")
    store.close()
    for words in (("backup",), ("verify",), ("serve", "--port", free_port())):
        assert "Start the newer program" in refused(ashbook(words[0], "--data", shop, *words[1:]))
