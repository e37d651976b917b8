"""The codes that this shop has printed: drawn at random, and never the same one twice.

A label printed ahead leads nowhere until it is bound to a filter, so the log of changes does not know it yet; the table
printed_tag does. It lives in the store's database.
"""

from datetime import UTC, datetime

from sync.log import Store

from ..tags import new_code


def new_codes(store: Store, count: int) -> list[str]:
    """That many codes that were never printed nor bound before, written down as printed."""
    at = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    found: list[str] = []
    with store.writing():
        store.rows("CREATE TABLE IF NOT EXISTS printed_tag (code TEXT PRIMARY KEY, printed_at TEXT NOT NULL)")
        while len(found) < count:
            code = new_code()
            is_new = store.rows("INSERT INTO printed_tag (code, printed_at) VALUES (?, ?) ON CONFLICT DO NOTHING "
                                "RETURNING code", (code, at))
            if is_new and not store.snapshots(["tag:" + code]):
                found.append(code)
    return found
