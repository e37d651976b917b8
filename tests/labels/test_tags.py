"""New codes and their symbols. Capacities: ISO/IEC 18004, Table 7 (read in an equipment manual; segno 1.6.6)."""

import pytest

from webform import tags
from webform.trade.tag_code import is_strong, read

CODE = "7K3M9QX07"


def test_a_new_code_is_whole_and_strong():
    for _ in range(50):
        code = tags.new_code()
        assert read(code) == {"ok": True, "kind": "tag", "code": code}
        assert is_strong(code[:7])


def test_new_codes_differ():
    assert len({tags.new_code() for _ in range(200)}) == 200


def test_a_code_is_read_out_in_three_groups():
    assert tags.grouped("7K3M9QX07") == "7K3 M9QX 07"


def test_the_symbol_of_a_code_has_21_modules_and_level_h():
    symbol = tags.symbol_of(CODE)
    # ISO/IEC 18004: 17 + 4 x version modules a side.
    assert [len(row) for row in symbol] == [21] * 21
    assert level_of(symbol) == "H"


def test_the_symbol_of_an_address_has_29_modules_and_level_q():
    symbol = tags.address_symbol_of(CODE, "https://ashbook.lan")
    assert len(symbol) == 29
    assert level_of(symbol) == "Q"


def level_of(symbol):
    """The level as the symbol itself states it: the first two format bits, row 8, columns 0 and 1, unmasked.

    ISO/IEC 18004, format information: L 01, M 00, Q 11, H 10; the mask is 101010000010010, so its first two bits 10.
    """
    bits = (int(symbol[8][0]) ^ 1, int(symbol[8][1]) ^ 0)
    return {(0, 1): "L", (0, 0): "M", (1, 1): "Q", (1, 0): "H"}[bits]


@pytest.mark.parametrize("version, level, capacity", [(1, "Q", 16), (2, "Q", 29), (3, "H", 35), (4, "Q", 67), (5, "Q", 87)])
def test_a_symbol_holds_as_many_characters_as_the_standard_says(version, level, capacity):
    assert len(tags.symbol("A" * capacity, level, version)) == 17 + 4 * version
    with pytest.raises(tags.Unfit) as refused:
        tags.symbol("A" * (capacity + 1), level, version)
    assert refused.value.code == "label.address_long"


def test_an_address_stands_in_capitals_and_is_read_as_the_tag():
    text = tags.address_text(CODE, " https://ashbook.lan:8443/ ")
    assert text == "HTTPS://ASHBOOK.LAN:8443/T/7K3M9QX07"
    assert read(text)["code"] == CODE


@pytest.mark.parametrize("address", ["", "javascript:alert(1)", "ftp://a", "https://", "https://a/b", "https://a b",
                                     "https://user@host", "https://bücher.test", "HTTP://A%2F", "https://a?b"])
def test_an_address_that_cannot_stand_on_a_label_is_refused(address):
    with pytest.raises(tags.Unfit) as refused:
        tags.address_symbol_of(CODE, address)
    assert (refused.value.code, refused.value.values) == ("label.address_unfit", {"given": address})


def test_an_address_that_is_too_long_is_refused_with_its_length():
    with pytest.raises(tags.Unfit) as refused:
        tags.address_symbol_of(CODE, "https://" + "a" * 120)
    assert refused.value.code == "label.address_long"
    assert refused.value.values == {"count": 8 + 120 + 3 + 9}


@pytest.mark.parametrize("code", ["", "7K3M9QX08", "7k3m9qx07", "ASHBOOK-ENROL:0123456789ABCD"])
def test_only_a_whole_code_becomes_a_symbol(code):
    with pytest.raises(tags.Unfit) as refused:
        tags.symbol_of(code)
    assert refused.value.code == "label.no_tag"
