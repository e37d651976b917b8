"""The shop's rule table as data: every limit with its id, words and origin, so that it can be read aloud.

START holds our starting values. A shop may pass its own table of the same shape; a row it leaves out keeps its
starting value. Origin "common_practice" means what the trade commonly does, with no published source; "start" a value
without source that we start with; "shop" that this shop has set it.
"""

from .figures import reading, trimmed

START: dict[str, object] = {
    "revision": "start-4",
    "rows": [
        {"id": "R1", "name": "damage", "value": None, "origin": "common_practice",
         "words": "A brick that is cracked, melted or loose is replaced."},
        {"id": "R2", "name": "light_damage", "value": None, "origin": "common_practice",
         "words": "Light through a crack or ring, at the mat or through a melted hole: replace, at any count."},
        {"id": "R3", "name": "lit_cells", "value": 20, "origin": "common_practice",
         "words": "More lit cells than this: replace."},
        {"id": "R4", "name": "hard_average", "value": 1.0 / 3.0, "origin": "common_practice",
         "words": "Average hard blockage over the face above this share of the depth: replace."},
        {"id": "R5", "name": "blocked_depth", "value": 1.0 / 3.0, "origin": "common_practice",
         "words": "A cell counts as hard-blocked when more than this share of its depth is blocked."},
        {"id": "R6", "name": "most_of_face", "value": 0.5, "origin": "common_practice",
         "words": "More than this share of the cells hard-blocked is most of the face: replace."},
        {"id": "R7", "name": "plug_missing", "value": None, "origin": "common_practice",
         "words": "A rod that comes out at the far face shows a missing plug, a leak: replace."},
        {"id": "R8", "name": "melt_depth", "value": 0.1, "origin": "start",
         "words": "A hard stop that blocks more than this share of the depth is melted brick where the outlet is black, "
                  "or where it is grey and light comes through: replace."},
        {"id": "R9", "name": "dry_and_cold", "value": None, "origin": "common_practice",
         "words": "After cleaning, a filter that is warm, wet or heavier than before is dried and cooled first. Heavier "
                  "with other things fitted: weigh it again with the same ones."},
        {"id": "R10", "name": "soft", "value": None, "origin": "common_practice",
         "words": "Before cleaning, soft stops and a caked face are soot: clean. Hard stops too, unless R4 to R8 condemn "
                  "them."},
        {"id": "R11", "name": "coverage", "value": 1.645, "origin": "start",
         "words": "One restriction reading that lies inside the window but within this many uncertainties of its upper end, "
                  "or as little below its lower end: hold, blow again. If the mean still does: OK, marked close."},
        {"id": "R12", "name": "sooty_outlet", "value": None, "origin": "common_practice",
         "words": "A black outlet means that exhaust went past the brick: clean, then look for the leak."},
        {"id": "R13", "name": "cells_to_pass", "value": 20, "origin": "start",
         "words": "With fewer cells rodded than this no filter is passed: hold, rod more."},
        {"id": "R14", "name": "cells_to_condemn", "value": 12, "origin": "start",
         "words": "With fewer cells rodded than this R4 and R6 condemn no filter: hold, rod more."},
        {"id": "R15", "name": "worth_g", "value": 20.0, "origin": "start",
         "words": "Another round is worth it when the last one took off more than this many grams."},
        {"id": "R16", "name": "scale_u_g", "value": 5.0, "origin": "start",
         "words": "Doubt of one weighing in grams, as one standard uncertainty. Two weighings less than 2·√2 times that "
                  "apart show no change."},
        {"id": "R17", "name": "rounds_to_tell", "value": 2, "origin": "start",
         "words": "At least this many rounds are done before another one is called not worth it."},
        {"id": "R18", "name": "most_rounds", "value": 3, "origin": "start",
         "words": "After this many rounds no further one is proposed."},
        {"id": "R19", "name": "all_tests", "value": None, "origin": "common_practice",
         "words": "OK to reinstall needs every test of its kind of unit, done and free of doubt."},
        {"id": "R20", "name": "leak", "value": None, "origin": "common_practice",
         "words": "Restriction below the window, or lit cells with a dirty outlet: a leak is suspected, hold. After "
                  "cleaning, no further round for a black outlet before that leak is found."},
        {"id": "R21", "name": "flow_limit", "value": None, "origin": "common_practice",
         "words": "Without a flow limit for the model: hold, until a named person releases it; the report says so."},
        {"id": "R22", "name": "can", "value": None, "origin": "common_practice",
         "words": "A cracked can or flange is repaired before the filter goes back: hold."},
        {"id": "R23", "name": "plate_drift", "value": 0.03, "origin": "start",
         "words": "A flow plate that reads further than this share from what it should in today's air: the bench is out and "
                  "its readings do not count: hold. Where the pressure was guessed, it is read first."},
        {"id": "R24", "name": "air", "value": None, "origin": "common_practice",
         "words": "The restriction is compared in the air of the flow spec; the raw reading stands beside it."},
        {"id": "R25", "name": "more_cells", "value": 12, "origin": "start",
         "words": "After cleaning, at most this many more cells are rodded where they could change the verdict; then a "
                  "person decides."},
        {"id": "R26", "name": "mass_left", "value": None, "origin": "common_practice",
         "words": "What remains is told against the filter's own last weight after cleaning, else the model's; weight "
                  "alone never condemns."},
        {"id": "R27", "name": "ash", "value": None, "origin": "common_practice",
         "words": "Only what comes off after an oven burn is ash; more than the oil explains is a question to the owner."},
        {"id": "R28", "name": "contradiction", "value": None, "origin": "common_practice",
         "words": "Tests that contradict each other are named; they are looked at again and condemn nothing."},
        {"id": "R29", "name": "lasting", "value": None, "origin": "common_practice",
         "words": "Damage seen before cleaning stays damage: replace. Where the same test now denies it: hold, look again."},
        {"id": "R30", "name": "repeats", "value": 0.1, "origin": "start",
         "words": "Repeated restriction readings further apart than this share of the window's upper end count only where "
                  "all of them lie inside the window, all above it or all below it; else hold, blow again."},
        {"id": "R31", "name": "above_before", "value": None, "origin": "common_practice",
         "words": "Before cleaning, restriction above the window: clean."},
        {"id": "R32", "name": "above_after", "value": None, "origin": "common_practice",
         "words": "After cleaning, restriction above the window: clean again; where no further round is worth it, replace. "
                  "One reading above it by less than the uncertainties of R11 condemns nothing: hold, blow again."},
        {"id": "R33", "name": "left_after", "value": None, "origin": "common_practice",
         "words": "After cleaning, soft stops, a caked face or a black outlet: clean again; where no further round is worth "
                  "it, hold, a person decides."},
        {"id": "R34", "name": "wet_before", "value": None, "origin": "common_practice",
         "words": "Before cleaning, a filter wet with oil, fuel or coolant is drained and washed, never put straight into an "
                  "oven: clean. Wet with water it is dried before its weight and restriction count."},
        {"id": "R35", "name": "flow_through", "value": None, "origin": "common_practice",
         "words": "A flow-through brick is judged by look, weight and restriction: no rod, no light. Behind it a black "
                  "outlet is soot left inside and no leak: clean."},
        {"id": "R36", "name": "one_box", "value": None, "origin": "common_practice",
         "words": "A one-box is judged by look, weight and restriction, and each of its bricks as a filter of its own: the "
                  "worst of them counts."},
        {"id": "R37", "name": "order", "value": None, "origin": "common_practice",
         "words": "A proven replace comes first, also where tests are missing. Then hold for what must be dried, rodded "
                  "further or searched for a leak. Then clean for what is dirty. Then hold for all that is open, missing or "
                  "in doubt: that blocks nothing but OK. Weight alone never condemns."},
    ],
}

