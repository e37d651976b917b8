"""Sentences: every code has one, placeholders are filled, typed text cannot reach into the catalogue."""

import re
from pathlib import Path

import pytest

from tests.trade.readings import after, before, flow, good, lit, rod
from webform.trade import rules, words
from webform.trade.judge import judge
from webform.words import FALLBACK, catalogue, languages

CATALOGUE = catalogue()
SOURCES = Path(words.__file__).parent.glob("*.py")


def codes_in_the_source():
    """Every reason code that stands in the calculation's source."""
    found = set()
    for path in SOURCES:
        text = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'reason\(\s*"([a-z_]+)"', text))
        found |= {code for pair in re.findall(r'code = "([a-z_]+)" if .*? else "([a-z_]+)"', text) for code in pair}
        found |= set(re.findall(r'else reason\("([a-z_]+)"', text))
        for table in re.findall(r"_CODES = \{([^}]*)\}", text):
            found |= set(re.findall(r': "([a-z_]+)"', table))
    return found


CODES = sorted(codes_in_the_source())


def test_the_source_has_the_codes_that_we_know():
    assert {"hard_average", "flow_close_below", "bench_not_checked", "removed_after_oven", "lit_range"} <= set(CODES)


@pytest.mark.parametrize("code", CODES)
def test_every_reason_has_a_sentence(code):
    assert CATALOGUE["reason." + code]


def test_every_sentence_has_a_reason():
    sentences = {key[len("reason."):] for key in CATALOGUE if key.startswith("reason.") and key.count(".") == 1}
    assert sentences <= set(CODES)


@pytest.mark.parametrize("code", ["ok_to_reinstall", "clean", "clean_again", "replace", "hold"])
def test_every_verdict_has_a_word(code):
    assert CATALOGUE["verdict." + code]


@pytest.mark.parametrize("origin", ["common_practice", "start", "shop", "flow_spec", "own_numbers"])
def test_every_origin_has_words(origin):
    assert CATALOGUE["origin." + origin]


def test_sentences_stand_beside_their_reasons():
    verdict = judge(before(good(flow=flow(2.75), rod=rod((24, "soft", 170)))))
    texts = words.sentences(verdict, CATALOGUE)
    assert texts["reasons"] == [
        "Soft cells: 24 of 24. That is soot, which can be cleaned out.",
        "Restriction 2.75 inH2O is 0.75 inH2O above the window's upper end of 2.00 inH2O (invented sheet, A)."]
    assert texts["findings"][0] == "Average blockage is 41 % over 24 cells (likely 41 % to 41 %)."


def test_the_shop_s_unit_and_decimal_mark_are_used():
    shop = {**CATALOGUE, "number.unit_pa": "mbar", "number.decimal_mark": ","}
    assert words.sentence(shop, "reason.bench_out", {"drop_pa": 443.4}) == (
        "The flow plate reads wrong today, so the restriction of 4,43 mbar does not count.")
    kilograms = {**CATALOGUE, "number.unit_g": "kg"}
    assert words.sentence(kilograms, "reason.weight_not_final", {"mass_g": 14480.0}).startswith("14.48 kg ")


def test_a_share_near_its_limit_shows_enough_decimals_to_differ():
    # 24 cells blocked by 0.3336: above one third by 0.03 points.
    verdict = judge(before(good(rod=rod((24, "hard", 290 * (1 - 0.3336))))))
    assert words.sentences(verdict, CATALOGUE)["reasons"][0].startswith(
        "Average hard blockage is 33.36 % of the depth over 24 cells, 0.03 points above the limit of 33.33 %")


def test_a_unit_that_is_not_known_falls_back_to_si():
    odd = {**CATALOGUE, "number.unit_pa": "furlong"}
    assert "443 Pa" in words.sentence(odd, "reason.bench_out", {"drop_pa": 443.4})


def test_an_unknown_key_is_shown_as_it_is():
    assert words.sentence({}, "reason.new", {"a": 1}) == "reason.new"


def test_what_a_person_typed_is_not_read_as_a_template():
    released = {"person": "{why}", "reason": "<b>{person}</b> {"}
    verdict = judge(after(good(), spec=None, released=released))
    assert verdict["verdict"] == "ok_to_reinstall"
    assert "No flow limit on file. Released by {why}: <b>{person}</b> {." in words.sentences(
        verdict, CATALOGUE)["findings"]


@pytest.mark.parametrize(("template", "text"), [
    ("{a} and {b}", "1 and {b}"), ("{a", "{a"), ("a}", "a}"), ("{}{a}", "{}1"), ("{ a }", "{ a }"), ("", "")])
def test_broken_templates_do_not_raise(template, text):
    assert words.sentence({"key": template}, "key", {"a": 1}) == text


