"""Makes changes and stores for the tests of sync. All records and names are invented."""

from sync import change, exchange
from sync.log import Store

AT = "2026-11-25T17:40:00.000Z"
REFS = {"job": ("filter",), "tag": ("filter",), "filter": ("model",)}


def ref_fields(kind):
    """The reference fields of the invented kinds."""
    return REFS.get(kind, ())


def policy_of(kind, field):
    """Notes and the odometer are harmless, a tag's filter is an identity, all else is judged by the worse."""
    return {"note": "later", "odometer": "later", "filter": "identity"}.get(field, "worse")


def open_store(url, **how):
    """A store with the invented declaration."""
    return Store(url, policy_of=policy_of, ref_fields=ref_fields, personal=("owner",), **how)


def made(identity, record, answers, replaces=None, **more):
    """A change with a short id: "a.1" stands for device a, run r, counter 1."""
    device, counter = identity.split(".")
    full = {field: [long_id(one) for one in ids] for field, ids in (replaces or {}).items()}
    return change.make_change(f"{device}.r.{counter}", record, answers, replaces=full,
                              **{"lamport": 1, "at": AT, "by": "person:kim", **more})


def long_id(short):
    """The whole id of a short one."""
    device, counter = short.split(".")
    return f"{device}.r.{counter}"


def pushed(store, *changes, device="a", accept=None, **more):
    """Receipts for changes given as dicts or as texts."""
    texts = [one if isinstance(one, str) else change.to_text(one) for one in changes]
    return exchange.push(store, device, texts, [change.content_hash(text) for text in texts], accept, **more)


def values(view, field):
    """The values that stand in a field, in the order of their ids."""
    return [answer["value"] for answer in view["fields"][field]["answers"]]
