"""THE declaration of Ashbook's form: every field, once.

HTML, checks, storage policy, desk and report follow from what stands here; there is no other list of fields.
Labels are the English texts; a language file may override each under "field.STEP.FIELD", "step.STEP",
"choice.STEP.FIELD.CODE", "help.STEP.FIELD" and "caution.CODE". Portable Python: the phone runs it too.
"""

from ..trade.ash import CEILING_PERCENT
from ..trade.figures import trimmed
from ..trade.rules import START, rows_of
from .shapes import Caution, cells, choice, choices, number, photos, ref, step, text, units_to_pick

SCHEMA = 1

STAGES = ("before", "after")

SKIP_REASONS = (
    ("at_shop", "Will be done at the shop"),
    ("no_instrument", "Instrument not at hand"),
    ("no_access", "Cannot be reached on this filter"),
    ("owner", "Owner does not want it"),
    ("not_needed", "Decision is clear without it"),
    ("other", "Another reason"),
)

# Safety wording is general; local rules and the maker's instructions always come first.
CAUTIONS = (
    Caution("heat", "A filter can stay above 300 °C long after a regeneration. Let it cool until you can touch it.",
            "common practice, no source"),
    Caution("ash_dust", "Ash is fine and easily breathed. Work under extraction or wipe wet, wear a fitted "
            "respirator, eye protection and gloves. Never blow a filter open to the room.",
            "29 CFR 1910.1000 and 1910.242(b) in the US; local rules elsewhere"),
    Caution("fibre", "The mat may shed ceramic fibre. Do not cut or blow a can that sheds.", "NIOSH 2006-123"),
    Caution("lifting", "Canned truck filters weigh 15 to 40 kg. Use a hoist or two people.",
            "NIOSH lifting equation, Pub. 94-110; local guidance elsewhere"),
    Caution("oven", "Oil, fuel or coolant in the brick: never straight into an oven. Drain and wash first.",
            "common practice, no source"),
    Caution("hot_soot", "Soot can burn by itself when air reaches it hot. Follow the oven maker's loading limits.",
            "common practice, no source"),
    Caution("waste", "Collected ash and wash water may be hazardous waste. Keep them sealed and labelled; never in a "
            "bin, drain or yard.", "40 CFR 262.11 in the US (from memory); local rules elsewhere"),
    Caution("law", "A filter is cleaned or replaced, never removed or opened up. Driving without it is unlawful in "
            "most places.", "42 U.S.C. 7522(a)(3); Regulation (EC) 715/2007 Art. 5(2)"),
)

MASS_UNITS = ("g", "kg", "lb")
# The first four stand in the open on a phone, the others one step further (phone/js/units.js).
PRESSURE_UNITS = ("inH2O", "mbar", "kPa", "Pa", "hPa", "mmH2O", "inH2O (4 °C)", "inH2O (60 °F)")
LENGTH_UNITS = ("mm", "in")
AIR_PRESSURE_UNITS = ("hPa", "mbar", "kPa", "inHg")
TEMPERATURE_UNITS = ("°C", "°F")
FLOW_UNITS = ("cfm", "m³/h")

# What may hang on a filter while it is weighed. The mass of each is a field of its own, named PART_mass.
FITTED = (("adapter", "Adapter"), ("clamps", "Clamps"), ("sensors", "Sensors"))
FITTED_AT_ONCE = "fitted_mass"  # of all parts together: what was asked before each had a field

_WEIGHT_FIELDS = (
    number("mass", "Weight on the scale", MASS_UNITS, 0.5, 150, "kg",
           help="Weigh it with the same things fitted before and after."),
    choices("fitted", "Fitted while weighing", FITTED),
) + tuple([
    number(part + "_mass", label + " alone", MASS_UNITS, 0, 30, "kg", required=False, shown_when=("fitted", (part,)),
           help="Taken off, if you know it. Leave it empty when it stays on.")
    for part, label in FITTED]) + (
    number(FITTED_AT_ONCE, "Weight of all that is fitted", MASS_UNITS, 0, 30, "kg", required=False, is_former=True,
           help="Typed before each part had a weight of its own. Taken off as it stands.",
           shown_when=("fitted", tuple([part for part, _label in FITTED]))),
    choice("temperature", "Filter is", (("cold", "Cold"), ("warm", "Warm"))),
    choice("moisture", "and", (("dry", "Dry"), ("wet", "Wet"))),
    ref("check", "Check of the scale", "scale_check"),
)

