"""Whole jobs as records, for the report's tests: worked filters A and C. All names and readings are invented."""

from tests.checklist.views import (
    FILTER,
    KIM,
    MODEL,
    NO_LIGHT,
    VISUAL,
    answer,
    book,
    flow,
    number,
    rod,
    view,
    weight,
)
from webform.checklist.case import basis_of, job_state
from webform.report.content import content
from webform.report.records import Records
from webform.words import catalogue

WORDS = catalogue()
PRINTED_AT = "2026-11-26T09:05:00.000Z"
OWNER = view("owner:o", {"name": "Mara Quill", "contact": "not printed"})
SHOP = view("shop:shop", {"name": "Invented Filter Works", "address": "1 Test Lane"})
CHECK_IN = {"work_order": "WO-4711", "truck": "TEST 17", "owner": "owner:o", "complaint": ["no_power", "regen_often"],
            "oil_top_up": "some", "engine_hours": number("9800", "h")}

# A: 24 cells soft at 170 of 290 mm; 14,480 g and 2.75 inH2O as found; 13,780 g and 1.78 inH2O when dry: 700 g came off.
A_BEFORE = {"before.visual": VISUAL, "before.weight": weight("14480"), "before.rod": rod((24, "soft", "170")),
            "before.light": NO_LIGHT, "before.flow": flow("2.75")}
A_AFTER = {"after.visual": VISUAL, "after.weight": weight("13780"), "after.rod": rod((24, "free", None)),
           "after.light": NO_LIGHT, "after.flow": flow("1.78")}
# C: 14 of 24 cells hard at 145 of 290 mm, 58 %; the last round took off 13,900 - 13,892 = 8 g; the flow passes.
C_AFTER = {"after.visual": VISUAL, "after.weight": weight("13892"),
           "after.rod": rod((14, "hard", "145"), (10, "free", None)), "after.light": NO_LIGHT,
           "after.flow": flow("1.90")}


def round_of(name, lamport, method="oven", after=None):
    """One cleaning round of the job."""
    fields = {"job": [answer("job:j", f"d.r.j{name}", lamport=lamport)],
              "treatment": {"method": method, "minutes": number("480", "min")}}
    if method == "oven":
        fields["treatment"]["temperature"] = number("600", "°C")
    if after is not None:
        fields["weight"] = after
    return view("round:" + name, fields)


A_ROUND = round_of("1", 5, "wash", weight("14520", "warm", "wet"))
C_ROUNDS = (round_of("1", 5, after=weight("13900")), round_of("2", 6, after=weight("13892")))


def report(readings, *others, signed=None, reason="", model=MODEL, calculation="c0ffee0123456789", **fields):
    """The content of the report of one job, signed with a decision or not."""
    records, state = job(readings, *others, model=model, calculation=calculation, **fields)
    if signed is not None:
        made = {"decision": signed, "reason": reason, "person": "person:kim"}
        signoff = [answer(made, "d.r.sign", lamport=50, basis=basis_of(state))]
        records, state = job(readings, *others, model=model, calculation=calculation, signoff=signoff, **fields)
    return content(records, state, WORDS, PRINTED_AT)


def job(readings, *others, model=MODEL, calculation="", **fields):
    """(records, state) of one job."""
    made = view("job:j", {"filter": "filter:f", **CHECK_IN, **readings, **fields})
    views = book(made, FILTER, model, KIM, OWNER, SHOP, *others)
    return Records("job:j", views, ["7K3M9QX07"]), job_state("job:j", views, calculation=calculation)
