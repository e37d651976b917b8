"""The desk's page of one job: what to do before what is missing, the arithmetic behind a touch. Readings are invented."""

import re

from demo.shop import number
from tests.office.test_access import office

BENCH = {"name": "Bench", "type": "bench", "mode": "constant_volume", "altitude": number("0", "m"),
         "plate": number("2.10", "inH2O")}
CHECK = {"instrument": "instrument:b", "temperature": number("20", "°C"), "plate": number("2.10", "inH2O")}
BLACK = {"outlet": "black", "brick": "sound", "can": "sound", "wet": "dry"}


def test_what_to_do_comes_before_what_is_missing_and_the_arithmetic_stands_behind(bare_app):
    shop = bare_app.extensions["shop"]
    spec = {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
            "origin": "invented", "revision": "1"}
    for record, fields in (
            ("model:m", {"number": "TK-290", "depth": number("290", "mm"), "spec": spec}), ("instrument:b", BENCH),
            ("bench_check:c", {"reading": CHECK}),
            ("filter:f", {"unit_kind": "wall_flow", "serial": "D-1", "model": "model:m"}),
            ("job:d", {"filter": "filter:f", "before.visual": BLACK,  # worked filter D, before cleaning
                       "before.flow": {"check": "bench_check:c", "drop": number("1.10", "inH2O")}})):
        assert shop.write(record, fields, "desk:office", {})["status"] == "stored", record
    page = office(bare_app).get("/office/jobs/d").text
    at_once, behind = page.split("<details>", 1)
    said = re.findall(r'<li class="(\w+)">([^<]+)</li>', at_once)
    parts = [part for part, _text in said]
    assert parts.index("settle") < parts.index("missing") and any("Tell the owner" in text for _part, text in said)
    assert any("Leak suspected" in text for _part, text in said)
    for text in ("The bench is good", "The bench showed 1.10 inH2O"):
        assert text not in at_once and text in behind
