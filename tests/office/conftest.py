"""The demo's shop at a desk whose password is "harbour"; what a test needs otherwise it makes for itself."""

import pytest

from demo.shop import seed
from webform import create_app


@pytest.fixture
def app(tmp_path):
    made = create_app(tmp_path / "shop")
    made.extensions["doors"].ensure_office("harbour")
    seed(made.extensions["shop"])
    yield made
    made.extensions["shop"].store.close()
