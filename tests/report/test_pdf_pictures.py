"""What the pictures inside a PDF still tell: nothing of where and with what they were taken, however the photo came in.

The photos are noise made here, with a position, a maker and a comment that no place has and nobody made. They are sent as
a client would that strips nothing: the phone's own app takes all of it out before (tests/browser/test_photos.py).
"""

import base64
import ctypes
import io
import random
import re
import zlib

import pypdfium2
import pytest
from PIL import Image, PngImagePlugin
from pypdfium2 import raw

from sync.photo_client import with_photos
from tests.office.test_access import enrolled, office
from tests.office.test_outbox_file import hand_in
from tests.office.test_photos import VISUAL, put
from tests.report.test_issued import app, change, issue, link, seeded, sign  # noqa: F401 fixtures
from tests.sync.picturing import name_of

GPS, MAKE, MODEL, COMMENT = 0x8825, 0x010F, 0x0110, 0x9286  # tags of EXIF 2.32, from memory
SERIAL, LENS = 0xA431, 0xA434
PLANTED = b"INVENTED"
XMP = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'><exif:GPSLatitude>54,30.0N INVENTED-XMP</exif:GPSLatitude></x:xmpmeta>"


def exif_of(turn):
    """Position, maker, lens, serial number and comment, and how the picture is to be turned."""
    made = Image.Exif()
    made[0x0112] = turn
    made[MAKE], made[MODEL] = "INVENTED-MAKER", "INVENTED-MODEL"
    place = made.get_ifd(GPS)
    place[1], place[2], place[3], place[4] = "N", (54.0, 30.0, 0.0), "E", (10.0, 15.0, 0.0)
    more = made.get_ifd(0x8769)
    more[SERIAL], more[LENS], more[COMMENT] = "INVENTED-SERIAL", "INVENTED-LENS", b"INVENTED-COMMENT"
    return made.tobytes()


def noise(seed):
    return Image.frombytes("RGB", (300, 200), random.Random(seed).randbytes(300 * 200 * 3))


def jpeg(seed, turn=1):
    out = io.BytesIO()
    noise(seed).save(out, "JPEG", quality=80, exif=exif_of(turn), comment=b"INVENTED-REMARK", icc_profile=b"INVENTED-PROFILE",
                     xmp=XMP)
    return out.getvalue() + b"INVENTED-TAIL"


def png():
    out, texts = io.BytesIO(), PngImagePlugin.PngInfo()
    texts.add_text("Location", "INVENTED-TEXT 54.5 N")
    noise(3).save(out, "PNG", exif=exif_of(1), pnginfo=texts)
    return out.getvalue()


def webp():
    out = io.BytesIO()
    noise(4).save(out, "WEBP", exif=exif_of(1), xmp=XMP)
    return out.getvalue()


PHOTOS = [jpeg(1), jpeg(2, turn=6), png(), webp()]


def named():
    return [{"sha256": name_of(one), "bytes": len(one), "taken_at": "2026-11-25T08:00:00.000Z"} for one in PHOTOS]


def pictures_of(pdf):
    """The bytes of each picture as they lie in the PDF, with the filters of the document taken off and its own left."""
    found = []
    for page in pypdfium2.PdfDocument(pdf):
        for held in page.get_objects(filter=[raw.FPDF_PAGEOBJ_IMAGE]):
            size = raw.FPDFImageObj_GetImageDataRaw(held, None, 0)
            room = ctypes.create_string_buffer(size)
            raw.FPDFImageObj_GetImageDataRaw(held, room, size)
            found.append(room.raw)
    return [base64.a85decode(one, adobe=False) if is_ascii(one) else one for one in map(without_end, found)]


def without_end(body):
    """A stream of ASCII85 ends with ~> (PDF 32000-1, 7.4.3, from memory)."""
    return body.strip()[:-2] if body.strip().endswith(b"~>") else body


def is_ascii(body):
    return body[:2] != b"\xff\xd8" and all(byte < 128 for byte in body[:200])


