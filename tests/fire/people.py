"""What persons write in these schedules, and what they had seen when they did. Records, names and figures are invented."""

from sync import merge
from tests.checklist.views import NO_LIGHT, VISUAL, flow, number, rod, weight
from webform.checklist.case import basis_of, job_state

PEOPLE = ("person:kim", "person:ravn", "person:io")
JOBS = ("job:one", "job:two", "job:three")
FILTER_OF = dict(zip(JOBS, ("filter:one", "filter:two", "filter:three"), strict=True))
TAGS = ("tag:7K3M9QX07", "tag:4T8WFHC71")
READINGS = ("after.flow", "after.weight", "after.light", "after.rod", "after.visual")

SEEDS = [
    ("model:m", {"number": "TEST-290", "depth": number("290", "mm"), "spec": {
        "low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
        "origin": "invented for tests", "revision": "1"}}),
    *[(person, {"name": person.partition(":")[2], "may_sign": "yes"}) for person in PEOPLE],
    *[(FILTER_OF[job], {"unit_kind": "wall_flow", "model": "model:m", "serial": f"S-{job[4:]}"}) for job in JOBS],
    *[(tag, {"filter": "filter:one"}) for tag in TAGS],
    *[(job, {"filter": FILTER_OF[job], "truck": "T 1", "before.weight": weight("14480"), "before.flow": flow("2.75"),
             "after.visual": VISUAL, "after.weight": weight("13780"), "after.rod": rod((24, "free", None)),
             "after.light": NO_LIGHT, "after.flow": flow("1.78")}) for job in JOBS],
]


def answers_of(rng):
    """(record, answers) that somebody gives now."""
    job = rng.choice(JOBS)
    return rng.choice((
        lambda: (job, {"after.flow": flow(f"1.{rng.randrange(60, 99)}")}),
        lambda: (job, {"after.flow": flow(f"{rng.randrange(2, 9)}.1")}),
        lambda: (job, {"after.weight": weight(str(13700 + rng.randrange(90)))}),
        lambda: (job, {"after.light": {"kind": rng.choice(("none", "crack", "melted"))}}),
        lambda: (job, {"truck": f"T {rng.randrange(3)}"}),
        lambda: (job, {"note": f"note {rng.randrange(99)} é"}),
        lambda: (job, {"note": f"both {rng.randrange(99)}", "odometer": number(str(rng.randrange(10**6)), "km")}),
        lambda: (job, {"owner_answer": {"answer": rng.choice(("clean", "replace"))}}),
        lambda: (rng.choice(TAGS), {"filter": rng.choice(sorted(FILTER_OF.values()))}),
        lambda: (FILTER_OF[job], {"serial": f"S-{rng.randrange(4)}"}),
        lambda: (f"round:{rng.randrange(10**9)}", {"job": job, "treatment": {
            "method": "oven", "minutes": number("480", "min"), "temperature": number("600", "°C")}}),
    ))()


def seen_by(tab, record, fields):
    """Field → the ids of the answers that stand on this tab's screen."""
    shown = tab.snapshot(record)
    return {field: [answer["id"] for answer in merge.standing(shown, field)] for field in fields}


def edit(tab, rng, schema):
    """An edit that begins now: what is said, and what stood on the screen."""
    record, answers = answers_of(rng)
    return {"record": record, "set": answers, "seen": seen_by(tab, record, answers), "basis": None, "schema": schema}


def sign_off(tab, job, rng, schema):
    """A sign-off that begins now: the decision that the screen proposes, on the evidence that the screen shows."""
    person = rng.choice(PEOPLE)
    state = job_state(job, {record: tab.view(record) for record in tab.records() if tab.view(record)})
    return {"record": job, "set": {"signoff": {"decision": state["verdict"], "person": person}},
            "seen": seen_by(tab, job, ["signoff"]), "basis": basis_of(state), "schema": schema,
            "evidence": readings_in(tab.snapshot(job)["heads"])}


def readings_in(heads):
    """The values of the readings of a job that stand, as one text: what a sign-off must not outlive."""
    return merge.canonical({field: sorted({merge.canonical(answer["value"]) for answer in heads.get(field, [])})
                            for field in READINGS})
