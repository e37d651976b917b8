"""Photos: cut anywhere and resumed, checked before they count, kept once. Pictures are made here."""

import errno
import os
import random

import pytest

from sync import photos
from sync.photos import LARGEST_BYTES, LARGEST_PIECE, Photos, missing
from sync.pictures import PhotoRefused

from .picturing import code_of, jpeg, name_of, piece, put


@pytest.fixture
def store(tmp_path):
    return Photos(tmp_path / "photos")


def test_a_photo_cut_at_many_bytes_is_resumed_and_whole(store):
    photo, draw = jpeg(), random.Random(4711)
    name, start, sent = name_of(photo), 0, 0
    assert store.state("phone-a", name) == {"sha256": name, "offset": 0, "complete": False}
    while start < len(photo):
        end = min(len(photo), start + draw.randrange(1, 4000))
        answer = store.take("phone-a", name, *piece(photo, start, end))
        sent += end - start
        start = answer["offset"]
        assert start == end and answer["complete"] == (end == len(photo))
    assert store.state("phone-a", name) == {"sha256": name, "offset": len(photo), "complete": True} and sent == len(photo)
    assert (store.folder / name[:2] / name).read_bytes() == photo
    assert not list((store.folder / "partial" / "phone-a").iterdir())
    assert list(store.names()) == [name] and store.damaged() == [] and missing(store, [name, "0" * 64]) == ["0" * 64]


@pytest.mark.parametrize("cut", [0, 1, 999, 1999])
def test_a_piece_that_was_cut_stores_nothing(store, cut):
    photo = jpeg()
    name = name_of(photo)
    store.take("phone-a", name, *piece(photo, 0, 1000))
    content_range, body = piece(photo, 1000, 3000)
    assert code_of(lambda: store.take("phone-a", name, content_range, body[:cut])) == (400, "body_cut")
    assert store.state("phone-a", name)["offset"] == 1000


def test_a_piece_beyond_what_has_come_is_told_where_to_go_on(store):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    with pytest.raises(PhotoRefused) as caught:
        store.take("phone-a", name_of(photo), *piece(photo, 2000, 3000))
    assert (caught.value.status, caught.value.code, caught.value.details) == (409, "wrong_offset", {"offset": 1000})


def test_a_piece_sent_twice_and_a_start_anew_do_no_harm(store):
    photo = jpeg()
    name = name_of(photo)
    store.take("phone-a", name, *piece(photo, 0, 2000))
    assert store.take("phone-a", name, *piece(photo, 1000, 2000))["offset"] == 2000
    assert store.take("phone-a", name, *piece(photo, 0, 1500))["offset"] == 1500
    assert store.take("phone-a", name, *piece(photo, 1500, len(photo)))["complete"]
    assert store.take("phone-a", name, *piece(photo, 0, 100)) == store.state("phone-a", name)


def test_killed_between_the_last_piece_and_its_place_a_photo_is_sent_again(store):
    photo = jpeg()
    half = store.folder / "partial" / "phone-a" / name_of(photo)
    half.parent.mkdir(parents=True)
    half.write_bytes(photo)  # what kill -9 leaves: every byte there, nothing checked
    assert store.state("phone-a", name_of(photo)) == {"sha256": name_of(photo), "offset": len(photo), "complete": False}
    assert put(store, photo)["complete"]


def test_a_wrong_hash_is_refused_and_nothing_of_it_stays(store):
    photo = bytearray(jpeg())
    name = name_of(bytes(photo))
    photo[500] ^= 1
    assert code_of(lambda: put(store, bytes(photo), name)) == (422, "wrong_hash")
    assert store.state("phone-a", name) == {"sha256": name, "offset": 0, "complete": False}


def test_the_same_photo_of_two_devices_is_kept_once(store):
    photo = jpeg()
    store.take("phone-b", name_of(photo), *piece(photo, 0, 1000))
    assert put(store, photo)["complete"]
    assert store.take("phone-b", name_of(photo), *piece(photo, 1000, 2000))["complete"]
    assert [path.name for path in store.folder.glob("??/*")] == [name_of(photo)]


def test_a_photo_finished_while_a_piece_waits_its_turn_is_not_written_to(store, monkeypatch):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    taken = []

    def turn(file, _how):
        if not taken:  # the other request was quicker
            taken.append(1)
            put(store, photo)

    monkeypatch.setattr(photos.fcntl, "flock", turn)
    assert store.take("phone-a", name_of(photo), *piece(photo, 1000, 2000))["complete"]
    assert store.damaged() == []


def test_too_many_bytes_and_too_large_a_piece_are_refused(store):
    body = bytes(LARGEST_PIECE + 1)
    name = name_of(body)
    assert code_of(lambda: store.take("a", name, f"bytes 0-9/{LARGEST_BYTES + 1}", bytes(10))) == (413, "photo_too_large")
    assert code_of(lambda: store.take("a", name, f"bytes 0-{len(body) - 1}/{len(body)}", body)) == (413, "piece_too_large")


