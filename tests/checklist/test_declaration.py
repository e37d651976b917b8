"""The declaration agrees with itself, and what follows from it finds every field."""

from webform.checklist import declaration, lookup, show


def test_names_are_unique_and_every_caution_is_known():
    names = [step.name for step in lookup.steps()]
    assert len(names) == len(set(names))
    known = {caution.code for caution in declaration.CAUTIONS}
    for step in lookup.steps():
        assert set(step.cautions) <= known
        fields = [field.name for field in step.fields]
        assert len(fields) == len(set(fields))


def test_every_stored_field_leads_back_to_its_step():
    seen = {}
    for step in lookup.steps():
        for stored in lookup.slots(step):
            assert lookup.step_of(step.record, stored) is step
            assert seen.setdefault((step.record, stored), step.name) == step.name
            assert lookup.policy_of(step.record, stored) in ("worse", "identity", "later")


def test_steps_that_can_hurt_someone_carry_their_cautions():
    for name in ("visual", "weight", "treatment"):
        assert "heat" in lookup.step_named(name).cautions
    assert "lifting" in lookup.step_named("weight").cautions
    assert {"ash_dust", "oven", "fibre", "waste"} <= set(lookup.step_named("treatment").cautions)
    assert "law" in lookup.step_named("signoff").cautions


def test_a_whole_reading_is_one_field_of_its_record():
    assert lookup.slots(lookup.step_named("flow")) == ["before.flow", "after.flow"]
    assert lookup.slots(lookup.step_named("treatment")) == ["treatment"]
    assert lookup.slots(lookup.step_named("tag")) == ["filter"]


def test_a_field_shown_only_sometimes_names_an_earlier_field_and_its_codes():
    for step in lookup.steps():
        for place, field in enumerate(step.fields):
            if field.shown_when is not None:
                name, codes = field.shown_when
                earlier = [other for other in step.fields[:place] if other.name == name]
                assert earlier and set(codes) <= {option.code for option in earlier[0].choices} | {None}  # None: left empty


def test_lines_show_what_was_typed_with_its_label():
    step = lookup.step_named("flow")
    values = {"bench": "good", "drop": {"n": "1.780", "u": "inH2O"}}
    assert show.lines(step, values) == [
        {"field": "bench", "label": "Flow plate today", "text": "Reads right"},
        {"field": "drop", "label": "Restriction", "text": "1.780 inH2O"}]
    assert show.lines(step, values, {"field.flow.drop": "Druckverlust"})[1]["label"] == "Druckverlust"


def test_rod_cells_are_counted_by_feel_and_depth():
    cells = [{"feel": "hard", "depth": {"n": "130", "u": "mm"}}] * 2 + [{"feel": "free"}] * 3
    cells += [{"feel": "soft", "short": {"n": "40", "u": "mm"}}, {"feel": "soft", "depth": {"n": "9", "u": "in"}}]
    line = show.lines(lookup.step_named("rod"), {"cells": cells})[0]
    assert line["text"] == "7 cells: 3 Free, 2 Soft (1× short by 40 mm, 1× 9 in), 2 Hard (130 mm)"


def test_a_skipped_step_shows_its_reason():
    assert show.lines(lookup.step_named("rod"), {"skipped": "other", "note": "no rod"}) == [
        {"field": "skipped", "label": "Skipped", "text": "Another reason: no rod"}]


def test_the_declaration_as_json_names_every_field_once():
    made = lookup.as_json()
    assert [step["name"] for step in made["steps"]] == [step.name for step in lookup.steps()]
    assert sum(len(step["fields"]) for step in made["steps"]) == sum(len(step.fields) for step in lookup.steps())
