"""Finding things in the declaration: steps, fields, policies, references. Portable Python."""

from . import declaration

_index = {}


def steps():
    """All steps, in the order in which they are declared."""
    return declaration.STEPS


def step_named(name):
    """The step of that name, or None."""
    for step in declaration.STEPS:
        if step.name == name:
            return step
    return None


def slots(step):
    """The stored field names of a step: ["before.flow", "after.flow"], ["treatment"], or one for each field."""
    if step.slot is None:
        return [field.name for field in step.fields]
    if step.is_staged:
        return [stage + "." + step.slot for stage in declaration.STAGES]
    return [step.slot]


def step_of(kind, stored):
    """The step that a stored field of a record kind belongs to, or None where no step declares it.

    >>> step_of("job", "after.flow").name
    'flow'
    >>> step_of("filter", "serial").name
    'filter'
    """
    if _index.get("steps") is not declaration.STEPS:
        _make_index()
    return _index["stored"].get((kind, stored))


def field_of(step, name):
    """The field of that name in the step, or None."""
    for field in step.fields:
        if field.name == name:
            return field
    return None


def _make_index():
    """Finds the step of every stored field once; a push asks for each of its answers."""
    stored = {}
    for step in declaration.STEPS:
        for name in slots(step):
            stored.setdefault((step.record, name), step)
    _index["stored"] = stored
    _index["steps"] = declaration.STEPS


def policy_of(kind, stored):
    """What is used while two answers stand in a stored field: "worse", "identity" or "later"."""
    step = step_of(kind, stored)
    if step is None:
        return "later"
    if step.slot is not None:
        return step.policy
    return field_of(step, stored).policy


def ref_fields(kind):
    """Stored fields of a record kind that hold the id of another record."""
    found = []
    for step in declaration.STEPS:
        if step.record == kind and step.slot is None:
            found.extend([field.name for field in step.fields if field.kind == "ref"])
    return found


def kinds():
    """Every kind of record that the declaration names."""
    found = []
    for step in declaration.STEPS:
        if step.record not in found:
            found.append(step.record)
    return found


def feeds_verdict(kind, stored):
    """Whether an answer in this stored field can change a verdict."""
    step = step_of(kind, stored)
    return step is not None and step.feeds == "verdict"


def quantity_of(field):
    """The quantity of the step "units" whose pick a field follows, "pressure" or "mass" ...; None where it follows none.

    A field follows when it offers just the units that the shop may pick from: a barometer, in other units, does not.
    """
    if not field.units:
        return None
    for picked in step_named("units").fields:
        if len(picked.codes) == len(field.units) and all(unit in picked.codes for unit in field.units):
            return picked.name
    return None


def as_json():
    """The declaration as plain dicts and lists, for the phone's screens and for pages."""
    return {
        "schema": declaration.SCHEMA,
        "stages": list(declaration.STAGES),
        "readings": list(declaration.READINGS),
        "personal": list(declaration.PERSONAL),
        "skip_reasons": [{"code": code, "label": label} for code, label in declaration.SKIP_REASONS],
        "cautions": [{"code": c.code, "text": c.text, "source": c.source} for c in declaration.CAUTIONS],
        "steps": [_step_json(step) for step in declaration.STEPS],
    }


def _step_json(step):
    return {
        "name": step.name, "record": step.record, "slot": step.slot, "is_staged": step.is_staged, "title": step.title,
        "policy": step.policy, "feeds": step.feeds, "skippable": step.skippable, "cautions": list(step.cautions),
        "help": step.help, "place": step.place, "fields": [_field_json(field) for field in step.fields],
    }


def _field_json(field):
    shown_when = None
    if field.shown_when is not None:
        shown_when = {"field": field.shown_when[0], "codes": list(field.shown_when[1])}
    return {
        "name": field.name, "label": field.label, "kind": field.kind, "units": list(field.units), "low": field.low,
        "high": field.high, "bound_unit": field.bound_unit, "is_whole_number": field.is_whole_number,
        "choices": [{"code": c.code, "label": c.label} for c in field.choices], "to": field.to,
        "required": field.required, "help": field.help, "policy": field.policy, "shown_when": shown_when,
        "longest": field.longest, "quantity": quantity_of(field), "is_former": field.is_former,
    }
