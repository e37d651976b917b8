"""Enrolled phones: a one-time code for a new one, when each was here last, and how to shut one out."""

import io
from typing import Any

import qrcode
import qrcode.image.svg
from flask import current_app, redirect, render_template, request, url_for
from markupsafe import Markup

from sync import lookup

from ..shop import SEEN
from ..trade.tag_code import ENROL
from .pages import blueprint
from .wording import shop


@blueprint.get("/office/phones")
def phones() -> str:
    """The enrolled phones."""
    return _phones(None)


@blueprint.post("/office/phones")
def enrol_code() -> str:
    """Shows a one-time code, as text and as QR."""
    return _phones(current_app.extensions["doors"].new_code())


@blueprint.post("/office/phones/revoke")
def revoke() -> Any:
    """Shuts a phone out."""
    current_app.extensions["doors"].revoke(request.form.get("device", ""))
    return redirect(url_for(".phones"))


def _phones(code: str | None) -> str:
    devices = [{"device": device, **entry, "held": lookup.held_count(shop().store, device, but=SEEN)}
               for device, entry in current_app.extensions["doors"].read()["devices"].items()]
    devices.sort(key=lambda entry: (bool(entry["revoked"]), entry["name"].lower(), entry["device"]))
    return render_template("phones.html", devices=devices, code=code, qr=_qr(ENROL + code) if code else None)


def _qr(text: str) -> Markup:
    """The code as an SVG picture."""
    out = io.BytesIO()
    qrcode.make(text, image_factory=qrcode.image.svg.SvgPathImage, box_size=12).save(out)
    picture = out.getvalue().decode()
    return Markup(picture[picture.index("<svg"):])
