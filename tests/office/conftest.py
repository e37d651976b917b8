"""The demo's shop at a desk whose password is "harbour"; what a test needs otherwise it makes for itself."""

import pytest

from demo.shop import seed
from webform import create_app


@pytest.fixture
def bare_app(tmp_path):
    """A shop with nothing in its books."""
    made = create_app(tmp_path / "shop")
    made.extensions["doors"].ensure_office("harbour")
    yield made
    made.extensions["shop"].store.close()


@pytest.fixture
def app(bare_app):
    seed(bare_app.extensions["shop"])
    return bare_app
