"""From standing answers to the calculation's case, and from its verdict to the state of a job.

job_state() is what the phone, the desk and the report show; all three call this one function. Invariants:
- two different answers in anything that feeds the verdict never read OK to reinstall;
- a sign-off "OK to reinstall" stands only on the evidence that its author saw (equal values don't count as changed),
  by a person who may sign, and never over a proven replace;
- the same answers give the same state, whatever order the views come in.
Portable Python.
"""

from ..trade import rules as trade_rules
from ..trade.judge import judge
from .check import as_si
from .declaration import READINGS
from .evidence import changed_since, evidence
from .lookup import feeds_verdict

# Worse for the filter first.
WORSE = ("replace", "hold", "clean_again", "clean", "ok_to_reinstall")
MOST_COMBINATIONS = 32


def job_state(job_id, views, rules=None, calculation=""):
    """The state of one job: its stage, its verdicts, what is open, and what may be shown as decided.

    views: {record id: view} holding the job and, where known, its filter, the filter's model, the job's rounds, the
    other jobs of the filter and the people. rules: the shop's thresholds, or None for the start values. calculation:
    the hash of the calculation, for the basis of a sign-off. Shape of the answer: DEVELOPERS.md, "Job state".
    """
    rules = rules or trade_rules.START
    book = _Book(job_id, views)
    forks = book.forks()
    verdicts = _alternatives(book, forks, rules)
    first = verdicts[0]
    shown, why = first["now"]["verdict"], []
    if forks:
        worst = worst_of([pair["now"]["verdict"] for pair in verdicts])
        is_sure = worst == "replace" and best_of([pair["now"]["verdict"] for pair in verdicts]) == "replace"
        shown = "replace" if is_sure and len(verdicts) < MOST_COMBINATIONS else "hold"
        why.append({"code": "state.two_answers", "values": {"worse": worst}})
    if book.other_open_jobs():
        shown = worst_of([shown, "hold"])
        why.append({"code": "state.second_open_job", "values": {}})
    proof = evidence(book)
    signoff, shown = _signed(book, shown, first, proof, rules, why)
    return {
        "job": job_id, "stage": book.stage(), "before": first["before"], "after": first["after"], "verdict": shown,
        "calculated": first["now"]["verdict"], "is_close": first["now"]["close"], "why": why,
        "two_answers": [{"record": record, "field": field} for record, field, _count in book.all_open()],
        "signoff": signoff, "may_issue": signoff is not None and signoff["stands"] and shown == signoff["decision"],
        "evidence": proof, "calculation": calculation, "rules": rules["revision"],
    }


def basis_of(state):
    """What a sign-off made on this screen stands on: goes into the change's basis."""
    return {"evidence": state["evidence"], "verdict": state["verdict"], "calculation": state["calculation"],
            "rules": state["rules"]}


def worst_of(codes):
    """The verdict that is worst for the filter."""
    for code in WORSE:
        if code in codes:
            return code
    return "hold"


def best_of(codes):
    """The verdict that is best for the filter."""
    found = "replace"
    for code in WORSE:
        if code in codes:
            found = code
    return found


