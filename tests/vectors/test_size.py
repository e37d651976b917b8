"""The whole core, as a phone loads it, stays small enough to be loaded at once."""

from webform.phone.bundle import bare, phone_files

MOST = 150_000


def test_the_calculation_is_small_enough_to_be_loaded_at_once():
    sizes = {name: len(text.encode()) for name, text in phone_files().items() if name.startswith("webform/trade/")}
    assert len(sizes) > 25 and 50_000 < sum(sizes.values()) < MOST, sum(sizes.values())


def test_what_is_left_out_is_only_what_does_not_run():
    text = '"""Doc."""\n# why\ndef f(x: int, *, y: float = 2.0) -> float:\n    """Doc."""\n    return x * y  # why\n'
    assert bare(text) == "def f(x, *, y=2.0):\n    return x * y\n"
    assert bare('class Empty:\n    """Doc."""\n') == "class Empty:\n    pass\n"
