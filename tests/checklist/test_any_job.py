"""What holds for every job that the checklist accepts, from the records on: a state in figures and sentences, the same in
any unit and any order, and never better for a worse reading. test_any_unit.py and test_monotone.py ask the same of the
calculation alone."""

import copy
import json
import random
from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.checklist.answers import answers, in_units
from tests.checklist.views import KIM, MODEL, NO_LIGHT, VISUAL, answer, book, flow, number, rod, view, weight
from webform.checklist.calls import with_texts
from webform.checklist.case import job_state
from webform.checklist.check import ALONE, problems
from webform.checklist.declaration import READINGS
from webform.checklist.lookup import step_named
from webform.words import catalogue

WORDS = catalogue()
RANK = {"ok_to_reinstall": 0, "clean": 1, "clean_again": 1, "hold": 1, "replace": 2}
TARGETS = {"instrument": ["instrument:b", "instrument:s", "instrument:away"], "model": ["model:m"], "person": ["person:kim"],
           "job": ["job:j"], "filter": ["filter:f"], "bench_check": ["bench_check:1", "bench_check:away"],
           "scale_check": ["scale_check:1", "scale_check:away"], "owner": ["owner:o"]}
SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


def plain(name):
    return answers(step_named(name), TARGETS)


@st.composite
def any_books(draw):
    """Every record that a job may lead to, each with answers that the checklist accepts, one of two answers open."""
    fields = {f"{stage}.{name}": draw(plain(name)) for stage in ("before", "after") for name in READINGS
              if draw(st.integers(0, 3))}
    for name in sorted(fields):
        if draw(st.integers(0, 9)) == 0:
            fields[name] = [answer(fields[name], "d.r.1"), answer(draw(plain(name.split(".")[1])), "e.r.1")]
    checked_in = draw(plain("check_in"))
    fields |= {name: checked_in[name] for name in ("hours_since", "distance_since", "oil_added", "oil_category")
               if name in checked_in}
    model = {**draw(plain("model")), **{name: draw(plain(name)) for name in ("brick", "spec", "own") if draw(st.booleans())}}
    views = [view("job:j", {"filter": "filter:f", **fields}), view("model:m", model), KIM,
             view("filter:f", {**draw(plain("filter")), "model": "model:m"}),
             view("instrument:b", draw(plain("instrument"))), view("instrument:s", draw(plain("instrument"))),
             view("bench_check:1", {"reading": draw(plain("bench_check"))}),
             view("scale_check:1", {"reading": draw(plain("scale_check"))})]
    if draw(st.integers(0, 3)) == 0:
        views.append(view("shop:rules", {"rules": draw(plain("rules"))}))
    for place in range(draw(st.integers(0, 3))):
        views.append(view(f"round:{place}", {"job": [answer("job:j", f"d.r.j{place}", lamport=place + 2)],
                                             "treatment": draw(plain("treatment")), "weight": draw(plain("round_weight"))}))
    return views


@settings(max_examples=80, suppress_health_check=SLOW)
@given(any_books(), st.randoms())
def test_every_job_that_the_checklist_accepts_has_a_state_in_figures_and_sentences_in_any_order(views, order):
    state = with_texts(job_state("job:j", book(*views)), WORDS)
    assert state["verdict"] in RANK and state["text"]
    assert json.loads(json.dumps(state, allow_nan=False)), "no NaN, no infinity"
    for stage in ("before", "after"):
        for texts in (state[stage] or {"texts": {}})["texts"].values():
            assert not [text for text in texts if not text or text.startswith("reason.") or {"{", "}", "∞"} & set(text)]
    order.shuffle(views)
    assert with_texts(job_state("job:j", book(*views)), WORDS) == state


# --- jobs near their limits, typed as a technician would ----------------------------------------------------------------