class _Book:
    """The records of one job, with one choice made for every two answers."""

    def __init__(self, job_id, views):
        self.job_id = job_id
        self.views = views
        self.choice = {}
        job = views.get(job_id)
        self.job = job if job is not None else {"record": job_id, "kind": "job", "fields": {}}
        self.filter = views.get(self.used(self.job, "filter") or "")
        self.model = views.get(self.used(self.filter, "model") or "") if self.filter is not None else None
        self.rounds = self._rounds()

    def _rounds(self):
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            if view["kind"] == "round" and self.used(view, "job") == self.job_id:
                found.append((_first_lamport(view), record, view))
        return [view for _lamport, _record, view in sorted(found, key=lambda entry: entry[:2])]

    def records(self):
        """The records whose answers the calculation is given."""
        known = [view for view in (self.job, self.filter, self.model) if view is not None]
        return known + self.rounds

    def answers(self, view, field):
        """The standing answers of a field, none where there is no such field."""
        if view is None or field not in view["fields"]:
            return []
        return view["fields"][field]["answers"]

    def used(self, view, field):
        """The value in use: the chosen one of two answers, else the settled one, else None."""
        answers = self.answers(view, field)
        if not answers:
            return None
        chosen = self.choice.get((view["record"], field), 0)
        if not view["fields"][field]["open"]:
            return view["fields"][field]["used"]
        return answers[chosen if chosen < len(answers) else 0]["value"]

    def all_open(self):
        """Every field of these records in which two answers stand: (record, field, number of answers)."""
        found = []
        for view in self.records():
            for field in sorted(view["fields"]):
                if view["fields"][field]["open"]:
                    found.append((view["record"], field, len(view["fields"][field]["answers"])))
        return found

    def forks(self):
        """Those two answers that can change the verdict."""
        kinds = {view["record"]: view["kind"] for view in self.records()}
        return [entry for entry in self.all_open() if feeds_verdict(kinds[entry[0]], entry[1])]

    def stage(self):
        """"after" as soon as a cleaning round or an after-reading is in the book, else "before"."""
        for view in self.rounds:
            if self.answers(view, "treatment"):
                return "after"
        for name in READINGS:
            value = self.used(self.job, "after." + name)
            if value is not None and "skipped" not in value:
                return "after"
        return "before"

    def other_open_jobs(self):
        """Other jobs of the same filter without a sign-off; for a signed job only those opened before it was signed."""
        mine = self.used(self.job, "filter")
        signed = [answer["lamport"] for answer in self.answers(self.job, "signoff")]
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            if mine is None or view["kind"] != "job" or record == self.job_id or self.used(view, "filter") != mine:
                continue
            if not self.answers(view, "signoff") and (not signed or _first_lamport(view) < min(signed)):
                found.append(record)
        return found


def _first_lamport(view):
    lowest = None
    for field in sorted(view["fields"]):
        for answer in view["fields"][field]["answers"]:
            if lowest is None or answer["lamport"] < lowest:
                lowest = answer["lamport"]
    return lowest or 0


def _alternatives(book, forks, rules):
    """The verdicts for each way of answering the open questions; the first uses the first answers."""
    found = []
    total = 1
    for _record, _field, count in forks:
        total = total * count
    for number in range(min(total, MOST_COMBINATIONS)):
        rest = number
        for record, field, count in forks:
            book.choice[(record, field)] = rest % count
            rest = rest // count
        found.append(_verdicts(book, rules))
    book.choice = {}
    return found


def _verdicts(book, rules, released=None):
    before = judge(case_of(book, "before", rules, released))
    after = judge(case_of(book, "after", rules, released)) if book.stage() == "after" else None
    return {"before": before, "after": after, "now": after if after is not None else before}


def case_of(book, stage, rules, released=None):
    """The calculation's case for one stage; shape in DEVELOPERS.md, "Case". Numbers become SI here."""
    before = {name: _reading(book, "before", name) for name in READINGS}
    after = {name: _reading(book, "after", name) for name in READINGS}
    rounds = [_round(book, view) for view in book.rounds]
    if after["weight"] is None and book.rounds:
        after["weight"] = _weight(book.used(book.rounds[len(book.rounds) - 1], "weight"))
    return {
        "stage": stage,
        "unit_kind": book.used(book.filter, "unit_kind") or "wall_flow",
        "brick": {"depth_m": as_si(book.used(book.model, "depth"))},
        "spec": _spec(book.used(book.model, "spec")),
        "rules": rules,
        "readings": before if stage == "before" else after,
        "before": None if stage == "before" else before,
        "rounds": [] if stage == "before" else rounds,
        "released": released,
    }


def _reading(book, stage, name):
    value = book.used(book.job, stage + "." + name)
    if value is None:
        return None
    if "skipped" in value:
        return {"skipped": value["skipped"]}
    if name == "weight":
        return _weight(value)
    if name == "rod":
        cells = [{"feel": cell["feel"], "depth_m": as_si(cell.get("depth")), "short_m": as_si(cell.get("short"))}
                 for cell in value["cells"]]
        return {"full_depth_m": as_si(value.get("full_depth")), "cells": cells}
    if name == "light":
        return _light(value)
    if name == "flow":
        drops = [as_si(value.get(key)) for key in ("drop", "drop_2", "drop_3")]
        return {"drops_pa": [drop for drop in drops if drop is not None], "bench": value["bench"]}
    return {key: value.get(key) for key in ("outlet", "brick", "can", "wet")}