# The tests in the order in which they are read aloud.
TESTS = ("visual", "weight", "rod", "light", "flow")


class Table:
    """One table in use: rows by name, the starting row where the shop's table lacks one."""

    def __init__(self, rules: object) -> None:
        self.revision = str(START["revision"])
        self._rows = {str(row["name"]): row for row in rows_of(START)}
        if isinstance(rules, dict):
            self.revision = str(rules.get("revision", self.revision))
            for row in rows_of(rules):
                name = str(row.get("name"))
                if name in self._rows and _fits(row.get("value"), self._rows[name]["value"]):
                    self._rows[name] = row

    def limit(self, name: str) -> float:
        """The row's threshold; 0 for a rule without one."""
        return reading(self._rows[name]["value"]) or 0.0

    def row(self, name: str) -> dict[str, object]:
        """The row of that name, as it is in use."""
        return self._rows[name]

    def reason(self, code: str, name: str, values: dict[str, object], origin: str = "") -> dict[str, object]:
        """A reason under the row of that name; origin where it comes from elsewhere, as a flow limit does."""
        row = self._rows[name]
        return {"code": code, "rule": row.get("id"), "values": values, "origin": origin or row.get("origin")}


def rows_of(rules: object) -> list[dict[str, object]]:
    """The rows of a table, in its order."""
    rows = rules.get("rows") if isinstance(rules, dict) else None
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def read_aloud(rules: object) -> list[str]:
    """The whole table in use as lines of text: id, words, limit, origin; a row that the shop left out keeps our start."""
    table, lines = Table(rules), []
    for start in rows_of(START):
        row = table.row(str(start["name"]))
        value = reading(row["value"])
        limit = "" if value is None else " Limit: " + trimmed(value, 3) + "."
        origin = "common practice, no source" if row.get("origin") == "common_practice" else "starting value, no source"
        if value != reading(start["value"]):
            origin = "set by this shop; starting value " + trimmed(reading(start["value"]) or 0.0, 3)
        lines.append(str(start["id"]) + ": " + str(row.get("words") or start["words"]) + limit + " (" + origin + ")")
    return lines


def _fits(value: object, start: object) -> bool:
    """Whether a shop's value may stand where a starting value stood: both numbers not below 0, or both none."""
    if start is None:
        return value is None
    number = reading(value)
    return number is not None and number >= 0.0
