"""The words on screen and paper, one flat JSON file a language: {"verdict.clean": "Clean", ...}.

Keys that a language lacks fall back to English, so that no screen is ever empty.
"""

import functools
import json
from importlib.resources import files

FALLBACK = "en"


def languages() -> list[str]:
    """The codes of the languages on file, sorted."""
    return sorted(entry.name[:-5] for entry in files(__name__).iterdir() if entry.name.endswith(".json"))


def catalogue(language: str = FALLBACK) -> dict[str, str]:
    """The whole catalogue of a language; English where the language or one of its keys is missing."""
    words = dict(_read(FALLBACK))
    if language != FALLBACK and language in languages():
        words.update(_read(language))
    return words


@functools.cache
def _read(language: str) -> dict[str, str]:
    text = files(__name__).joinpath(language + ".json").read_text(encoding="utf-8")
    return dict(json.loads(text))
