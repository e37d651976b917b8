"""The photos that a report names: what is drawn, what it still waits for, what was given up and why."""

from collections.abc import Callable

from ..checklist import show
from ..photos import named
from ..trade.words import sentence
from .records import Records

WAITS = {"state": "waits", "reason": "", "by": "", "at": ""}


def photo_rows(records: Records, standing: dict[str, dict[str, str]], words: dict[str, str],
               when: Callable[[str], str]) -> list[dict[str, str]]:
    """[{"sha256", "state", "caption", "text"}] of every photo of the readings, in the order of the steps.

    standing: hash → how it stands (webform.photos.standing). text: why there is no picture, "" where there is one.
    """
    found = []
    for photo in named([records.job, *records.rounds]):
        held = standing.get(photo["sha256"], WAITS)
        step, stage = photo["step"], photo["field"].partition(".")[0]
        title = words.get("report.test." + step.name, show.title_of(step, words))
        if step.is_staged:
            title = sentence(words, "report.photo_of", {"test": title, "stage": words["report." + stage].lower()})
        person = words["desk.office"] if held["by"].startswith("desk:") else records.name(held["by"])
        told = {"here": "", "waits": words["report.photo_waits"], "lost": sentence(words, "report.photo_lost", {
            "reason": held["reason"], "person": person, "when": when(held["at"])})}
        found.append({"sha256": photo["sha256"], "state": held["state"], "text": told[held["state"]],
                      "caption": title + ", " + sentence(words, "report.photo_taken", {"when": when(photo["taken_at"])})})
    return found


def photo_alarms(rows: list[dict[str, str]], words: dict[str, str]) -> list[str]:
    """What the head of the report says of photos that are not there."""
    counts = {state: sum(row["state"] == state for row in rows) for state in ("waits", "lost")}
    return [sentence(words, "report.photos_" + {"waits": "wait", "lost": "lost"}[state], {"count": count})
            for state, count in counts.items() if count]