def everything_in(pdf):
    """The PDF and each of its streams unpacked, in whichever order the filters stand."""
    found = [pdf]
    for body in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        for unpack in (zlib.decompress, lambda one: base64.a85decode(without_end(one)),
                       lambda one: zlib.decompress(base64.a85decode(without_end(one)))):
            try:
                found.append(unpack(body))
            except (ValueError, zlib.error):
                continue
    return found


def tells_nothing(body):
    """A JPEG with no segment but those that its pixels need: JFIF's head, tables, frame, scan (ITU-T T.81, from memory)."""
    assert body[:2] == b"\xff\xd8", body[:20]
    place, kinds = 2, []
    while body[place] == 0xFF and body[place + 1] != 0xDA:
        kinds.append(body[place + 1])
        place += 2 + int.from_bytes(body[place + 2:place + 4], "big")
    assert set(kinds) <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4, 0xDD}, [hex(kind) for kind in kinds]
    assert body.rstrip(b"\0\r\n").endswith(b"\xff\xd9") and PLANTED not in body
    with Image.open(io.BytesIO(body)) as shown:
        assert not shown.getexif() and not shown.getexif().get_ifd(GPS)
        assert not {"exif", "xmp", "comment", "icc_profile", "photoshop"} & set(shown.info), shown.info


def test_the_planted_photos_do_tell_where_and_with_what_they_were_taken():
    for one in PHOTOS:
        with Image.open(io.BytesIO(one)) as found:
            assert found.getexif().get_ifd(GPS)[2] == (54.0, 30.0, 0.0) and found.getexif()[MAKE] == "INVENTED-MAKER"
        assert PLANTED in one
    with pytest.raises(AssertionError):
        tells_nothing(PHOTOS[0])


def test_no_picture_in_any_pdf_or_behind_any_link_tells_where_or_with_what_it_was_taken(app):  # noqa: F811
    desk, (phone, device) = office(app), enrolled(app)
    for one in PHOTOS[:2]:
        assert put(phone, one, name_of(one)).json["complete"]
    empty = '{"ashbook_outbox": 1, "device": "%s", "schema": 1, "changes": [], "hashes": []}' % device
    assert hand_in(desk, with_photos(empty, PHOTOS[2:])).text.count('data-outcome="stored"') == 2
    change(app.extensions["shop"], "after.visual", {**VISUAL, "brick": "sound", "photos": named()})
    sign(app.extensions["shop"])
    desk, number = issue(app)
    address, stranger = link(desk, number), app.test_client()
    papers = {"draft": desk.get("/office/jobs/demo1/report.pdf"), "issued": desk.get(f"/office/issued/{number}.pdf"),
              "owner": stranger.get(address + "/pdf")}
    for which, paper in papers.items():
        pictures = pictures_of(paper.data)
        assert len(pictures) == len(PHOTOS), which
        for body in pictures:
            tells_nothing(body)
        for part in everything_in(paper.data):
            assert PLANTED not in part and b"GPSLatitude" not in part and b"Exif\0" not in part, which
    for one in PHOTOS:
        for client, path in ((desk, "/office/photos/%s?size=small"), (desk, "/office/photos/%s?size=large"),
                             (phone, "/sync/photos/%s?size=large"), (stranger, address + "/photos/%s")):
            answer = client.get(path % name_of(one))
            assert answer.status_code == 200, path
            tells_nothing(answer.data)


def test_the_search_finds_a_photo_that_is_put_into_a_pdf_as_it_came(app, monkeypatch):  # noqa: F811
    """So that the test above cannot pass because it looks in the wrong place."""
    photos = app.extensions["shop"].photos
    phone, _device = enrolled(app)
    for one in PHOTOS:
        put(phone, one, name_of(one))
    change(app.extensions["shop"], "after.visual", {**VISUAL, "brick": "sound", "photos": named()[:1]})
    monkeypatch.setattr(photos, "picture", lambda name, size: PHOTOS[0])
    paper = office(app).get("/office/jobs/demo1/report.pdf").data
    [body] = pictures_of(paper)
    assert PLANTED in body
    with pytest.raises(AssertionError):
        tells_nothing(body)
