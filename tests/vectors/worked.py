"""Every filter that is worked by hand and every clear-cut job, as cases for two interpreters.

They are not written down twice: the tests of those filters are run with a judge() that notes what it is asked.
"""

import copy
import inspect
import itertools
import json

from tests.trade import (
    test_clear_cut,
    test_filters_and_ash,
    test_missing_readings,
    test_more_filters,
    test_tricky_filters,
    test_worked_filters,
)
from webform.trade.judge import judge

MODULES = (test_worked_filters, test_more_filters, test_tricky_filters, test_filters_and_ash, test_missing_readings,
           test_clear_cut)


def worked():
    """[{"name", "case"}], each case once, named by the test that asks first."""
    noted = {}
    for module in MODULES:
        for name in [name for name in vars(module) if name.startswith("test_")]:
            for number, given in enumerate(arguments(getattr(module, name))):
                for place, case in enumerate(asked(module, name, given)):
                    noted.setdefault(json.dumps(case, sort_keys=True), f"{module.__name__}.{name} {number}.{place}")
    return [{"name": name, "case": json.loads(text)} for text, name in noted.items()]


def asked(module, name, given):
    """What one test asks judge() about."""
    cases = []

    def noting(case):
        cases.append(copy.deepcopy(case))
        return judge(case)

    kept, module.judge = module.judge, noting
    try:
        getattr(module, name)(**given)
    finally:
        module.judge = kept
    return cases


def arguments(test):
    """Every set of arguments that pytest would call the test with."""
    marks = [mark.args for mark in getattr(test, "pytestmark", []) if mark.name == "parametrize"]
    rows = []
    for names, values in marks:
        names = [names] if isinstance(names, str) else list(names)
        rows.append([dict(zip(names, value if len(names) > 1 else (value,), strict=True)) for value in values])
    found = [dict(pair for part in parts for pair in part.items()) for parts in itertools.product(*rows)]
    assert all(set(given) == set(inspect.signature(test).parameters) for given in found), test
    return found