_DECISIONS = (("ok_to_reinstall", "OK to reinstall"), ("clean", "Clean"), ("clean_again", "Clean again"),
              ("replace", "Replace"), ("hold", "Hold"))
_VOID_FIELDS = (
    choice("state", "It is", (("void", "Void"), ("stands", "Not void after all"))),
    text("reason", "Why", required=True, longest=200),
)

# The thresholds that a shop may set: bounds and unit of each row of the rule table that has a value.
_SHARE, _COUNT, _MASS = (0, 1, ""), (0, 100, ""), (0, 1000, "g")
_RULE_BOUNDS = {
    "lit_cells": _COUNT, "hard_average": _SHARE, "blocked_depth": _SHARE, "most_of_face": _SHARE, "melt_depth": _SHARE,
    "coverage": (0, 5, ""), "cells_to_pass": _COUNT, "cells_to_condemn": _COUNT, "worth_g": _MASS, "scale_u_g": _MASS,
    "rounds_to_tell": _COUNT, "most_rounds": _COUNT, "plate_drift": _SHARE, "more_cells": _COUNT, "repeats": _SHARE,
}


def _rule_fields():
    """One number for each row of the rule table that has a value."""
    found = []
    for row in rows_of(START):
        if row["value"] is not None:
            low, high, unit = _RULE_BOUNDS[str(row["name"])]
            found.append(number(row["name"], str(row["id"]) + ": " + str(row["words"]), (unit,), low, high, unit,
                                required=False, help="Starting value: " + trimmed(row["value"], 3) + "."))
    return tuple(found)


