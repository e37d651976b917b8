"""A shop, an address for its books, a server process of its own."""

import pytest

from tests.browser.conftest import Server
from tests.sync.conftest import cluster  # noqa: F401 the fixture
from webform.phone.build import build

from .shops import write_shop


@pytest.fixture
def shop(tmp_path):
    return write_shop(tmp_path / "shop")


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql)])
def url(request):
    """No address, for SQLite in the shop's folder, or that of an empty PostgreSQL database."""
    return None if request.param == "sqlite" else request.getfixturevalue("cluster").new_url()


@pytest.fixture(scope="module")
def built():
    assert build() == 0


@pytest.fixture
def server(built, tmp_path):
    made = Server(tmp_path / "served")
    yield made
    made.kill()
