"""Filters that were found to be one: links between two of them, each a record, and the groups that these make.

A group is a connected component; a link that is void joins nothing, so voiding it takes the two apart again. Links are
symmetric and the order in which they are made cannot matter. Portable Python.
"""

from .void import is_void


def group_of(filter_id, views):
    """The sorted ids of the filters that are one with this one, itself among them."""
    pairs = [pair for pair in [ends(views[record]) for record in sorted(views)] if pair is not None]
    found = [filter_id]
    place = 0
    while place < len(found):
        for one, other in pairs:
            for here, there in ((one, other), (other, one)):
                if here == found[place] and there not in found:
                    found.append(there)
        place += 1
    return sorted(found)


def ends(view):
    """The two filters that a link joins; None for another kind of record, and for a link that joins nothing."""
    if view["kind"] != "link" or is_void(view):
        return None
    both = [view["fields"][field]["used"] if field in view["fields"] else None for field in ("one", "other")]
    return None if None in both else both
