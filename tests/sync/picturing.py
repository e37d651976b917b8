"""Pictures and pieces of photos for tests; all made here."""

import hashlib
import io
import random

import pytest
from PIL import Image

from sync.photos import error
from sync.pictures import PhotoRefused


def jpeg(width=320, height=240, seed=1, **more):
    """A picture of noise: it does not compress, so its bytes are many."""
    noise = random.Random(seed).randbytes(width * height * 3)
    out = io.BytesIO()
    Image.frombytes("RGB", (width, height), noise).save(out, "JPEG", quality=80, **more)
    return out.getvalue()


def name_of(photo):
    return hashlib.sha256(photo).hexdigest()


def piece(photo, start, end):
    return f"bytes {start}-{end - 1}/{len(photo)}", photo[start:end]


def put(store, photo, name=None, device="phone-a", step=65_536):
    """Sends a whole photo; the last answer."""
    name = name or name_of(photo)
    for start in range(0, len(photo), step):
        answer = store.take(device, name, *piece(photo, start, min(len(photo), start + step)))
    return answer


def code_of(call):
    with pytest.raises(PhotoRefused) as caught:
        call()
    shape = error(caught.value)["error"]
    assert set(shape) == {"code", "text", "details"} and shape["text"].endswith(".")
    return caught.value.status, shape["code"]
