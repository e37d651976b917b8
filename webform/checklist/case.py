"""From standing answers to the state of a job: verdicts, open questions, and what a sign-off is worth.

job_state() is what the phone, the desk and the report show; all three call this one function. Invariants:
- two different answers in anything that feeds the verdict never read OK to reinstall, nor does a job whose filter has a
  second open job, whose tag leads to two filters, or which was voided while somebody edited it;
- a job that is void reads hold and is issued as nothing; a round that is void was never there;
- a sign-off "OK to reinstall" stands only on the evidence that its author saw (equal values don't count as changed),
  by a person who may sign, and never over a proven replace;
- a sign-off made under another calculation stands unless this one reads worse than what its author was shown;
- the same answers give the same state, whatever order the views come in.
Portable Python.
"""

from ..trade.judge import judge
from .book import Book
from .evidence import changed_since, evidence
from .given import case_of, rules_of
from .marks import marks, report_given

# Worse for the filter first.
WORSE = ("replace", "hold", "clean_again", "clean", "ok_to_reinstall")
MOST_COMBINATIONS = 32


def job_state(job_id, views, rules=None, calculation=""):
    """The state of one job: its stage, its verdicts, what is open, and what may be shown as decided.

    views: {record id: view} holding the job and, where known, its filter, the filter's model, the job's rounds, the
    other jobs of the filter, the people, the shop's thresholds and the checks that readings name. rules: thresholds to
    judge by instead of the shop's. calculation: the hash of the calculation, for the basis of a sign-off and to tell one
    that was made under another. Shape of the answer: DEVELOPERS.md, "Job state".
    """
    book = Book(job_id, views)
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
        why.append({"code": "state.second_open_job", "values": {}})
    if book.tags_bound_twice():
        why.append({"code": "state.tag_bound_twice", "values": {}})
    if book.disputed_voids():
        why.append({"code": "state.void_beside_edit", "values": {}})
    is_void = book.void is not None and book.void["stands"]
    if is_void:
        why.append({"code": "state.void", "values": {"reason": book.void["reason"]}})
    # Better than this nothing makes it: a release lifts the missing limit of a verdict, never a question that is open.
    floor = "hold" if is_void or (why and shown != "replace") else "ok_to_reinstall"
    proof = evidence(book)
    if not is_void:
        floor = worst_of([floor] + _of_bricks(book, proof, rules, calculation, why))
    shown = "hold" if is_void else worst_of([shown, floor])
    signoff, shown = _signed(book, shown, first, proof, rules, why, calculation)
    shown = "hold" if is_void else worst_of([shown, floor])
    return {
        "job": job_id, "stage": book.stage(), "before": first["before"], "after": first["after"], "verdict": shown,
        "calculated": first["now"]["verdict"], "is_close": first["now"]["close"], "why": why,
        "two_answers": [{"record": record, "field": field} for record, field, _count in book.all_open()],
        "void": book.void, "signoff": signoff, "marks": marks(book),
        "report": report_given(book, lambda verdict: is_worse(shown, verdict)),
        "may_issue": not is_void and signoff is not None and signoff["stands"] and shown == signoff["decision"],
        "evidence": proof, "calculation": calculation, "rules": first["now"]["rules"],
    }


def basis_of(state):
    """What a sign-off made on this screen stands on: goes into the change's basis."""
    return {"evidence": state["evidence"], "verdict": state["verdict"], "calculated": state["calculated"],
            "calculation": state["calculation"], "rules": state["rules"]}


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


def is_worse(code, than):
    """Whether a verdict is worse for the filter than another; worse than a text that is no verdict are all but the best."""
    return WORSE.index(code) < (WORSE.index(than) if than in WORSE else len(WORSE) - 1)


def _of_bricks(book, proof, rules, calculation, why):
    """The verdicts of a one-box's bricks, each judged by its own job; adds to proof and why."""
    found = []
    for brick, job in book.bricks():
        state = None if job is None else job_state(job, book.views, rules, calculation)
        verdict = "hold" if state is None else state["verdict"]
        name = book.used(brick, "serial") or brick["record"]
        if state is not None:
            for entry in sorted(state["evidence"]):
                proof[entry] = state["evidence"][entry]
        if verdict != "ok_to_reinstall":
            why.append({"code": "state.brick" if state is not None else "state.brick_unread",
                        "values": {"brick": name, "verdict": verdict}})
        found.append(verdict)
    return found


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
    rules = rules or rules_of(book)
    before = judge(case_of(book, "before", rules, released))
    after = judge(case_of(book, "after", rules, released)) if book.stage() == "after" else None
    return {"before": before, "after": after, "now": after if after is not None else before}


def _signed(book, shown, verdicts, proof, rules, why, calculation):
    """The sign-off in force and what the job shows with it; adds to why."""
    answers = book.answers(book.job, "signoff")
    if not answers:
        return None, shown
    decisions = [answer["value"]["decision"] for answer in answers]
    decision = worst_of(decisions)
    answer = answers[decisions.index(decision)]
    is_disputed = book.job["fields"]["signoff"]["open"]
    changed = changed_since(answer.get("basis"), proof)
    if verdicts["now"]["verdict"] == "ok_to_reinstall":  # the shop learned or tightened a limit, and the filter keeps it
        changed = [name for name in changed if not _is_shop_limit(name)]
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
    if decision == "ok_to_reinstall" and (shown == decision or _is_lifted(book, signoff, shown, verdicts, rules)):
        return signoff, decision
    now = verdicts["now"]["verdict"]
    seen = _seen_before(answer.get("basis") or {}, calculation)
    if seen is not None and decision != "replace" and is_worse(now, seen):
        signoff["stands"] = False
        why.append({"code": "state.calculation_changed", "values": {"seen": seen, "verdict": now}})
        return signoff, worst_of([shown, "hold"])
    if decision == "ok_to_reinstall":
        signoff["stands"] = False
        why.append({"code": "state.signed_over", "values": {"verdict": shown}})
        return signoff, worst_of([shown, "hold"])
    return signoff, worst_of([shown, decision]) if decision == "replace" or shown == "replace" else decision


def _seen_before(basis, calculation):
    """What another calculation than this one had shown to the author of a sign-off; None where it was this one.

    What was calculated counts: a question that was open then is no figure of the calculation.
    """
    if basis.get("calculation") == calculation:
        return None
    seen = basis.get("calculated", basis.get("verdict"))
    return seen if seen in WORSE else "ok_to_reinstall"


def _is_lifted(book, signoff, shown, verdicts, rules):
    """Whether an OK with a reason lifts the verdict: the release of a missing flow limit is the only one that may."""
    if shown != verdicts["now"]["verdict"] or not signoff["reason"]:
        return False
    person = book.views[signoff["person"]]  # who may sign is in the books
    lifted = _verdicts(book, rules, {"person": book.used(person, "name") or signoff["person"], "reason": signoff["reason"]})
    if lifted["now"]["verdict"] != "ok_to_reinstall":
        return False
    released = ("before",) if lifted["after"] is None else ("after",)  # what stood before cleaning was never released
    for stage in released + ("now",):
        verdicts[stage] = lifted[stage]
    return True


def _is_shop_limit(name):
    """Whether a piece of evidence is the shop's own limit: it may move without shaking a job that still passes."""
    return name == "shop:rules/rules" or (name.startswith("model:") and name.endswith("/own"))


def _may_sign(book, answer):
    person = book.views.get(answer["value"]["person"])
    return person is not None and book.used(person, "may_sign") == "yes"