BENCH = view("instrument:b", {"name": "Bench", "type": "bench", "mode": "constant_volume", "plate": number("2.10", "inH2O")})
CHECK = view("bench_check:1", {"reading": {"instrument": "instrument:b", "temperature": number("20", "°C"),
                                           "barometer": number("1013.25", "hPa"), "humidity": number("0", "%"),
                                           "plate": number("2.11", "inH2O")}})
KINDS = ("wall_flow", "one_box", "flow_through")


def inches(low, high):
    """Restrictions in hundredths of an inch of water."""
    return st.integers(int(low * 100), int(high * 100)).map(lambda hundredths: f"{hundredths / 100:.2f}")


@st.composite
def near_jobs(draw):
    """(kind of unit, fields of the job, rounds): a filter about which little has to change for another verdict."""
    blocked, feel = draw(st.integers(0, 24)), draw(st.sampled_from(["hard", "hard", "soft"]))
    face = rod((blocked, feel, str(draw(st.one_of(st.integers(0, 40), st.integers(60, 270))))), (24 - blocked, "free", None))
    drop = draw(inches(1.4, 2.4))
    lit = draw(st.sampled_from([None, None, None, 3, 19, 20]))
    light = NO_LIGHT if lit is None else {"kind": "cells", "lit": "1_5" if lit < 6 else "6_20", "count": number(str(lit), "")}
    repeats = draw(st.lists(st.sampled_from(["0.00", "0.03", "0.10", "0.25", "-0.30"]), max_size=2))
    blown = flow(drop, *[str(Decimal(drop) + Decimal(more)) for more in repeats])
    if draw(st.booleans()):
        blown = {"check": "bench_check:1", **{name: blown[name] for name in blown if name != "bench"}}
    readings = {"visual": {**VISUAL, "outlet": draw(st.sampled_from(["clean", "clean", "grey", "black"]))},
                "weight": weight(str(draw(st.integers(13700, 13900)))), "rod": face, "light": light, "flow": blown}
    found = {"visual": VISUAL, "weight": weight("14480"), "rod": rod((24, "soft", "170")), "light": NO_LIGHT,
             "flow": flow("2.75")}
    is_after = draw(st.booleans())
    fields = {f"before.{name}": (found if is_after else readings)[name] for name in READINGS}
    if is_after:
        fields |= {f"after.{name}": readings[name] for name in READINGS}
    masses = [draw(st.integers(13780, 13900)) for _ in range(draw(st.integers(1, 3)))] if is_after else []
    return draw(st.sampled_from(KINDS[:1] * 4 + KINDS[1:])), fields, masses


def state_of(kind, fields, masses, unit_of=None):
    """The state of such a job, with every number typed in other units if these are given."""
    views = [view("job:j", {"filter": "filter:f", **fields}), MODEL, KIM, BENCH, CHECK,
             view("filter:f", {"unit_kind": kind, "model": "model:m"})]
    for place, mass in enumerate(masses):
        views.append(view(f"round:{place}", {
            "job": [answer("job:j", f"d.r.j{place}", lamport=place + 2)], "weight": weight(str(mass)),
            "treatment": {"method": "oven", "minutes": number("480", "min"), "temperature": number("600", "°C")}}))
    if unit_of:
        views = copy.deepcopy(views)
        for held in [entry for one in views for entry in one["fields"].values()]:
            for one in held["answers"]:
                one["value"] = in_units(one["value"], unit_of)
            held["used"] = in_units(held["used"], unit_of)
    return job_state("job:j", book(*views))


@settings(max_examples=150, suppress_health_check=SLOW)
@given(near_jobs(), st.sampled_from(["Pa", "mbar", "kPa"]), st.sampled_from(["kg", "lb"]), st.sampled_from(["in"]))
def test_the_same_job_typed_in_other_units_has_the_same_verdicts_to_the_last_figure(job, pressure, mass, length):
    one, other = state_of(*job), state_of(*job, {"inH2O": pressure, "g": mass, "mm": length, "°C": "°F", "hPa": "mbar"})
    for name in ("before", "after", "verdict", "calculated", "is_close", "why"):
        assert one[name] == other[name]


