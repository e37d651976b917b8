"""Which truck a filter was on, and when: dated assignments, each a record. Portable Python.

Days are ISO 8601 texts, YYYY-MM-DD, so that they sort as texts; a span holds on its first and its last day, and one
without a last day still lasts.
"""

from .void import is_void


def fittings(filters, views):
    """[{"record", "filter", "truck", "since", "until" or None}] of these filters that are not void, by day and record."""
    found = []
    for record in sorted(views):
        view = views[record]
        fields = view["fields"]
        if view["kind"] != "fitting" or is_void(view):
            continue
        used = {name: fields[name]["used"] if name in fields else None for name in ("filter", "truck", "span")}
        if used["filter"] in filters and used["truck"] is not None and used["span"] is not None:
            found.append({"record": record, "filter": used["filter"], "truck": used["truck"],
                          "since": used["span"]["since"], "until": used["span"].get("until")})
    return sorted(found, key=lambda entry: (entry["since"], entry["record"]))  # portable: no two records are the same


def trucks_on(filters, views, day):
    """The trucks that a filter was on, on a day: none, one, or several where assignments overlap."""
    found = []
    for entry in fittings(filters, views):
        if entry["since"] <= day and (entry["until"] is None or day <= entry["until"]) and entry["truck"] not in found:
            found.append(entry["truck"])
    return found


def is_day(text):
    """Whether a text is a day that exists, written YYYY-MM-DD.

    >>> [is_day(text) for text in ("2028-02-29", "2026-02-29", "2026-2-9")]
    [True, False, False]
    """
    if not isinstance(text, str) or len(text) != 10 or text[4] != "-" or text[7] != "-":
        return False
    for digit in text[:4] + text[5:7] + text[8:]:
        if digit not in "0123456789":
            return False
    year, month, day = int(text[:4]), int(text[5:7]), int(text[8:])
    is_leap = year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    lengths = (31, 29 if is_leap else 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    return 1 <= month <= 12 and 1 <= day <= lengths[month - 1]
