"""Hypothesis strategies for answers that the checklist accepts: made from the declaration, so that no field is forgotten."""

from decimal import Decimal

from hypothesis import strategies as st

from tests.trade.test_any_unit import typed
from webform.checklist.check import ALONE, problems
from webform.checklist.declaration import SKIP_REASONS
from webform.trade import units


def numbers(field):
    """A number within the field's bounds, in one of its units, with few digits or many."""
    def text(x):
        return format(Decimal(repr(x)).quantize(Decimal("0.0001")), "f").rstrip("0").rstrip(".") or "0"

    def in_unit(unit):
        low, high = (units.from_si(end, unit) for end in (field.low_si, field.high_si))
        if field.is_whole_number:
            return st.integers(int(low), min(int(high), int(low) + 60)).map(lambda whole: {"n": str(whole), "u": unit})
        return st.one_of(st.sampled_from([low, high]), st.floats(low, high)).map(
            lambda x: {"n": text(x), "u": unit})
    return st.sampled_from(field.units).flatmap(in_unit)


def values_of(field, targets):
    """A strategy for one field; targets: {kind of record: ids that a ref may lead to}."""
    if field.kind == "number":
        return numbers(field)
    if field.kind == "choice":
        return st.sampled_from(sorted(field.codes))
    if field.kind == "choices":
        return st.lists(st.sampled_from(sorted(field.codes)), unique=True).map(sorted)
    if field.kind == "ref":
        return st.sampled_from(targets.get(field.to, [field.to + ":away"]))
    if field.kind == "cells":
        return st.lists(cells(field), min_size=1, max_size=40)
    if field.kind == "text":
        return st.text("ab <&é", max_size=min(6, field.longest))
    return st.just([])


def cells(field):
    """One rodded cell."""
    depth = numbers(field)
    return st.fixed_dictionaries({"feel": st.sampled_from(sorted(field.codes))},
                                 optional={"zone": st.integers(1, 12), "depth": depth, "short": depth})


def answers(step, targets):
    """A strategy for what the checklist accepts as an answer of a whole step, skipped ones included."""
    whole = st.fixed_dictionaries({field.name: values_of(field, targets) for field in step.fields if field.required},
                                  optional={field.name: values_of(field, targets) for field in step.fields
                                            if not field.required}).filter(lambda values: not problems(step, values, ALONE))
    if not step.skippable:
        return whole
    skip = st.sampled_from([code for code, _ in SKIP_REASONS]).map(lambda code: {"skipped": code, "note": "because"})
    return st.one_of(whole, whole, whole, skip)


def in_units(values, unit_of):
    """The same answer with every number of a kind typed in another unit; unit_of: {a unit of that kind: the new unit}."""
    if isinstance(values, dict) and set(values) == {"n", "u"}:
        wanted = unit_of.get(values["u"])
        if wanted == "°F":
            return {"n": str(Decimal(values["n"]) * Decimal("1.8") + 32), "u": wanted}
        return typed(Decimal(repr(units.to_si(values["n"], values["u"])["value"])), wanted) if wanted else values
    if isinstance(values, dict):
        return {name: in_units(value, unit_of) for name, value in values.items()}
    return [in_units(value, unit_of) for value in values] if isinstance(values, list) else values
