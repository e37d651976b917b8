"""What a change may look like, and each thing that it may not."""

import hashlib
import json

import pytest

from sync import change

from .making import AT, made

GOOD = {"id": "a.r.1", "kind": "job", "record": "job:one", "set": {"flow": {"n": "2.75", "u": "inH2O"}},
        "replaces": {"flow": ["b.r.7"]}, "lamport": 3, "at": AT, "by": "person:kim", "schema": 1}


def text_with(**more):
    """The good change with some keys set otherwise."""
    return json.dumps({**GOOD, **more})


def nested(levels):
    """A list in a list in a list."""
    value = "x"
    for _ in range(levels):
        value = [value]
    return value


def test_a_good_change_comes_back_as_it_was_sent():
    assert change.parse(json.dumps(GOOD)) == GOOD
    with_basis = {**GOOD, "basis": {"limit_pa": 477.5, "seen": ["a.r.1"]}}
    assert change.parse(json.dumps(with_basis)) == with_basis


def test_the_hash_is_the_start_of_sha_256_over_the_utf_8_bytes():
    # The digest of "abc" is the example in FIPS 180-2, appendix B.1.
    assert change.content_hash("abc") == "ba7816bf8f01cfea414140de5dae2223"
    assert change.content_hash("é") == hashlib.sha256(b"\xc3\xa9").hexdigest()[:32]
    assert change.is_hash(change.content_hash("é")) and not change.is_hash("BA7816BF") and not change.is_hash("")


@pytest.mark.parametrize(("text", "code"), [
    ("", "not_json"), ("{", "not_json"), ("[]", "not_an_object"), ("null", "not_an_object"),
    ("[" * 100_000, "too_large"), ("[" * 60_000, "too_deep"), ("x" * 70_000, "too_large"), ("é" * 40_000, "too_large"),
    (text_with(set={"flow": float("nan")}), "not_finite"),
    (text_with(set={"flow": float("inf")}), "not_finite"),
    (text_with().replace('"2.75"', "1e999"), "not_finite"),
    (text_with(basis={"x": 1}).replace('{"x": 1}', '{"x": 1e999}'), "not_finite"),
    (text_with().replace('"2.75"', "2.75"), "fraction"),
    (text_with().replace('"2.75"', "1.0"), "fraction"),
    (text_with(set={"flow": 2**53}), "integer_too_large"), (text_with(set={"flow": 2**53 + 1}), "integer_too_large"),
    (text_with(set={"flow": -(2**53) - 1}), "integer_too_large"),
    (text_with(set={"flow": 10**400}), "integer_too_large"),
    ('{"id": "a.r.1", "id": "a.r.2"}', "duplicate_key"),
    (text_with().replace('"n": "2.75"', '"n": "2.75", "n": "9"'), "duplicate_key"),
    (text_with(note="\x00"), "bad_character"), (text_with(set={"flow": "\ud800"}), "bad_character"),
    (text_with(set={"flow": {"\udfff": "x"}}), "bad_character"),
    (text_with(surprise=1), "unknown_key"),
    (json.dumps({key: value for key, value in GOOD.items() if key != "lamport"}), "missing_key"),
    (text_with(schema=0), "bad_schema"), (text_with(schema=True), "bad_schema"), (text_with(schema="1"), "bad_schema"),
    (text_with(schema=2, whatever=[]), "newer_schema"),
    (text_with(id="a.r"), "bad_id"), (text_with(id="a.r.01"), "bad_id"), (text_with(id="a b.r.1"), "bad_id"),
    (text_with(id=None), "bad_id"), (text_with(id="a.r.1\n"), "bad_id"),
    (text_with(kind="Job"), "bad_kind"), (text_with(record="job:"), "bad_record"),
    (text_with(record="filter:one"), "bad_kind"), (text_with(record="job:../x"), "bad_record"),
    (text_with(set={}), "bad_set"), (text_with(set=[]), "bad_set"),
    (text_with(set={f"f{n}": "x" for n in range(201)}), "bad_set"), (text_with(set={"Flow": 1}), "bad_field"),
    (text_with(set={"flow": nested(9)}), "too_deep"), (text_with(basis=nested(3)), "bad_basis"),
    (text_with(basis={"a": {"b": nested(9)}}), "too_deep"),
    (text_with(set={"flow": {"a": {"b": nested(9)}}}), "too_deep"),
    (text_with(replaces=None), "bad_replaces"), (text_with(replaces={"weight": []}), "bad_replaces"),
    (text_with(replaces={"flow": "b.r.7"}), "bad_replaces"), (text_with(replaces={"flow": [7]}), "bad_replaces"),
    (text_with(replaces={"flow": ["a.r.1"]}), "bad_replaces"),
    (text_with(replaces={"flow": [f"b.r.{n}" for n in range(501)]}), "bad_replaces"),
    (text_with(lamport=-1), "bad_lamport"), (text_with(lamport=1.0), "bad_lamport"),
    (text_with(lamport="1"), "bad_lamport"), (text_with(lamport=True), "bad_lamport"),
    (text_with(at="2026-11-25T17:40:00"), "bad_at"), (text_with(at="yesterday"), "bad_at"), (text_with(at=1), "bad_at"),
    # as rfc3339-validator 0.1.4 says of these days and times, and RFC 3339, 5.7 of hours, minutes and offsets
    (text_with(at="2026-02-30T10:00:00Z"), "bad_at"), (text_with(at="2026-02-28T10:00:00"), "bad_at"),
    (text_with(at="2026-13-01T10:00:00Z"), "bad_at"), (text_with(at="2025-02-29T10:00:00Z"), "bad_at"),
    (text_with(at="2026-02-28T24:00:00Z"), "bad_at"), (text_with(at="2026-02-28T10:60:00Z"), "bad_at"),
    (text_with(at="2026-02-28T10:00:00+24:00"), "bad_at"), (text_with(at="0000-01-01T00:00:00Z"), "bad_at"),
    (text_with(by=""), "bad_by"), (text_with(by="x" * 101), "bad_by"), (text_with(by=None), "bad_by"),
])
def test_each_wrong_change_is_refused_with_its_code(text, code):
    with pytest.raises(change.Refused) as refusal:
        change.parse(text, newest_schema=1)
    assert refusal.value.code == code


