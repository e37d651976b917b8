"""The quick reading of a change finds what the strict one finds: the same change, or the same word of refusal."""

import json

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sync import change, json_text
from sync.json_text import Refused, quick_json, strict_json, sure_json, written

from .test_change import GOOD

TROUBLE = ['"id"', '"":1', '"flow":', '"n":"9"', " ", "\t", "\n", '" :', '":', "1.0", "1e400", "18446744073709551616", "-0",
           "9007199254740993", "NaN", "null", "true", "\\u0000", "\\ud800", "\\ud83d\\ude00", "\ud800", "é", "[", "]", "{",
           "}", ",", '"', "\\", "\ufeff", "\x7f", "\u2028"]


def read(text):
    """The change, or the code that refuses it."""
    try:
        return change.parse(text)
    except Refused as refusal:
        return refusal.code


def told(found):
    """What was read, with every number's kind to be seen: 1, 1.0 and True are equal."""
    return found if isinstance(found, str) else json.dumps(found)


@pytest.fixture(scope="module")
def strictly():
    """Reads a text strictly from the start."""
    def no_text(_text):
        raise ValueError

    def read_strictly(text):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(json_text, "quick_json", no_text)
            return read(text)

    return read_strictly


@settings(max_examples=1500)
@given(data=st.data(), basis=st.sampled_from([None, {"limit_pa": 477.5}, {"n": 2**60}, {"a": {"a": 1}}]),
       spaced=st.booleans())
def test_whatever_is_done_to_a_text_both_readings_agree(strictly, data, basis, spaced):
    whole = {**GOOD, **({"basis": basis} if basis else {})}
    text = json.dumps(whole) if spaced else written(whole)
    for _ in range(data.draw(st.integers(0, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.sampled_from([start, start, start + 1, start + 4]))
        text = text[:start] + data.draw(st.sampled_from(TROUBLE)) + text[end:]
    assert told(read(text)) == told(strictly(text))


@settings(max_examples=300)
@given(value=st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda deeper: st.lists(deeper, max_size=3) | st.dictionaries(st.text(max_size=3), deeper, max_size=3), max_leaves=12))
@example(value="a quote and a space \" in a text")
@example(value={"a\":": 1})
def test_whatever_an_answer_holds_both_readings_agree(strictly, value):
    text = json.dumps({**GOOD, "set": {"flow": value}}, ensure_ascii=False)
    assert told(read(text)) == told(strictly(text))


def test_equal_keys_hidden_behind_a_colon_in_a_text_are_found():
    once = written({**GOOD, "set": {"flow": 'x":'}})
    twice = once.replace('"lamport":3', '"lamport" :3,"lamport":3')  # one colon less to be seen, one more in the text
    assert read(once) == json.loads(once) and read(twice) == "duplicate_key"


@pytest.mark.parametrize("spoilt", ["", " ", "\\u0000", "\\ud800"])
@pytest.mark.parametrize("depth", [9, 200, 253, 254, 255, 500, 900, 960, 975, 990, 1023, 1024, 5000])
def test_a_text_nested_however_deep_is_refused_with_a_word(depth, spoilt):
    nested = "[" * depth + "]" * depth  # orjson writes 254 deep and reads 1024, json reads what Python's stack holds
    text = written({**GOOD, "by": "kim", "set": {"flow": 1}}).replace('"flow":1', f'"flow":{nested}')
    assert read(text.replace('"kim"', f'"kim{spoilt}"' if spoilt != " " else ' "kim"')) in ("too_deep", "bad_character")


def test_the_quick_reading_is_the_quick_one_and_takes_more():
    assert quick_json('{"a":1,"a":2}') == {"a": 2}
    with pytest.raises(Refused, match="duplicate_key"):
        strict_json('{"a":1,"a":2}')


@pytest.mark.parametrize("levels", [1, 200, 255, 900, 1_100, 100_000])
def test_however_deep_a_text_is_nested_it_is_read_or_refused(levels):
    try:
        assert sure_json(b"[" * levels + b"]" * levels) == strict_json("[" * levels + "]" * levels)
    except Refused as refusal:
        assert refusal.code == "too_deep" and levels > 255
    nested = written({**GOOD, "set": {"flow": "here"}}).replace('"here"', "[" * levels + "]" * levels)
    assert read(nested) == ("too_large" if levels > 50_000 else "too_deep" if levels > 8 else json.loads(nested))
