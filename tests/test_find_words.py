"""What a record can be found by, folded: the same whatever the case, spaces, hyphens and accents. All texts are invented."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webform.find_words import LONGEST, exactly, fits, keys_of, loosely, words_of

WORD = st.text(alphabet="abcdefghijklmnopqrstuvwxyz0123456789", min_size=1, max_size=8)


def view(record, **answers):
    """The view of a record in which these values stand, of each field one or, as a list, several."""
    listed = {field: held if isinstance(held, list) else [held] for field, held in answers.items()}
    return {"record": record, "kind": record.partition(":")[0], "fields": {
        field: {"answers": [{"value": value} for value in values]} for field, values in listed.items()}}


def is_found(typed, found, meaning=exactly):
    return fits(keys_of(found), meaning("".join(words_of(typed))))


@pytest.mark.parametrize(("text", "words"), [
    ("AB-12 c", ["ab", "12", "c"]), ("Łódź", ["lodz"]), ("Ærøskøbing", ["aeroskobing"]), ("Straße", ["strasse"]),
    ("Zoë O’Neill", ["zoe", "o", "neill"]), ("ＦＵＬＬ９", ["full9"]), ("İçel", ["icel"]), ("Đorđe", ["dorde"]),
    ("Þór", ["thor"]), ("Ĳssel", ["ijssel"]), ("№ 7", ["no", "7"]), ("Å", ["a"]), ("-–—/. ", []), ("", []),
    ("\x00\ud800\u202e9", ["9"])])
def test_texts_are_folded(text, words):  # worked by hand from the Unicode names of these letters
    assert words_of(text) == words


@given(st.text())
def test_folding_keeps_letters_and_digits_only_and_folding_again_changes_nothing(text):
    words = words_of(text)
    assert all(char.isalnum() for word in words for char in word)
    assert words_of(" ".join(words)) == words


@given(st.lists(WORD, min_size=1, max_size=4),
       st.lists(st.sampled_from([" ", "-", "", ".", " - ", "\u00a0", "‐"]), min_size=4),
       st.sampled_from(["", "\u0301", "\u0308", "\u0327"]))
def test_a_serial_is_found_whatever_its_case_spaces_hyphens_and_accents(words, gaps, accent):
    typed = "".join(gap + word.upper() + (accent if word[-1].isalpha() else "")
                    for word, gap in zip(words, gaps, strict=False))
    assert is_found(unicodedata.normalize("NFC", typed), view("filter:f", serial="-".join(words)))


@given(st.text(alphabet="ABC0123456789", min_size=4, max_size=40), st.data())
def test_the_last_four_or_more_of_a_serial_find_it_and_fewer_do_not_unless_they_are_all_of_it(serial, data):
    found = view("filter:f", serial=serial)
    assert is_found(serial[-data.draw(st.integers(4, len(serial))):], found)
    assert not is_found(serial[-3:], found)


@pytest.mark.parametrize(("typed", "does"), [
    ("birch", True), ("Birchw", True), ("haul", True), ("birchwood hauling", True), ("wood haul", False), ("ing", False),
    ("b", False), ("bi", True), ("co", True)])
def test_the_beginning_of_each_word_of_an_owners_name_finds_it(typed, does):
    assert is_found(typed, view("owner:o", name="Birchwood Hauling & Co.", contact="typed, not found")) is does
    assert not is_found("typed", view("owner:o", name="x y", contact="typed, not found"))


@pytest.mark.parametrize(("typed", "does"), [
    ("KX 471", True), ("kx471", True), ("grey tractor kx 471", True), ("grey tractor", True), ("471", True),
    ("tractor", True), ("47", False), ("racto", False)])
def test_a_truck_is_found_by_each_of_its_words_and_by_any_in_a_row(typed, does):
    for kind in ("job", "fitting"):
        assert is_found(typed, view(kind + ":x", truck="Grey tractor, KX-471")) is does


def test_what_only_begins_so_is_found_loosely():
    found = view("job:j", truck="Grey tractor, KX-471", work_order="WO 8812-B")
    for typed in ("kx-47", "trac", "wo 88", "greytr"):
        assert not is_found(typed, found) and is_found(typed, found, loosely)
    assert not is_found("x4", found, loosely) and not is_found("8", found, loosely)


def test_a_part_number_is_found_with_each_of_its_cross_references():
    found = view("model:m", number="TK-290 / B", cross="88 1204, 7-551-300; Q9\nZZ 4", depth="not a text to find")
    for typed in ("tk290b", "TK 290", "881204", "7 551 300", "q9", "zz4"):
        assert is_found(typed, found)
    assert not is_found("12047551300", found) and not is_found("not", found)


def test_both_of_two_answers_find_a_record_and_what_is_no_text_finds_nothing():
    found = view("job:j", truck=["KX 1", "KX 2", None], work_order=[{"n": "1"}, "  - "])
    assert is_found("kx1", found) and is_found("kx2", found) and keys_of(found, "work_order") == set()
    assert keys_of(view("round:r", truck="KX 1")) == set()


def test_an_endless_text_has_keys_of_bounded_length_and_is_still_found():
    text = "ﷺ" * 300  # one sign that NFKD makes eighteen of
    found = view("owner:o", name=text)
    assert max(map(len, keys_of(found))) == LONGEST + 1 and is_found(text, found)
    assert is_found("9" * 500, view("filter:f", serial="9" * 400))
