"""The protocol cases, passed by the Python client over HTTP. The phone's: tests/browser/test_protocol_cases.py."""

import contextlib

import pytest

from sync.client import Client, Offline, http_post

from .cases import CASES, PATIENCE_S, record_of, text_of
from .scripted import Scripted, check_first, check_last, policy_of


@pytest.fixture(scope="module")
def scripted(tmp_path_factory):
    made = Scripted(tmp_path_factory.mktemp("scripted"))
    yield made
    made.close()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_python_client_passes(scripted, case):
    scripted.begin(case)
    is_silent = "never answers" in case.name
    van = Client(":memory:", "van", http_post(scripted.url + "/sync", timeout_s=PATIENCE_S if is_silent else 10), policy_of)
    if "counted" in case.limits:
        with van.disk:
            van._keep_state("lamport", str(case.limits["counted"]))
    ids = [van.write(record_of(number), {"note": text_of(case, number)}, "person:kim") for number in range(case.writes)]
    with contextlib.suppress(Offline):
        van.sync()
    fields = [held for record in van.records() for held in van.view(record)["fields"].values()]
    shown = [answer["id"] for held in fields for answer in held["answers"]]
    check_first(case, scripted, ids, van.waiting(), van.held(), shown)
    scripted.be_honest()
    if case.limits.get("let_in"):
        van.push(is_held_offered=True)
    van.sync()
    check_last(case, scripted, ids, van.waiting(), van.held(),
               {record: van.view(record)["fields"] for record in van.records()})
    van.close()
