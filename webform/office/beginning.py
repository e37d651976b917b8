"""What a new shop needs before its first job, in the order in which one comes to it, and what of it is there."""

from typing import Any

from flask import current_app, url_for

from sync import lookup

from ..shop import SETTINGS, value
from .wording import say, shop

MOST_READ = 50


def beginning() -> list[dict[str, Any]]:
    """[{"text", "href", "is_done"}]; is_done is None where the books cannot tell."""
    own = lookup.view(shop().store, SETTINGS)
    instruments = {value(view, "type") for view in _views("instrument")}
    people = any(value(view, "may_sign") == "yes" and value(view, "pin") for view in _views("person"))
    devices = current_app.extensions["doors"].read()["devices"].values()
    steps = (("shop", url_for("office.books", kind="shop"), bool(own and value(own, "name"))),
             ("model", url_for("office.books", kind="model"), bool(_views("model"))),
             ("instrument", url_for("office.books", kind="instrument"), {"bench", "scale"} <= instruments),
             ("person", url_for("office.books", kind="person"), people),
             ("labels", url_for("labels.page"), None),
             ("phone", url_for("office.phones"), any(not device.get("revoked") for device in devices)))
    return [{"text": say("begin_" + name), "href": href, "is_done": is_done} for name, href, is_done in steps]


def _views(kind: str) -> list[dict[str, Any]]:
    names = [entry["record"] for entry in lookup.records(shop().store, kind, MOST_READ)]
    return list(lookup.views(shop().store, names).values())
