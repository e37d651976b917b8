"""The order of the tests: what is quick comes first, what needs a browser or a database server last; and what is drawn."""

from hypothesis import HealthCheck, settings

SLOW = ("postgresql", "fire", "browser", "soak")

# A run draws the same examples each time and times none of them: it speaks of the code, not of luck or of the
# machine's load. New examples are drawn by `./tests/run --soak`.
settings.register_profile(
    "same", derandomize=True, database=None, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("new", settings.get_profile("same"), derandomize=False, max_examples=1000, print_blob=True)
settings.load_profile("same")


def pytest_collection_modifyitems(items):
    items.sort(key=lambda item: max((SLOW.index(name) + 1 for name in SLOW if item.get_closest_marker(name)), default=0))
