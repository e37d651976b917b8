"""Two devices offline edit a thousand records: nothing is lost, and only what was really answered twice is asked."""

import json

from sync import lookup, wire
from sync.client import Client

from .making import AT, policy_of, values

RECORDS = 1_000
SAME = [f"job:same{n}" for n in range(RECORDS // 2)]
APART = [f"job:apart{n}" for n in range(RECORDS // 2)]


def client_of(store, name):
    """A device whose requests reach the store over the wire's own border."""

    def post(route, body):
        answer = wire.answer_push(store, name, body) if route == "push" else wire.answer_pull(store, body)
        assert answer[0] == 200, answer
        return json.dumps(answer[1]).encode()

    return Client(":memory:", name, post, policy_of)


def questions(views):
    """(record, field) of every open field."""
    return sorted((record, field) for record, view in views.items() for field, held in view["fields"].items() if held["open"])


def test_of_2000_edits_made_offline_all_are_kept_and_only_those_of_the_same_field_are_asked(store):
    van, shop = client_of(store, "van"), client_of(store, "shop")
    for record in SAME + APART:
        van.write(record, {"flow": "1", "weight": "10"}, "person:kim", at=AT)
    van.sync()
    shop.sync()
    for number, record in enumerate(SAME):  # neither hears of the other meanwhile
        van.write(record, {"flow": f"van {number}"}, "person:kim", at=AT)
        shop.write(record, {"flow": f"shop {number}"}, "person:lee", at=AT)
    for number, record in enumerate(APART):
        van.write(record, {"flow": f"van {number}"}, "person:kim", at=AT)
        shop.write(record, {"weight": f"shop {number}"}, "person:lee", at=AT)
    edits = set(van.waiting() + shop.waiting())
    assert len(edits) == 2_000
    for one in (van, shop, van):
        one.sync()
    assert edits <= {row[0] for row in store.rows("SELECT id FROM change_log")} and van.held() == shop.held() == []
    for views in (lookup.views(store, SAME + APART), *({record: one.view(record) for record in SAME + APART} for one in (van, shop))):
        assert questions(views) == sorted((record, "flow") for record in SAME)
        for number, record in enumerate(SAME):
            assert sorted(values(views[record], "flow")) == [f"shop {number}", f"van {number}"]
        for number, record in enumerate(APART):
            fields = views[record]["fields"]
            assert (fields["flow"]["used"], fields["weight"]["used"]) == (f"van {number}", f"shop {number}")
    van.close()
    shop.close()
