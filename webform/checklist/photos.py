"""Photos as answers: a list of {"sha256", "bytes", "taken_at"}; the pictures themselves travel apart (sync/photos.py).

"sha256" is the hash of the bytes that the phone has, "bytes" how many, "taken_at" the phone's clock, for people to read.
Portable Python.
"""

MOST = 12
LARGEST_BYTES = 10485760  # what the server takes of one photo: sync/photos.py, compared by a test
KEYS = ("bytes", "sha256", "taken_at")
HEX = "0123456789abcdef"
CLOCK = "0123456789-:.TZ+"


def problem_of(value):
    """(code, figures) of what is wrong with a list of photos, or None."""
    if not isinstance(value, list) or len(value) == 0:
        return "answer.no_photos", {}
    if len(value) > MOST:
        return "answer.too_many_photos", {"most": MOST}
    seen = []
    for photo in value:
        if not isinstance(photo, dict) or len(photo) != len(KEYS) or not _is_sound(photo):
            return "answer.no_photos", {}
        if photo["sha256"] in seen:
            return "answer.photo_twice", {}
        seen.append(photo["sha256"])
    return None


def named_in(step, values):
    """The photos that one answer of a step names, in their order; none where it was skipped or taken out."""
    found = []
    for field in step.fields:
        if field.kind == "photos" and isinstance(values, dict):
            found.extend(values.get(field.name) or [])
    return found


def _is_sound(photo):
    size = photo.get("bytes")
    return (_is_made_of(photo.get("sha256"), HEX, 64, 64) and _is_made_of(photo.get("taken_at"), CLOCK, 10, 32)
            and type(size) is int and 0 < size <= LARGEST_BYTES)


def _is_made_of(text, characters, shortest, longest):
    return isinstance(text, str) and shortest <= len(text) <= longest and text.strip(characters) == ""
