"""Ashbook's Flask app: wiring only. create_app(data) gives the app of one shop whose books lie in a folder."""

from pathlib import Path
from typing import Any

from flask import Flask


def create_app(data: str | Path, url: str | None = None, is_behind_proxy: bool = False) -> Flask:
    """The app of one shop. data: its folder; url: the database, SQLite in that folder unless named.

    is_behind_proxy: whether one TLS proxy in front tells scheme and host (deploy/).
    """
    from werkzeug.middleware.proxy_fix import ProxyFix

    from . import access, errors, labels, office, phone, photos, report, wire
    from .shop import Shop

    app = Flask(__name__)
    shop = Shop(Path(data), url)
    app.extensions["shop"] = shop
    settings: dict[str, Any] = {
        "SECRET_KEY": shop.secret(), "SESSION_COOKIE_HTTPONLY": True, "SESSION_COOKIE_SAMESITE": "Strict",
        "MAX_CONTENT_LENGTH": 20 * 2**20, "SESSION_COOKIE_NAME": "ashbook_office",
    }
    app.config.update(settings)
    if is_behind_proxy:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]
        app.config.update(SESSION_COOKIE_SECURE=True, SESSION_COOKIE_NAME="__Host-ashbook_office")
    access.guard(app)
    errors.register(app)
    for blueprint in (wire.blueprint, office.blueprint, phone.blueprint, report.blueprint, labels.blueprint,
                      photos.blueprint):
        app.register_blueprint(blueprint)
    return app