@pytest.mark.parametrize(("values", "text"), [
    ({"x": 2}, "2"), ({"x": 0.5}, "0.5"), ({"x": None}, "None"), ({"x": "typed"}, "typed")])
def test_values_of_every_kind_are_written(values, text):
    assert words.sentence({"key": "{x}"}, "key", values) == text


def test_a_language_falls_back_to_english():
    assert FALLBACK in languages()
    assert catalogue("xx") == catalogue()


def test_the_rule_table_can_be_read_aloud():
    lines = rules.read_aloud(rules.START)
    assert len(lines) == len({line.split(":")[0] for line in lines}) == len(rules.rows_of(rules.START))
    assert "R3: More lit cells than this: replace. Limit: 20. (common practice, no source)" in lines


@pytest.mark.parametrize("table", [None, {}, {"revision": "x"}, {"rows": None}])
def test_a_case_without_a_table_is_judged_by_the_starting_values(table):
    assert judge(after(good(light=lit(21)), rules=table))["verdict"] == "replace"


def test_a_shop_s_own_row_counts_and_the_others_keep_their_start():
    row = {"id": "R3", "name": "lit_cells", "value": 10, "origin": "shop", "words": "More lit cells: replace."}
    own = {"revision": "ours-7", "rows": [row]}
    verdict = judge(after(good(light=lit(11)), rules=own))
    assert (verdict["verdict"], verdict["rules"], verdict["reasons"][0]["origin"]) == ("replace", "ours-7", "shop")
    assert judge(after(good(light=lit(21)), rules={"revision": "ours-8", "rows": []}))["verdict"] == "replace"
    # With a limit of 10, the quick answer "6 to 20" does not say enough.
    unsure = judge(after(good(light={"kind": "cells", "lit": "6_20", "count": None}), rules=own))
    assert [reason["code"] for reason in unsure["missing"]] == ["light_not_counted"]


@pytest.mark.parametrize("wrong", [None, "ten", -1, True, float("nan")])
def test_a_shop_s_row_without_a_usable_limit_keeps_the_start(wrong):
    own = {"revision": "bad", "rows": [{"id": "R3", "name": "lit_cells", "value": wrong}, "no row", {"name": "new"}]}
    assert judge(after(good(light=lit(20)), rules=own))["verdict"] == "ok_to_reinstall"
    assert judge(after(good(light=lit(21)), rules=own))["verdict"] == "replace"


def test_before_and_after_and_each_kind_of_unit_have_rows_of_their_own_and_each_reason_names_its_stage_s_row():
    by_name = {row["name"]: row["words"] for row in rules.rows_of(rules.START)}
    for name in ("soft", "above_before", "wet_before"):
        assert by_name[name].startswith("Before cleaning")
    for name in ("dry_and_cold", "above_after", "left_after"):
        assert by_name[name].startswith("After cleaning")
    assert by_name["flow_through"].startswith("A flow-through brick") and by_name["one_box"].startswith("A one-box")
    dirty = good(flow=flow(2.75), rod=rod((24, "soft", 170)))
    assert [reason["rule"] for reason in judge(before(dirty))["reasons"]] == ["R10", "R31"]
    assert [reason["rule"] for reason in judge(after(dirty))["reasons"]] == ["R33", "R32"]


def test_a_shop_s_row_is_read_aloud_with_the_start_beside_it_and_the_other_rows_too():
    own = {"revision": "ours", "rows": [{"id": "R15", "name": "worth_g", "value": 10.0, "origin": "shop", "words": ""}]}
    lines = rules.read_aloud(own)
    assert len(lines) == len(rules.rows_of(rules.START))
    assert ("R15: Another round is worth it when the last one took off more than this many grams. Limit: 10. "
            "(set by this shop; starting value 20)") in lines


def test_each_origin_is_told_as_what_it_is():
    def origin(readings, code, **other):
        verdict = judge(after(readings, **other))
        return next(entry["origin"] for entry in verdict["reasons"] + verdict["findings"] if entry["code"] == code)
    assert origin(good(), "flow_within") == "flow_spec"
    own = {"low_pa": 390.0, "high_pa": 490.0, "u_pa": 0.0, "origin": "own_numbers", "revision": "7"}
    assert origin(good(), "flow_within", spec=own) == "own_numbers"
    three = rod((3, "hard", 200), (21, "free", None))
    black = {"outlet": "black", "brick": "sound", "can": "sound", "wet": "dry"}
    assert origin(good(rod=three, visual=black), "melted_inside") == "start"
    row = {"id": "R8", "name": "melt_depth", "value": 0.2, "origin": "shop", "words": ""}
    table = {"revision": "ours", "rows": [row]}
    assert origin(good(rod=three, visual=black), "melted_inside", rules=table) == "shop"