def worse_rod(values, seed):
    """Some free cells turn hard, or hard stops come earlier."""
    for cell in seed.sample(values["cells"], seed.choice([1, 2, 12])):
        if cell["feel"] in ("free", "hard"):
            depth = Decimal(cell["depth"]["n"]) if "depth" in cell else Decimal(290)
            cell.update(feel="hard", depth=number(str(min(depth, Decimal(seed.choice([0, 100, 193, 250])))), "mm"))


def worse_light(values, seed):
    """More lit cells, or light through damage."""
    count = int(values["count"]["n"]) + 2 if values["kind"] == "cells" else 1
    if seed.choice([True, False, False]):
        values.clear()
        values["kind"] = seed.choice(["crack", "edge", "melted"])
    else:
        lit = "1_5" if count < 6 else "6_20" if count < 21 else "over_20"
        values.update(kind="cells", lit=lit, count=number(str(count), ""))


DROPS = ("drop", "drop_2", "drop_3")


def worse_flow(values, seed):
    """More restriction, where it is not below the window."""
    more = Decimal(seed.choice(["0.01", "0.10", "0.50", "2.00"]))
    for name in DROPS:
        if name in values and Decimal(values[name]["n"]) > Decimal("1.61"):
            values[name] = number(str(Decimal(values[name]["n"]) + more), "inH2O")


def worse_visual(values, seed):
    """A dirtier outlet, or a brick that is damaged."""
    values["outlet"] = {"clean": "grey", "grey": "black", "black": "black"}[values["outlet"]]
    values["brick"] = seed.choice(["sound", "sound", "cracked", "melted", "loose"])


WORSE = {"rod": worse_rod, "light": worse_light, "flow": worse_flow, "visual": worse_visual}


@settings(max_examples=300, suppress_health_check=SLOW)
@given(near_jobs(), st.sampled_from(sorted(WORSE)), st.integers(0, 10**6))
def test_a_worse_reading_of_a_job_never_gives_a_better_verdict(job, name, number_of):
    kind, fields, masses = job
    worse, stage = copy.deepcopy(fields), "after" if masses else "before"
    WORSE[name](worse[f"{stage}.{name}"], random.Random(number_of))
    assert problems(step_named(name), worse[f"{stage}.{name}"], ALONE) == []
    first, second = state_of(kind, fields, masses), state_of(kind, worse, masses)
    assert RANK[second["verdict"]] >= RANK[first["verdict"]], (first["verdict"], second["verdict"])


@settings(max_examples=200, suppress_health_check=SLOW)
@given(near_jobs().filter(lambda job: job[2]), st.sampled_from(["visual", "light", "rod"]), st.integers(0, 10**6))
def test_a_filter_found_worse_is_never_judged_better_after_cleaning(job, name, number_of):
    kind, fields, masses = job
    worse = copy.deepcopy(fields)
    WORSE[name](worse[f"before.{name}"], random.Random(number_of))
    first, second = state_of(kind, fields, masses), state_of(kind, worse, masses)
    assert RANK[second["verdict"]] >= RANK[first["verdict"]], (first["verdict"], second["verdict"])


@settings(max_examples=100, suppress_health_check=SLOW)
@given(near_jobs(), st.randoms())
def test_the_order_of_cells_and_repeats_of_a_job_does_not_matter(job, order):
    kind, fields, masses = job
    other, stage = copy.deepcopy(fields), "after" if masses else "before"
    order.shuffle(other[f"{stage}.rod"]["cells"])
    blown = other[f"{stage}.flow"]
    drops = [blown[name] for name in DROPS if name in blown]
    order.shuffle(drops)
    blown.update(zip(DROPS, drops, strict=False))
    one, two = state_of(kind, fields, masses), state_of(kind, other, masses)
    assert (one["before"], one["after"], one["verdict"]) == (two["before"], two["after"], two["verdict"])