def _weight(value):
    if value is None:
        return None
    if "skipped" in value:
        return {"skipped": value["skipped"]}
    mass_kg = as_si(value["mass"])
    fitted_kg = as_si(value.get("fitted_mass")) if value.get("fitted") else None
    if fitted_kg is not None:
        mass_kg = mass_kg - fitted_kg
    return {"mass_g": mass_kg * 1000.0, "temperature": value["temperature"], "moisture": value["moisture"]}


def _light(value):
    if value["kind"] != "cells":
        return {"kind": value["kind"], "lit": "none", "count": None}
    count = as_si(value.get("count"))
    return {"kind": "cells", "lit": value["lit"], "count": None if count is None else int(count)}


def _round(book, view):
    treatment = book.used(view, "treatment") or {}
    weight = _weight(book.used(view, "weight"))
    is_final = weight is not None and weight.get("temperature") == "cold" and weight.get("moisture") == "dry"
    seconds = as_si(treatment.get("minutes"))
    return {
        "method": treatment.get("method"),
        "minutes": None if seconds is None else seconds / 60.0,
        "temperature_k": as_si(treatment.get("temperature")) if treatment.get("method") == "oven" else None,
        "mass_g": weight["mass_g"] if is_final else None,
    }


def _spec(value):
    if value is None:
        return None
    return {"low_pa": as_si(value["low"]), "high_pa": as_si(value["high"]), "u_pa": as_si(value["uncertainty"]),
            "origin": value["origin"], "revision": value["revision"]}


def _signed(book, shown, verdicts, proof, rules, why):
    """The sign-off in force and what the job shows with it; adds to why."""
    answers = book.answers(book.job, "signoff")
    if not answers:
        return None, shown
    decisions = [answer["value"]["decision"] for answer in answers]
    decision = worst_of(decisions)
    answer = answers[decisions.index(decision)]
    is_disputed = book.job["fields"]["signoff"]["open"]
    changed = changed_since(answer.get("basis"), proof)
    may_sign = _may_sign(book, answer)
    signoff = {
        "decision": decision, "reason": answer["value"].get("reason", ""), "person": answer["value"]["person"],
        "at": answer["at"], "id": answer["id"], "changed": changed, "may_sign": may_sign, "is_disputed": is_disputed,
        "stands": not changed and may_sign and not is_disputed,
    }
    if is_disputed:
        why.append({"code": "state.two_signoffs", "values": {}})
        return signoff, worst_of([shown, "hold", decision])
    if not may_sign:
        why.append({"code": "state.may_not_sign", "values": {}})
        return signoff, worst_of([shown, "hold"])
    if changed:
        if decision == "ok_to_reinstall":
            why.append({"code": "state.evidence_changed", "values": {}})
            return signoff, worst_of([shown, "hold"])
        why.append({"code": "state.signed_earlier", "values": {}})
        return signoff, worst_of([shown, "replace"]) if decision == "replace" else shown
    if decision != "ok_to_reinstall":
        return signoff, worst_of([shown, decision]) if decision == "replace" or shown == "replace" else decision
    return signoff, _released(book, signoff, shown, verdicts, rules, why)


def _released(book, signoff, shown, verdicts, rules, why):
    """What an OK in force shows: the release of a missing flow limit is the only verdict that a person may lift."""
    if shown == "ok_to_reinstall":
        return shown
    if shown == verdicts["now"]["verdict"] and signoff["reason"]:
        released = {"person": signoff["person"], "reason": signoff["reason"]}
        lifted = _verdicts(book, rules, released)
        if lifted["now"]["verdict"] == "ok_to_reinstall":
            verdicts["before"], verdicts["after"], verdicts["now"] = lifted["before"], lifted["after"], lifted["now"]
            return "ok_to_reinstall"
    signoff["stands"] = False
    why.append({"code": "state.signed_over", "values": {"verdict": shown}})
    return worst_of([shown, "hold"])


def _may_sign(book, answer):
    person = book.views.get(answer["value"]["person"])
    return person is not None and book.used(person, "may_sign") == "yes"

