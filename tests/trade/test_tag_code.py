"""Tag codes against an independent implementation of the standard, and hostile texts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_97_10

from webform.trade.tag_code import ALPHABET, check_digits, complete, is_strong, read

BODIES = st.text(alphabet=ALPHABET, min_size=7, max_size=7)


def test_the_standard_s_own_example():
    # ISO/IEC 7064 prints 794 with the check characters 44 (cited from memory; python-stdnum computes the same).
    assert check_digits("794") == "44"


@given(BODIES)
def test_check_digits_agree_with_an_independent_implementation(body):
    assert check_digits(body) == mod_97_10.calc_check_digits(body)
    assert mod_97_10.is_valid(complete(body))


def test_a_check_worked_by_hand():
    # 7K3M9QX -> 7 20 3 22 9 26 33 -> 72032292633; times 100 mod 97 = 91 -> 98 - 91 = 07.
    assert (7203229263300 % 97, complete("7K3M9QX")) == (91, "7K3M9QX07")


@settings(max_examples=30)
@given(BODIES.filter(is_strong))
def test_every_wrong_character_and_every_swap_is_found_in_a_strong_code(body):
    code = complete(body)
    for place in range(9):
        for wrong in ALPHABET:
            if wrong != code[place]:
                assert read(code[:place] + wrong + code[place + 1:])["kind"] == "broken_check"
    for place in range(8):
        swapped = code[:place] + code[place + 1] + code[place] + code[place + 2:]
        if swapped != code:
            assert read(swapped)["kind"] == "broken_check"


def test_a_body_in_which_a_slip_would_pass_is_not_strong():
    # 4 for V: GY7V400 and GY7VV00 have the same check digits. B1 and 1B are both written 111.
    assert check_digits("GY7V400") == check_digits("GY7VV00")
    assert check_digits("B1CDEFG") == check_digits("1BCDEFG")
    assert not is_strong("GY7V400") and not is_strong("B1CDEFG")


def test_there_are_plenty_of_strong_bodies():
    bodies = [f"7K3M{ALPHABET[a]}{ALPHABET[b]}X" for a in range(32) for b in range(32)]
    assert len([body for body in bodies if is_strong(body)]) > len(bodies) / 5


@given(BODIES)
def test_a_code_is_read_however_a_person_writes_it(body):
    code = complete(body)
    slips = code.replace("1", "l").replace("0", "o").lower()
    for text in (code, code.lower(), code[:4] + " " + code[4:7] + "-" + code[7:], " " + code + "\n", slips,
                 code.replace("1", "I"), "https://shop.example/t/" + code, "HTTP://10.0.0.2:8440/T/" + code):
        assert read(text) == {"ok": True, "kind": "tag", "code": code}


@pytest.mark.parametrize("body", ["", "7K3M9Q", "7K3M9QXX", "7K3M9QU", "7k3m9qx", "7K3M9Q\n"])
def test_a_body_that_is_none_is_refused(body):
    with pytest.raises(ValueError):
        complete(body)


def test_an_enrolment_code_is_told_from_a_tag():
    assert read("ASHBOOK-ENROL:ABCDE-FGH1J-KMNP") == {"ok": True, "kind": "enrol", "code": "ABCDEFGH1JKMNP"}
    assert read("ashbook-enrol:abcdefgh")["kind"] == "enrol"
    assert read("ASHBOOK-ENROL:")["ok"] is False
    assert read("ASHBOOK-ENROL:<script>")["ok"] is False


@pytest.mark.parametrize("text", [
    "", " ", "javascript:alert(1)", "https://evil.example/", "https://evil.example/t/", "ftp://a/t/7K3M9QX07",
    "https://a/t/7K3M9QX07?x=1", "https://a/t/7K3M9QX07#x", "https://a@b/t/7K3M9QX07", "https://a/x/t/7K3M9QX07",
    "https://a/t/../7K3M9QX07", "https:///t/7K3M9QX07", "https://a/t/7K3M%39QX07", "<b>7K3M9QX07</b>",
    "\u202e70XQ9M3K7", "7K3M9QX07\x00", "=1+1", "WIFI:S:x;;", "７K3M9QX07", None, 7, ["7K3M9QX07"],
])
def test_foreign_and_hostile_texts_are_foreign(text):
    found = read(text)
    assert (found["ok"], found["kind"]) == (False, "foreign")


def test_a_code_of_the_wrong_length_says_how_long_it_is():
    found = read("7K3M9QX0")
    assert (found["code"], found["values"]) == ("tag.wrong_length", {"count": 8, "length": 9})


def test_a_very_long_text_is_too_long():
    assert read("A" * 3000)["kind"] == "too_long"


@given(st.text(max_size=400))
def test_no_text_raises(text):
    assert read(text)["kind"] in ("tag", "enrol", "foreign", "broken_check", "too_long")