@pytest.mark.parametrize("said", [None, "", "bytes */100", "bytes 0-9", "bytes 5-4/100", "bytes 0-100/100", "bytes 0-9/0",
                                  "items 0-9/100", "bytes 0-9/100 ", "bytes ٠-٩/100", "bytes -1-8/100"])
def test_a_range_that_says_nothing_clear_is_refused(store, said):
    assert code_of(lambda: store.take("a", "0" * 64, said, bytes(10))) == (400, "bad_range")


@pytest.mark.parametrize("name", ["", "0" * 63, "0" * 65, "A" * 64, "../" + "0" * 61, "0" * 64 + "\n", "g" * 64])
def test_names_that_are_no_hash_never_reach_the_disk(store, name):
    for call in (lambda: store.state("a", name), lambda: store.take("a", name, "bytes 0-0/1", b"x"),
                 lambda: store.picture(name, "small"), lambda: store.has(name)):
        assert code_of(call) == (400, "bad_photo")
    assert not store.folder.exists()


def test_devices_and_sizes_of_other_names_are_refused(store):
    assert code_of(lambda: store.state("../a", "0" * 64)) == (400, "bad_photo")
    assert code_of(lambda: store.picture("0" * 64, "original")) == (400, "bad_photo")


def test_a_device_has_a_quota_a_day_and_another_one_its_own(tmp_path, monkeypatch):
    photo, other = jpeg(seed=1), jpeg(seed=2)
    store = Photos(tmp_path, quota_bytes=len(photo) + 2_000)
    assert put(store, photo)["complete"]
    store.take("phone-a", name_of(other), *piece(other, 0, 1_500))
    assert code_of(lambda: store.take("phone-a", name_of(other), *piece(other, 1_500, 3_000))) == (429, "photo_quota")
    assert put(store, other, device="phone-b")["complete"]
    third = jpeg(seed=3)
    later = photos.time.time() + photos.QUOTA_SECONDS + 1
    monkeypatch.setattr(photos.time, "time", lambda: later)
    assert put(store, third)["complete"]


def test_half_photos_are_counted_and_forgotten_after_a_month(store, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PARTIAL", 2)
    old, photo, third = jpeg(seed=4), jpeg(seed=5), jpeg(seed=6)
    for one in (old, photo):
        store.take("phone-a", name_of(one), *piece(one, 0, 1000))
    assert code_of(lambda: store.take("phone-a", name_of(third), *piece(third, 0, 1000))) == (429, "photo_quota")
    long_ago = photos.time.time() - photos.PARTIAL_SECONDS - 1
    os.utime(store.folder / "partial" / "phone-a" / name_of(old), (long_ago, long_ago))
    assert store.take("phone-a", name_of(third), *piece(third, 0, 1000))["offset"] == 1000
    assert store.state("phone-a", name_of(old))["offset"] == 0


def test_a_photo_that_is_begun_goes_on_however_many_others_are(store, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PARTIAL", 1)
    photo, other = jpeg(seed=4), jpeg(seed=5)
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    assert code_of(lambda: store.take("phone-a", name_of(other), *piece(other, 0, 1000))) == (429, "photo_quota")
    assert store.take("phone-a", name_of(photo), *piece(photo, 1000, len(photo)))["complete"]
    assert store.take("phone-a", name_of(other), *piece(other, 0, len(other)))["complete"]


def test_the_quota_of_a_day_is_open_again_on_the_next_also_for_what_was_begun(tmp_path, monkeypatch):
    photo, other = jpeg(seed=4), jpeg(seed=5)
    store = Photos(tmp_path, quota_bytes=3_000)
    store.take("phone-a", name_of(other), *piece(other, 0, 1_000))
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1_500))
    assert code_of(lambda: store.take("phone-a", name_of(photo), *piece(photo, 1_500, 3_000))) == (429, "photo_quota")
    later = photos.time.time() + photos.QUOTA_SECONDS + 1
    monkeypatch.setattr(photos.time, "time", lambda: later)
    assert store.take("phone-a", name_of(photo), *piece(photo, 1_500, 3_000))["offset"] == 3_000


def test_a_full_disk_keeps_what_was_confirmed_and_says_so(store, monkeypatch):
    photo = jpeg()
    store.take("phone-a", name_of(photo), *piece(photo, 0, 1000))
    write, calls = os.write, []

    def full(number, body):
        calls.append(1)
        if len(calls) == 1:
            return write(number, bytes(body[:100]))  # a part of it still fits
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(photos.os, "write", full)
    assert code_of(lambda: store.take("phone-a", name_of(photo), *piece(photo, 1000, 3000))) == (503, "unavailable")
    monkeypatch.undo()
    assert store.state("phone-a", name_of(photo))["offset"] == 1000
    assert store.take("phone-a", name_of(photo), *piece(photo, 1000, len(photo)))["complete"]


def test_bytes_that_change_on_the_disk_are_found(store):
    photo = jpeg()
    put(store, photo)
    (store.folder / name_of(photo)[:2] / name_of(photo)).write_bytes(photo[:-1])
    assert store.damaged() == [name_of(photo)]
