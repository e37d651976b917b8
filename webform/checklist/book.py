"""The records of one job read together: what is in use, what is open, which stage it is in. Portable Python.

Where two answers stand, `choice` says which of them is taken for now, so that every combination can be judged.
"""

from ..trade.weight import is_cold_and_dry
from .declaration import READINGS
from .links import group_of
from .lookup import feeds_verdict
from .void import is_void, void_of


class Book:
    """The records of one job, with one choice made for every two answers."""

    def __init__(self, job_id, views):
        self.job_id = job_id
        self.views = views
        self.choice = {}
        job = views.get(job_id)
        self.job = job if job is not None else {"record": job_id, "kind": "job", "fields": {}}
        self.filter = views.get(self.used(self.job, "filter") or "")
        self.model = views.get(self.used(self.filter, "model") or "") if self.filter is not None else None
        mine = self.used(self.job, "filter")
        self.filters = group_of(mine, views) if mine is not None else []
        self.every_round = self._rounds()
        self.rounds = [view for view in self.every_round if not is_void(view)]
        self.void = void_of(self.job, self.every_round)
        self.shop = views.get("shop:rules")

    def _rounds(self):
        """The rounds of this job, void ones too, in the order in which they were begun."""
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            if view["kind"] == "round" and self.used(view, "job") == self.job_id:
                found.append((first_lamport(view), record, view))
        ordered = sorted(found, key=lambda entry: entry[:2])  # portable: no two records are the same
        return [view for _lamport, _record, view in ordered]

    def disputed_voids(self):
        """The records that were voided while, or before, somebody else answered something in them: (record, void)."""
        found = [(view["record"], void_of(view)) for view in self.every_round] + [(self.job_id, self.void)]
        return [(record, void) for record, void in found if void is not None and not void["stands"]]

    def tags_bound_twice(self):
        """Tags that lead to this filter and to another one that is not known to be the same."""
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            targets = [answer["value"] for answer in self.answers(view, "filter")] if view["kind"] == "tag" else []
            inside = [target for target in targets if target in self.filters]
            if inside and len(inside) != len(targets):
                found.append(record)
        return found

    def bricks(self):
        """The bricks of this one-box, each with its job that was opened last, or None: [(filter view, job id)]."""
        if self.used(self.filter, "unit_kind") != "one_box":
            return []
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            if view["kind"] == "filter" and self.used(view, "box") in self.filters and record not in self.filters:
                found.append((view, self._latest_job(record)))
        return found

    def _latest_job(self, filter_id):
        jobs = self._jobs_of([filter_id])
        return jobs[len(jobs) - 1]["record"] if jobs else None

    def _jobs_of(self, filters):
        """The jobs of these filters that are not void, in the order in which they were opened."""
        found = []
        for record in sorted(self.views):
            view = self.views[record]
            if view["kind"] == "job" and self.used(view, "filter") in filters and not is_void(view):
                found.append((first_lamport(view), record, view))
        ordered = sorted(found, key=lambda entry: entry[:2])  # portable: no two records are the same
        return [view for _lamport, _record, view in ordered]

    def records(self):
        """The records whose answers the calculation is given."""
        known = [view for view in (self.job, self.filter, self.model, self.shop) if view is not None]
        return known + self.rounds + self._instruments()

    def _instruments(self):
        """The checks that the readings name and the instruments that were checked, each once."""
        found = {}
        for view in [self.job] + self.rounds:
            for field in sorted(view["fields"]):
                for answer in view["fields"][field]["answers"]:
                    check = self.named(answer["value"], "check")
                    if check is None:
                        continue
                    found[check["record"]] = check
                    for reading in self.answers(check, "reading"):
                        instrument = self.named(reading["value"], "instrument")
                        if instrument is not None:
                            found[instrument["record"]] = instrument
        return [found[record] for record in sorted(found)]

    def named(self, value, field):
        """The view of the record that a field of a whole answer names, or None."""
        name = value.get(field) if isinstance(value, dict) else None
        return self.views.get(name) if isinstance(name, str) else None

    def earlier_weight(self):
        """The last weight after cleaning of this filter's other signed jobs, as stored; None where there is none."""
        found = None
        for view in self._jobs_of(self.filters):
            weight, opened = self.used(view, "after.weight"), (first_lamport(view), view["record"])
            is_earlier = view["record"] != self.job_id and opened < (first_lamport(self.job), self.job_id)
            if is_earlier and is_cold_and_dry(weight) and self.answers(view, "signoff"):
                found = weight
        return found

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
        if view["fields"][field]["used"] is not None:  # settled, or harmless: then the later answer is used meanwhile
            return view["fields"][field]["used"]
        return answers[chosen if chosen < len(answers) else 0]["value"]

    def all_open(self):
        """Every field of these records in which two answers stand: (record, field, number of answers)."""
        found = []
        for view in self.records():
            for field in sorted(view["fields"]):
                if view["fields"][field]["open"] and (view["kind"] != "shop" or feeds_verdict("shop", field)):
                    found.append((view["record"], field, len(view["fields"][field]["answers"])))
        return found

    def forks(self):
        """Those two answers that can change the verdict; of harmless ones the later is used and nobody is stopped."""
        known = {view["record"]: view for view in self.records()}
        return [(record, field, count) for record, field, count in self.all_open()
                if feeds_verdict(known[record]["kind"], field) and known[record]["fields"][field]["used"] is None]

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
        """Other jobs of this filter, under any of its names, that are neither signed nor void.

        For a signed job only those that were opened before it was signed.
        """
        signed = [answer["lamport"] for answer in self.answers(self.job, "signoff")]
        return sorted([view["record"] for view in self._jobs_of(self.filters)
                       if view["record"] != self.job_id and not self.answers(view, "signoff")
                       and (not signed or first_lamport(view) < min(signed))])


def first_lamport(view):
    """The lowest lamport among a record's standing answers: when it was opened, as far as clocks can be trusted."""
    lowest = None
    for field in sorted(view["fields"]):
        for answer in view["fields"][field]["answers"]:
            if lowest is None or answer["lamport"] < lowest:
                lowest = answer["lamport"]
    return lowest or 0
