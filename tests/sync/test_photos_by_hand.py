"""The photos of an outbox file: a receipt for each, checked and kept like uploads; nothing whole is lost with what is not."""

import io
import json

import pytest

from sync import by_hand, client, photo_client, photos_by_hand
from sync.photos import LARGEST_BYTES, Photos

from .picturing import jpeg, name_of, piece, put

PICTURES = [jpeg(seed=number) for number in (1, 2, 3)]
NAMES = [name_of(picture) for picture in PICTURES]


@pytest.fixture
def photos(tmp_path):
    return Photos(tmp_path / "photos")


@pytest.fixture
def van():
    """A device without a network that has written one change."""
    one = client.Client(":memory:", "van", lambda route, body: pytest.fail("there is no network"))
    one.write("job:one", {"note": "é"}, "person:kim")
    yield one
    one.close()


def taken(photos, body, device="van"):
    """(outcome or reason of each photo, what the file said) after a file came in."""
    file = io.BytesIO(body)
    said = by_hand.read(file)
    receipts = photos_by_hand.take(photos, device, said.photos, file)
    assert [one["sha256"] for one in receipts] == [name for name, _size in said.photos]
    assert all((one["status"] == "refused") == bool(one["reason"]) for one in receipts)
    return [one["reason"] or ("stored" if one["is_new"] else "already") for one in receipts], said


def test_a_file_with_photos_carries_the_changes_too_and_brought_twice_it_changes_nothing(photos, van):
    body = photo_client.with_photos(van.outbox_file(), PICTURES)
    outcomes, said = taken(photos, body)
    assert outcomes == ["stored"] * 3 and said[:3] == by_hand.read(io.BytesIO(van.outbox_file().encode()))[:3]
    assert sorted(NAMES) == list(photos.names()) and photos.damaged() == []
    before = (photos.folder / "sent" / "van").read_text()
    assert taken(photos, body)[0] == ["already"] * 3
    assert (photos.folder / "sent" / "van").read_text() == before


def test_without_photos_the_file_is_of_the_first_version(van):
    assert photo_client.with_photos(van.outbox_file(), []) == van.outbox_file().encode()


def test_after_the_file_the_phone_sends_not_a_byte_of_a_photo(photos, van):
    taken(photos, photo_client.with_photos(van.outbox_file(), PICTURES[:1]))
    asked = []

    def send(method, route, body, headers):
        asked.append((method, len(body or b"")))
        return json.dumps(photos.state("van", route.removeprefix("photos/"))).encode()

    assert photo_client.push_photo(send, PICTURES[0]) == NAMES[0]
    assert asked == [("GET", 0)]


def test_a_file_cut_at_any_place_gives_up_only_what_is_not_whole_in_it(tmp_path, van):
    body = photo_client.with_photos(van.outbox_file(), PICTURES)
    start = body.index(b"\n") + 1
    ends = [start + sum(map(len, PICTURES[:count])) for count in range(4)]
    for number, cut in enumerate((start - 1, start, start + 1, ends[1] - 1, ends[1], ends[2] + 10, ends[3] - 1)):
        photos = Photos(tmp_path / str(number))
        outcomes, said = taken(photos, body[:cut])
        whole = sum(end <= cut for end in ends[1:])
        assert outcomes == ["stored"] * whole + ["body_cut"] * (3 - whole) and len(said.texts) == 1, cut
        assert len(list(photos.names())) == whole
    with pytest.raises(by_hand.NotTaken) as refused:
        by_hand.read(io.BytesIO(body[:start - 2]))  # cut in what was typed: nothing of it can be told from its neighbours
    assert refused.value.code == "not_json"


def test_one_damaged_photo_stops_no_other_and_takes_nothing_of_what_was_uploaded(photos, van):
    photos.take("van", NAMES[1], *piece(PICTURES[1], 0, 5_000))
    body = bytearray(photo_client.with_photos(van.outbox_file(), PICTURES))
    body[body.index(b"\n") + 1 + len(PICTURES[0]) + 9_000] ^= 1
    assert taken(photos, bytes(body))[0] == ["stored", "wrong_hash", "stored"]
    assert photos.state("van", NAMES[1])["offset"] == 5_000  # the phone goes on there
    assert put(photos, PICTURES[1], device="van")["complete"]


def file_of(listed, body=b"", device="van"):
    said = {"ashbook_outbox": 2, "device": device, "schema": 1, "changes": [], "hashes": [], "photos": listed}
    return json.dumps(said).encode() + b"\n" + body


@pytest.mark.parametrize(("listed", "body", "reason"), [
    ({"sha256": NAMES[0], "bytes": LARGEST_BYTES + 1}, b"\0" * (LARGEST_BYTES + 1), "photo_too_large"),
    ({"sha256": NAMES[0], "bytes": 2**53 - 1}, b"", "body_cut"),
    ({"sha256": "../../etc/passwd", "bytes": 4}, b"root", "bad_photo"),
    ({"sha256": name_of(b"no picture"), "bytes": 10}, b"no picture", "not_a_photo"),
])
def test_what_is_no_photo_gets_a_reason_and_the_next_one_is_taken(photos, listed, body, reason):
    both = file_of([listed, {"sha256": NAMES[2], "bytes": len(PICTURES[2])}], body + PICTURES[2])
    assert taken(photos, both)[0] == [reason, "body_cut" if listed["bytes"] > len(both) else "stored"]


def test_the_quota_of_a_device_counts_what_came_by_file(tmp_path):
    photos = Photos(tmp_path / "photos", quota_bytes=len(PICTURES[0]) + len(PICTURES[1]))
    listed = [{"sha256": name_of(one), "bytes": len(one)} for one in PICTURES]
    body = file_of(listed, b"".join(PICTURES))
    assert taken(photos, body)[0] == ["stored", "stored", "photo_quota"]
    assert taken(photos, body, "other")[0] == ["already", "already", "stored"]


def test_a_photo_larger_than_a_piece_goes_in_by_pieces(photos):
    large = jpeg(1600, 1200, seed=4)
    assert len(large) > 1.2 * 2**20
    assert taken(photos, file_of([{"sha256": name_of(large), "bytes": len(large)}], large))[0] == ["stored"]


def test_a_device_name_that_is_no_name_is_no_folder(photos):
    body = file_of([{"sha256": NAMES[0], "bytes": len(PICTURES[0])}], PICTURES[0])
    assert taken(photos, body, "../x")[0] == ["bad_photo"]
