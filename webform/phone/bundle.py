"""The Python that the phone runs: the same files as the server's, as one dict of names and texts, and their hash."""

import hashlib
import json
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOLDERS = ("webform/trade", "webform/checklist")
SINGLE = ("sync/merge.py",)
# Packages whose own __init__ is the server's business stand empty on the phone.
STUBS = ("webform/__init__.py", "sync/__init__.py")


def shared_files() -> dict[str, str]:
    """File name → text of everything that the phone's interpreter imports."""
    files = dict.fromkeys(STUBS, "")
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).glob("*.py")):
            files[f"{folder}/{path.name}"] = path.read_text(encoding="utf-8")
    for name in SINGLE:
        files[name] = (ROOT / name).read_text(encoding="utf-8")
    return files


@cache
def calculation() -> str:
    """The version of the calculation: sixteen hex digits over all of its files."""
    text = json.dumps(shared_files(), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