@pytest.mark.parametrize("value", [
    2**53 - 1, -(2**53) + 1, nested(8), True, None, "😀 – é", "\\u0000 in letters", [{"zone": 1, "feel": "hard"}],
    {"n": "9e99"},
])
def test_exact_values_within_the_limits_are_taken_as_they_are(value):
    assert change.parse(text_with(set={"flow": value}))["set"]["flow"] == value


def test_an_id_can_be_named_even_when_its_change_is_refused():
    assert change.identity_in(text_with(surprise=1)) == "a.r.1"
    for text in ("", "[]", "7", text_with(id=["x"]), text_with(id="no"), "[" * 60_000):
        assert change.identity_in(text) == ""


def test_a_change_that_is_made_here_is_checked_like_one_that_arrives():
    assert change.parse(change.to_text(made("a.1", "job:one", {"flow": "x"}))) == made("a.1", "job:one", {"flow": "x"})
    for wrong, code in ((1.5, "fraction"), (2**60, "integer_too_large"), ({1, 2}, "not_json")):
        with pytest.raises(change.Refused) as refusal:
            made("a.1", "job:one", {"flow": wrong})
        assert refusal.value.code == code
    with pytest.raises(change.Refused, match="bad_schema"):
        made("a.1", "job:one", {"flow": "x"}, schema=0)
    with pytest.raises(change.Refused, match="not_finite"):
        made("a.1", "job:one", {"flow": "x"}, basis={"limit": float("nan")})


def test_a_lamport_at_the_end_of_the_numbers_stays_there():
    assert made("a.1", "job:one", {"flow": "x"}, lamport=2**60)["lamport"] == 2**53 - 1


def test_two_starts_of_one_device_never_give_the_same_id():
    pens = [change.Pen("van"), change.Pen("van")]
    given = [pen.next_id() for pen in pens for _ in range(3)]
    assert len(set(given)) == 6 and given[0].startswith("van.") and given[0].endswith(".1")


def test_names_of_new_records_sort_as_their_times_do_and_never_meet():
    names = [change.new_name(1_764_000_000_000 + 8 * step) for step in range(1000)]
    assert names == sorted(names) and len({name[:8] for name in names}) == len(names)
    assert len({change.new_name(8) for _ in range(1000)}) == 1000  # two alike in one run of two million
    assert change.new_name(0).startswith("0" * 8) and all(len(name) == 16 for name in names)
    change.check(made("a.1", "job:" + change.new_name(), {"flow": "x"}))


@pytest.mark.parametrize("at", [
    "1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00",  # RFC 3339, 5.8: a leap second
    "1937-01-01T12:00:27.87+00:20", "1996-12-19T16:39:57-08:00",  # the same
    "2026-02-28T10:00:00+05:30", "2024-02-29T00:00:00Z", "9999-12-31T23:59:59.999999999Z"])
def test_times_of_the_standard_are_taken_as_they_are(at):
    assert change.parse(text_with(at=at))["at"] == at
