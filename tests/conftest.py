"""The order of the tests: what is quick comes first, what needs a browser or a database server last."""

SLOW = ("postgresql", "fire", "browser", "soak")


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: max((SLOW.index(name) + 1 for name in SLOW if item.get_closest_marker(name)), default=0))