STEPS = (
    # --- check-in -----------------------------------------------------------------------------------------------
    step("filter", "filter", "The filter", (
        choice("unit_kind", "Kind of unit", (
            ("wall_flow", "Particulate filter"), ("flow_through", "Flow-through brick"),
            ("one_box", "One-box, several bricks"))),
        ref("model", "Model", "model", help="Part number on the can.", policy="worse"),
        text("serial", "Serial number", help="Stamped on the can. The last four find it when the tag is off.",
             policy="identity", longest=40),
        ref("box", "Brick of a one-box", "filter",
            help="Only for a brick that was taken out of one; each brick is judged alone.",
            shown_when=("unit_kind", ("wall_flow", "flow_through"))),
    ), feeds="verdict"),
    step("check_in", "job", "Check-in", (
        text("work_order", "Work order", longest=40),
        text("truck", "Truck", help="Registration or fleet number.", policy="identity", longest=40),
        ref("owner", "Owner", "owner"),
        choices("complaint", "Why it came in", (
            ("high_restriction", "Restriction too high"), ("no_power", "Low power"),
            ("regen_often", "Regenerates often"),
            ("regen_fails", "Regeneration fails"), ("smoke", "Smoke at the tailpipe"), ("service", "Service is due"),
            ("bought_used", "Bought used"))),
        choice("forced_regens", "Forced regenerations lately", (
            ("none", "None"), ("few", "1 to 3"), ("many", "More"), ("unknown", "Not known")), required=False,
            policy="later"),
        choice("oil_top_up", "Oil topped up between services", (
            ("none", "None"), ("some", "Some"), ("much", "A lot"), ("unknown", "Not known")), required=False,
            policy="later"),
        choices("repairs", "Repairs lately", (
            ("turbo", "Turbo"), ("injector", "Injector"), ("egr", "EGR"), ("coolant", "Coolant leak"),
            ("sensor", "Sensor")), policy="later"),
        number("engine_hours", "Engine hours", ("h",), 0, 200000, "h", required=False, policy="later"),
        number("odometer", "Odometer", ("km", "mi"), 0, 5000000, "km", required=False, policy="later"),
        number("hours_since", "Engine hours since the last cleaning", ("h",), 0, 50000, "h", required=False,
               policy="later"),
        number("distance_since", "Distance since the last cleaning", ("km", "mi"), 0, 2000000, "km", required=False,
               policy="later"),
        number("oil_added", "Oil topped up since the last cleaning", ("L",), 0, 2000, "L", required=False,
               policy="later", help="Together with the oil's category it tells how much ash to expect."),
        choice("oil_category", "Category on the oil can", tuple([(code, code) for code in sorted(CEILING_PERCENT)]),
               required=False, policy="later"),
        text("note", "Note", longest=1000),
    )),
    # --- the five readings, before and after ----------------------------------------------------------------------
    step("visual", "job", "Look at it", (
        choice("told_by", "Inlet and outlet told by", (
            ("arrow", "Arrow"), ("sensors", "Sensor bungs"), ("soot", "Soot only")), required=False),
        choice("outlet", "Outlet face, wiped with a rag", (
            ("clean", "Clean"), ("grey", "Grey dust"), ("black", "Black")),
            help="Black on the outlet means exhaust has gone past the brick."),
        choice("brick", "Brick", (
            ("sound", "Sound"), ("chipped", "Chipped edge"), ("cracked", "Cracked"), ("melted", "Melted"),
            ("loose", "Loose in the mat"))),
        choice("can", "Can and flanges", (("sound", "Sound"), ("dented", "Dented"), ("cracked", "Cracked"))),
        choice("wet", "Wet with", (
            ("dry", "Nothing"), ("water", "Water"), ("oil", "Oil"), ("fuel", "Fuel"), ("coolant", "Coolant"))),
        photos("photos", "Photos", help="Both faces, and whatever is broken."),
        text("note", "Note", longest=1000),
    ), slot="visual", is_staged=True, policy="worse", feeds="verdict", skippable=True,
        cautions=("heat", "ash_dust", "fibre"),
        help="Tell inlet from outlet, then read the outside."),
    step("weight", "job", "Weigh it", _WEIGHT_FIELDS, slot="weight", is_staged=True, policy="worse", feeds="verdict",
         skippable=True, cautions=("heat", "lifting")),
    step("rod", "job", "Rod", (
        number("full_depth", "Full depth, from the outlet", LENGTH_UNITS, 20, 600, "mm", required=False,
               help="Push the rod in from the outlet side until it stops. Empty: the depth on file counts."),
        cells("cells", "Inlet cells", (
            ("free", "Free"), ("soft", "Soft"), ("hard", "Hard"), ("end_plug", "Stopped at once"),
            ("through", "Out at the far face"), ("caked", "Caked over")),
            help="A spread over the whole face. Stopped at once is an end plug: take the next cell."),
    ), slot="rod", is_staged=True, policy="worse", feeds="verdict", skippable=True, cautions=("ash_dust",)),
    step("light", "job", "Light", (
        choice("kind", "Seen against the light", (
            ("none", "No light"), ("cells", "Single cells"), ("crack", "Crack or ring"), ("edge", "Edge at the mat"),
            ("melted", "Melted hole"))),
        choice("lit", "Lit cells", (("1_5", "1 to 5"), ("6_20", "6 to 20"), ("over_20", "Over 20")),
               shown_when=("kind", ("cells",))),
        number("count", "Counted exactly", ("",), 1, 5000, "", is_whole_number=True, required=False,
               shown_when=("kind", ("cells",))),
        photos("photos", "Photos", help="The lit face, from the far side of the lamp."),
        text("note", "Note", longest=1000),
    ), slot="light", is_staged=True, policy="worse", feeds="verdict", skippable=True, cautions=("ash_dust",)),
    step("flow", "job", "Flow", (
        ref("check", "Check of the bench", "bench_check",
            help="Today's check carries room air and flow plate. Without one, say how the plate reads."),
        choice("bench", "Flow plate today", (
            ("good", "Reads right"), ("out", "Reads wrong"), ("not_checked", "Not checked")), shown_when=("check", (None,))),
        choices("fixture", "Fixture", (
            ("adapter", "Adapter sealed"), ("face_down", "Face down"), ("zero", "Zero with fan off"))),
        number("drop", "Restriction", PRESSURE_UNITS, 0, 20000, "Pa"),
        number("drop_2", "Second reading", PRESSURE_UNITS, 0, 20000, "Pa", required=False,
               help="Only when the first came too close to the limit: take it off, seal it again, read again."),
        number("drop_3", "Third reading", PRESSURE_UNITS, 0, 20000, "Pa", required=False),
    ), slot="flow", is_staged=True, policy="worse", feeds="verdict", skippable=True, cautions=("ash_dust",)),
    # --- instruments, checked once a day ------------------------------------------------------------------------------
    step("bench_check", "bench_check", "Check of the bench", (
        ref("instrument", "Bench", "instrument", required=True),
        number("temperature", "Room temperature", TEMPERATURE_UNITS, -10, 50, "°C"),
        number("barometer", "Barometer in the room", AIR_PRESSURE_UNITS, 500, 1100, "hPa", required=False,
               help="The pressure in the room, not the one reduced to sea level. Empty: from the bench's altitude."),
        number("humidity", "Relative humidity", ("%",), 0, 100, "%", required=False),
        number("plate", "Flow plate reads", PRESSURE_UNITS, 0, 20000, "Pa", required=False),
        ref("previous", "Check before this one", "bench_check"),
    ), slot="reading", policy="worse", feeds="verdict", help="Once a day: room air, then the flow plate on the bench."),
    step("scale_check", "scale_check", "Check of the scale", (
        ref("instrument", "Scale", "instrument", required=True),
        number("weight", "Check weight", ("kg", "g"), 0.1, 50, "kg"),
        choice("weight_class", "Class of the weight", (
            ("F1", "F1"), ("F2", "F2"), ("M1", "M1"), ("M2", "M2"), ("M3", "M3"))),
        number("shown", "Scale shows", ("kg", "g", "lb"), 0, 200, "kg"),
        ref("previous", "Check before this one", "scale_check"),
    ), slot="reading", policy="worse", feeds="verdict", cautions=("lifting",)),
    # --- cleaning ---------------------------------------------------------------------------------------------------
    step("round_job", "round", "Round of", (
        ref("job", "Job", "job", required=True),
    ), feeds="verdict"),
    step("treatment", "round", "Cleaning round", (
        choice("method", "Method", (("oven", "Oven"), ("air", "Air"), ("wash", "Wash"))),
        number("minutes", "Minutes", ("min",), 1, 2880, "min"),
        number("temperature", "Oven temperature", TEMPERATURE_UNITS, 20, 800, "°C", shown_when=("method", ("oven",))),
        text("note", "Note", longest=1000),
    ), slot="treatment", policy="worse", feeds="verdict",
        cautions=("heat", "oven", "hot_soot", "ash_dust", "fibre", "waste")),
    step("round_weight", "round", "Weight after this round", _WEIGHT_FIELDS, slot="weight", policy="worse",
         feeds="verdict", skippable=True, cautions=("heat", "lifting")),
    # --- deciding ---------------------------------------------------------------------------------------------------
    step("owner_answer", "job", "Owner's answer", (
        choice("answer", "The owner says", (
            ("clean", "Clean it"), ("try_once", "Try once anyway"), ("replace", "Replace it"),
            ("return_uncleaned", "Return it uncleaned"))),
        text("said_by", "Said by", longest=80),
        text("note", "Note", longest=1000),
    ), slot="owner_answer", policy="worse", feeds="report"),
    step("signoff", "job", "Sign-off", (
        choice("decision", "Decision", _DECISIONS),
        text("reason", "Reason, where it differs from the verdict", longest=1000),
        ref("person", "Signed by", "person", required=True),
    ), slot="signoff", policy="worse", feeds="report", cautions=("law",)),
    # What the desk gave to the owner; that it no longer stands is read from it and the job's state, and never stored.
    step("report", "job", "Report given to the owner", (
        text("number", "Number", required=True, longest=20),
        text("at", "Given", required=True, longest=40),
        choice("verdict", "It says", _DECISIONS),
    ), slot="report", place="office"),
    # --- nothing is deleted: what is void, why; see void.py -------------------------------------------------------------
    step("void_job", "job", "Void", _VOID_FIELDS, slot="void", policy="worse", place="office"),
    step("void_round", "round", "Void", _VOID_FIELDS, slot="void", policy="worse", place="office"),
    step("void_link", "link", "Void", _VOID_FIELDS, slot="void", policy="worse", place="office"),
    step("void_fitting", "fitting", "Void", _VOID_FIELDS, slot="void", policy="worse", place="office"),
    # --- links and the desk's books -----------------------------------------------------------------------------------
    step("job_filter", "job", "Job of", (ref("filter", "Filter", "filter", required=True),), feeds="verdict"),
    step("link", "link", "One and the same filter", (
        ref("one", "Filter", "filter", required=True),
        ref("other", "is the same as", "filter", required=True),
        text("reason", "How it was found", longest=200),
    ), place="office"),
    step("fitting", "fitting", "On a truck", (
        ref("filter", "Filter", "filter", required=True),
        text("truck", "Truck", required=True, policy="identity", longest=40),
    ), place="office"),
    step("span", "fitting", "From when to when", (
        text("since", "Since", required=True, help="Year-month-day, 2026-11-25.", longest=10),
        text("until", "Until", help="Empty while it is still on.", longest=10),
    ), slot="span", policy="identity", place="office"),
    step("tag", "tag", "Tag", (ref("filter", "Filter", "filter", required=True),), feeds="book"),
    step("owner", "owner", "Owner", (
        text("name", "Name", required=True, longest=120),
        text("contact", "Contact", longest=200),
    )),
    step("model", "model", "Model", (
        text("number", "Part number", required=True, policy="identity", longest=60),
        text("cross", "Cross-references", longest=200),
        number("depth", "Brick depth", LENGTH_UNITS, 20, 600, "mm", required=False),
        number("clean_mass", "Weight when clean", MASS_UNITS, 0.5, 150, "kg", required=False),
    ), feeds="verdict", place="office"),
    step("brick", "model", "Geometry of the brick", (
        choice("shape", "Shape of the face", (
            ("round", "Round"), ("oval", "Oval"), ("rectangular", "Rectangular")), required=False),
        number("long", "Diameter, or the longer side", LENGTH_UNITS, 50, 600, "mm", required=False),
        number("short", "Shorter side", LENGTH_UNITS, 50, 600, "mm", required=False,
               shown_when=("shape", ("oval", "rectangular"))),
        number("cells_per_in2", "Cells per square inch", ("",), 50, 900, "", required=False),
        number("wall", "Wall between cells", ("mm", "mil"), 0.05, 1.5, "mm", required=False),
    ), slot="brick", policy="worse", feeds="verdict", place="office",
        help="For estimates: what a clean brick reads, how much ash it holds. Nothing is condemned by it."),
    step("spec", "model", "Flow spec", (
        number("low", "Window from", PRESSURE_UNITS, 0, 20000, "Pa"),
        number("high", "Window to", PRESSURE_UNITS, 0, 20000, "Pa"),
        number("uncertainty", "Standard uncertainty of a reading", PRESSURE_UNITS, 0, 5000, "Pa"),
        text("origin", "Where the limits come from", required=True, longest=120),
        text("revision", "Revision", required=True, longest=40),
        number("flow", "Air flow of the test", FLOW_UNITS, 5, 3000, "cfm", required=False),
        number("air_temperature", "Air of the limits: temperature", TEMPERATURE_UNITS, -10, 50, "°C", required=False,
               help="Empty: 20 °C, 1013.25 hPa, dry."),
        number("air_pressure", "Air of the limits: pressure", AIR_PRESSURE_UNITS, 500, 1100, "hPa", required=False),
        number("air_humidity", "Air of the limits: humidity", ("%",), 0, 100, "%", required=False),
    ), slot="spec", policy="worse", feeds="verdict", place="office"),
    step("own", "model", "Own numbers", (
        number("low", "Lowest", PRESSURE_UNITS, 0, 20000, "Pa"),
        number("high", "Highest", PRESSURE_UNITS, 0, 20000, "Pa"),
        number("uncertainty", "Standard uncertainty of a reading", PRESSURE_UNITS, 0, 5000, "Pa"),
        number("filters", "From how many filters", ("",), 1, 100000, "", is_whole_number=True),
        text("revision", "Revision", required=True, longest=40),
    ), slot="own", policy="worse", feeds="verdict", place="office",
        help="Limits learned from this shop's own accepted filters; used where no flow spec is on file."),
    step("instrument", "instrument", "Instrument", (
        text("name", "Name", required=True, policy="identity", longest=80),
        choice("type", "What it is", (("bench", "Flow bench"), ("scale", "Scale"))),
        choice("mode", "How the bench sets its flow", (
            ("constant_volume", "Constant volume"), ("constant_mass", "Constant mass"),
            ("uncorrected_element", "By a pressure element, not corrected")), shown_when=("type", ("bench",))),
        number("altitude", "Altitude of the shop", ("m", "ft"), -500, 5000, "m", required=False,
               shown_when=("type", ("bench",))),
        number("plate", "Flow plate's own value", PRESSURE_UNITS, 1, 20000, "Pa", required=False,
               help="A property of this plate on this bench.", shown_when=("type", ("bench",))),
        number("plate_temperature", "taken at a temperature of", TEMPERATURE_UNITS, -10, 50, "°C", required=False,
               help="Empty: 20 °C, 1013.25 hPa, dry.", shown_when=("type", ("bench",))),
        number("plate_pressure", "and a pressure of", AIR_PRESSURE_UNITS, 500, 1100, "hPa", required=False,
               shown_when=("type", ("bench",))),
        number("plate_humidity", "and a humidity of", ("%",), 0, 100, "%", required=False,
               shown_when=("type", ("bench",))),
        choice("tolerance", "Tolerance of the scale", (
            ("r76_in_service", "OIML R 76, in service"), ("r76_initial", "OIML R 76, first check"),
            ("hb44_maintenance", "Handbook 44, maintenance"), ("hb44_acceptance", "Handbook 44, acceptance"),
            ("own", "The shop's own")), help="How far off a check may find it. In service is the usual one.",
            shown_when=("type", ("scale",))),
        choice("scale_class", "Class of the scale", (("II", "II"), ("III", "III")), required=False,
               help="On its plate. Every tolerance but the shop's own needs it.", shown_when=("type", ("scale",))),
        number("division", "Division", ("g", "lb"), 0.001, 1000, "g", required=False, shown_when=("type", ("scale",)),
               help="The smallest step that it shows. Without it no check of the scale can be judged."),
        number("capacity", "Capacity", ("kg", "lb"), 0.1, 1000, "kg", required=False, shown_when=("type", ("scale",)),
               help="The most it may carry. Without it no check of the scale can be judged."),
        number("own_limit", "The shop's own tolerance", ("g", "lb"), 0, 1000, "g", required=False,
               shown_when=("type", ("scale",))),
    ), feeds="verdict", place="office"),
    step("display", "instrument", "What its display shows", (
        choice("pressure", "Restriction in", units_to_pick(PRESSURE_UNITS), required=False,
               help="The manual of a digital manometer names its inch of water: at 4\u00a0°C, at 60\u00a0°F, or neither "
                    "(conventional, 249.089 Pa). Readings on this bench then begin with that unit."),
        choice("mass", "Weight in", units_to_pick(MASS_UNITS), required=False),
    ), slot="display", policy="later", place="office",
        help="Only the unit in which a reading is offered first. What was typed keeps its unit."),
    step("person", "person", "Person", (
        text("name", "Name", required=True, policy="identity", longest=80),
        choice("may_sign", "May sign off", (("yes", "Yes"), ("no", "No"))),
    ), place="office"),
    step("pin", "person", "PIN", (
        text("salt", "Salt", required=True, longest=64),
        number("rounds", "Rounds", ("",), 1000, 10000000, "", is_whole_number=True),
        text("key", "Key", required=True, longest=128),
    ), slot="pin", policy="identity", place="office"),
    # the record of a photo is named by its hash; it exists only where a person gave the photo up
    step("photo_lost", "photo", "Photo is lost", (
        text("reason", "Why it cannot come any more", required=True, longest=300),
    ), slot="lost", place="office"),
    # the record of a held change is named by its hash; it exists only where the office has looked at it and is done with it
    step("held_seen", "held", "Looked at", (
        text("reason", "What came of it", required=True, longest=300),
    ), slot="seen", place="office"),
    step("shop", "shop", "Shop", (
        text("name", "Name of the shop", required=True, longest=120),
        text("address", "Address on reports", longest=300),
    ), place="office"),
    step("units", "shop", "Units shown", (
        choice("pressure", "Restriction", units_to_pick(PRESSURE_UNITS), required=False, help="Empty: inH2O."),
        choice("mass", "Weight", units_to_pick(MASS_UNITS), required=False, help="Empty: g."),
        choice("length", "Length", units_to_pick(LENGTH_UNITS), required=False, help="Empty: mm."),
        choice("temperature", "Temperature", units_to_pick(TEMPERATURE_UNITS), required=False, help="Empty: °C."),
        choice("flow", "Air flow", units_to_pick(FLOW_UNITS), required=False, help="Empty: cfm."),
    ), slot="units", policy="later", place="office",
        help="Sentences on phones, at the desk and on reports use these, and an empty field begins with them. A number "
             "that was typed is always shown as it was typed. No verdict, sign-off or issued report changes."),
    step("rules", "shop", "Thresholds of this shop", _rule_fields() + (
        text("why", "Why they differ", required=True, longest=400),
    ), slot="rules", policy="worse", feeds="verdict", place="office",
        help="Leave a line empty to keep the starting value. Every report names the thresholds that it was made with."),
)

# Kinds of record that hold a person's data: kept so that they can be erased on request.
PERSONAL = ("owner",)

# The order of the screens of one job on the phone.
READINGS = ("visual", "weight", "rod", "light", "flow")
