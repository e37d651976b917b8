"""What the owner does next: common practice, no source, chosen by the verdict and by what the check-in told."""

from ..trade.words import sentence
from .records import Records


def steps_ahead(records: Records, state: dict, words: dict[str, str]) -> list[str]:
    """The next steps in words, the first one first."""
    verdict = state["verdict"]
    found = [words[key] for key in _by_verdict(verdict, _owner_says(records))]
    if verdict == "hold":
        stage = state["after"] or state["before"]
        found = stage["texts"]["missing"] + stage["texts"]["settle"] + found
    told = {name: records.values(records.job, name) for name in ("oil_top_up", "complaint")}
    if any(value in ("some", "much") for value in told["oil_top_up"]):
        found.append(words["report.next.oil"])
    if any(code in ("regen_often", "regen_fails") for value in told["complaint"] for code in value):
        found.append(words["report.next.regen"])
    for value in records.values(records.job, "before.visual"):
        if value.get("wet") in ("oil", "fuel", "coolant"):
            found.append(sentence(words, "report.next.wet", {"wet": value["wet"]}))
    return list(dict.fromkeys(found))


def _owner_says(records: Records) -> str:
    answers = records.values(records.job, "owner_answer")
    return answers[0].get("answer", "") if len(answers) == 1 else ""


def _by_verdict(verdict: str, owner_says: str) -> list[str]:
    """The catalogue's keys for a verdict, given what the owner wants."""
    if owner_says == "return_uncleaned" and verdict != "ok_to_reinstall":
        return ["report.next.return"]
    if verdict == "ok_to_reinstall":
        return ["report.next.ok_gasket", "report.next.ok_counter"]
    if verdict == "clean":
        return ["report.next.clean" if owner_says in ("clean", "try_once") else "report.next.asked_clean"]
    if verdict == "clean_again":
        return ["report.next.clean_again"]
    if verdict == "replace":
        return ["report.next.replace", "report.next.replace_cause"]
    return ["report.next.hold"]
