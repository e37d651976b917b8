"""Whatever is sent to any address, by whomever: an answer, and never the server's own failure (5xx)."""

import gzip
import json
import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from demo.shop import seed
from tests.office.test_access import enrolled, office, token
from webform import create_app

from .test_phone_credential import PLACES, addresses

EXAMPLES = 3  # of each address for each visitor
NAMES = ("schema", "changes", "hashes", "witness", "cursor", "next", "records", "around", "code", "name", "epoch", "position",
         "chain", "held", "since", "record", "step", "field", "answer", "reason", "pin", "tag", "number", "layout", "file")
TEXTS = st.one_of(st.text(max_size=40), st.sampled_from(
    ["job:demo1", "filter:demo1", "model:demo", "person:kim", "tag:7K3M9QX07", "x" * 5000, "\x00", "../../etc/passwd",
     "1e999", "9" * 400, "{}", "'; DROP TABLE change; --", "\u202e", "<script>", "0" * 32, "0" * 64, "-1", "NaN"]))
NUMBERS = st.one_of(st.integers(), st.sampled_from([2**53, 2**63, 10**400, -1, 0]))
VALUES = st.recursive(st.one_of(st.none(), st.booleans(), NUMBERS, TEXTS),
                      lambda inner: st.one_of(st.lists(inner, max_size=4),
                                              st.dictionaries(st.sampled_from(NAMES) | TEXTS, inner, max_size=4)),
                      max_leaves=12)
OBJECTS = st.dictionaries(st.sampled_from(NAMES), VALUES, max_size=6)
BODIES = st.one_of(st.one_of(OBJECTS, VALUES).map(lambda found: json.dumps(found).encode()), st.binary(max_size=200),
                   OBJECTS.map(lambda found: gzip.compress(json.dumps(found).encode())))
HEADERS = st.fixed_dictionaries({}, optional={
    "Content-Type": st.sampled_from(["application/json", "text/plain", "application/octet-stream", "multipart/form-data",
                                     "x"]),
    "Content-Encoding": st.sampled_from(["gzip", "br", "identity", "gzip, gzip", ""]),
    "Content-Range": st.sampled_from(["bytes 0-9/10", "bytes 9-0/1", "bytes -1-5/x", "bytes 0-99999999999999999999/9",
                                      "x"]),
    "Accept-Encoding": st.sampled_from(["gzip", "*;q=0", "\xff"]), "If-None-Match": st.just("x"),
    "Range": st.just("bytes=5-1")})


@pytest.fixture(scope="module")
def doors(tmp_path_factory):
    """An app with the demo's shop, and its visitors by name: nobody, a phone, a phone shut out, the desk."""
    made = create_app(tmp_path_factory.mktemp("any") / "shop")
    made.extensions["doors"].ensure_office("harbour")
    seed(made.extensions["shop"])
    shut, device = enrolled(made)
    made.extensions["doors"].revoke(device)
    yield made, {"nobody": made.test_client(), "phone": enrolled(made)[0], "shut": shut, "desk": office(made)}
    made.extensions["shop"].store.close()


def fields_of(desk, made):
    """The names of all inputs on all the desk's pages."""
    found = set()
    for _rule, method, path in addresses(made):
        if method == "GET":
            answer = desk.get(path)
            if answer.mimetype == "text/html":
                found |= set(re.findall(r'name="([^"]+)"', answer.get_data(as_text=True)))
            answer.close()
    return sorted(found)


@pytest.mark.filterwarnings("ignore")
def test_no_request_of_any_shape_makes_the_server_fail(doors):
    made, visitors = doors
    desk = visitors["desk"]
    known = {path for _rule, _method, path in addresses(made)}
    rules = sorted({rule.rule for rule in made.url_map.iter_rules()})
    fields, secret = fields_of(desk, made), token(desk, "/office/phones")
    assert len(fields) > 20 and len(known) > 40
    for rule in rules:
        for who in sorted(visitors):
            if rule == "/office/logout" and who == "desk":
                continue  # it works, and the desk would be a stranger from then on
            ask(visitors[who], who, rule, fields, secret)


def ask(visitor, who, rule, fields, secret):
    """Asks one address as one visitor, some examples of it."""

    @settings(max_examples=EXAMPLES, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
    @given(st.data())
    def asked(data):
        path = re.sub(r"<(?:\w+:)?(\w+)>", lambda found: data.draw(named(found.group(1))), rule)
        method = data.draw(st.sampled_from(["POST", "GET", "PUT", "HEAD", "DELETE"]))
        query = data.draw(st.dictionaries(st.sampled_from(fields), TEXTS, max_size=3))
        if who == "desk" and method == "POST":
            form = data.draw(st.dictionaries(st.sampled_from(fields), TEXTS, max_size=12))
            answer = visitor.open(path, method=method, data={**form, "csrf_token": secret}, query_string=query)
        else:
            answer = visitor.open(path, method=method, data=data.draw(BODIES), headers=data.draw(HEADERS), query_string=query)
        answer.close()
        assert answer.status_code < 500, (who, method, path, answer.status_code)

    asked()


def named(place):
    """A name in an address: one that leads somewhere, or any text that an address can hold."""
    return st.one_of(st.just(PLACES.get(place, "1")),
                     TEXTS.map(lambda text: re.sub(r"[?#\x00-\x20\x7f-\uffff]", "-", text[:200]) or "-"))
