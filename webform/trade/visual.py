"""The outside of the filter: outlet face, brick, can, and what it is wet with."""

from .notes import Notes
from .rules import Table


def note(reading: dict[str, object], stage: str, unit_kind: str, table: Table, notes: Notes) -> str | None:
    """Adds what was seen; the outlet as it was read ("clean", "grey", "black"), or None where it says nothing of a leak."""
    outlet, brick = reading.get("outlet"), reading.get("brick")
    if outlet not in ("clean", "grey", "black") or brick is None:
        notes.missing.append(table.reason("visual_incomplete", "all_tests", {"test": "visual"}))
    if brick in ("cracked", "melted", "loose"):
        notes.replace.append(table.reason("brick_damaged", "damage", {"brick": brick}))
    elif brick == "chipped":
        notes.findings.append(table.reason("brick_chipped", "damage", {}))
    _note_can(reading.get("can"), table, notes)
    _note_wet(reading.get("wet"), stage, table, notes)
    if unit_kind == "flow_through" and outlet == "black":
        # Exhaust goes through such a brick and not through its walls: soot behind it is no leak.
        notes.dirty.append(table.reason("soot_inside", "flow_through", {}))
        return None
    if outlet == "black":
        rule = "left_after" if stage == "after" else "sooty_outlet"
        notes.dirty.append(table.reason("sooty_outlet", rule, {}))
        return "black"
    if outlet == "grey":
        notes.findings.append(table.reason("grey_outlet", "sooty_outlet", {}))
        return "grey"
    return "clean" if outlet == "clean" else None


def _note_can(can: object, table: Table, notes: Notes) -> None:
    if can == "cracked":
        notes.hold.append(table.reason("can_cracked", "can", {}))
        notes.to_settle(table.reason("settle_repair_can", "can", {}))
    elif can == "dented":
        notes.findings.append(table.reason("can_dented", "can", {}))


def _note_wet(wet: object, stage: str, table: Table, notes: Notes) -> None:
    if wet not in ("water", "oil", "fuel", "coolant"):
        return
    if stage == "after":
        notes.dry.append(table.reason("wet_after", "dry_and_cold", {"wet": wet}))
        notes.to_settle(table.reason("settle_dry_and_cool", "dry_and_cold", {}))
    elif wet == "water":
        notes.is_wet = True
        notes.hold.append(table.reason("wet_before", "wet_before", {"wet": wet}))
        notes.to_settle(table.reason("settle_dry_and_cool", "wet_before", {}))
    else:
        notes.dirty.append(table.reason("oily_before", "wet_before", {"wet": wet}))
