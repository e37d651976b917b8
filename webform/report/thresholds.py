"""Which thresholds a report was judged by: the starting ones, or the shop's own with who set them and when."""

from collections.abc import Callable

from ..trade.words import sentence
from .records import Records

SHOP = "shop:rules"


def thresholds(records: Records, rules: str, words: dict[str, str], when: Callable[[str], str]) -> str:
    """A sentence. rules: the rule revision of the job's state, "start-4" or "start-4+ID of the answer that set them"."""
    _start, _, answer_id = rules.partition("+")
    if not answer_id:
        return sentence(words, "report.rules_start", {"rules": rules})
    held = records.views.get(SHOP, {"fields": {}})["fields"].get("rules", {"answers": []})
    for answer in held["answers"]:
        if answer["id"] == answer_id:
            person = words["desk.office"] if answer["by"].startswith("desk:") else records.name(answer["by"])
            return sentence(words, "report.rules_own", {"person": person, "when": when(answer["at"]), "rules": rules})
    return sentence(words, "report.rules_own_only", {"rules": rules})
