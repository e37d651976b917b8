"""The demo shop. Everything here is invented: people, trucks, owners, models, readings. No real firm is meant."""

from typing import Any

from webform.office.books import pin_value
from webform.shop import Shop
from webform.trade.tag_code import complete

PIN = "4711"
PEOPLE = (("Kim", "yes"), ("Ravn", "yes"), ("Alex", "no"))
VISUAL = {"outlet": "clean", "brick": "sound", "can": "sound", "wet": "dry"}


def number(text: str, unit: str) -> dict[str, str]:
    """A number as it is stored."""
    return {"n": text, "u": unit}


def weight(grams: str, temperature: str = "cold", moisture: str = "dry") -> dict[str, Any]:
    """A weight reading."""
    return {"mass": number(grams, "g"), "temperature": temperature, "moisture": moisture}


def rod(*groups: tuple[int, str, str], depth: str = "290") -> dict[str, Any]:
    """A rod reading from (count, feel, where it stopped in mm or nothing); depth of the brick in mm."""
    cells: list[dict[str, Any]] = []
    for count, feel, stop in groups:
        for _ in range(count):
            cell: dict[str, Any] = {"zone": len(cells) % 12 + 1, "feel": feel}
            if stop:
                cell["depth"] = number(stop, "mm")
            cells.append(cell)
    return {"full_depth": number(depth, "mm"), "cells": cells}


def flow(drop: str) -> dict[str, Any]:
    """A flow reading in inches of water."""
    return {"bench": "good", "drop": number(drop, "inH2O")}


# serial, tag body, model, owner, truck, answers of the job, rounds (method, weight after)
JOBS: tuple[tuple[str, str, str, str, str, dict[str, Any], tuple[tuple[str, dict[str, Any]], ...]], ...] = (
    ("HL-S-1001", "7K3M9QX", "window", "moorland", "HL 42", {
        "before.visual": VISUAL, "before.weight": weight("14480"), "before.rod": rod((24, "soft", "170")),
        "before.light": {"kind": "none"}, "before.flow": flow("2.75"), "owner_answer": {"answer": "clean"},
        "after.visual": VISUAL, "after.weight": weight("13780"), "after.rod": rod((24, "free", "")),
        "after.light": {"kind": "none"}, "after.flow": flow("1.78")}, (("wash", weight("14520", "warm", "wet")),)),
    ("HL-S-1002", "2N8PQ4T", "window", "quayside", "QS 7", {
        "before.visual": VISUAL, "before.rod": rod((20, "hard", "130"), (4, "free", ""))}, ()),
    ("HL-S-1003", "5D6TR9W", "window", "moorland", "HL 11", {
        "after.visual": VISUAL, "after.rod": rod((14, "hard", "145"), (10, "free", "")), "after.light": {"kind": "none"},
        "after.flow": flow("1.90")}, (("oven", weight("13900")), ("oven", weight("13892")))),
    ("HL-S-1004", "8B2XC5V", "window", "quayside", "QS 3", {
        "before.visual": {**VISUAL, "outlet": "black"}, "before.flow": flow("1.10")}, ()),
    ("HL-S-1005", "4G7HJ2K", "bare", "moorland", "HL 19", {
        "before.weight": weight("11900"), "before.flow": flow("3.10"), "after.visual": VISUAL,
        "after.weight": weight("11452"), "after.rod": rod((24, "free", "")), "after.light": {"kind": "none"},
        "after.flow": flow("1.65")}, (("oven", weight("11460")), ("oven", weight("11452")))),
)

INSTRUMENTS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("instrument:bench", {"name": "Flow bench", "type": "bench", "mode": "constant_volume", "altitude": number("40", "m"),
                          "plate": number("2.45", "inH2O")}),
    ("instrument:scale", {"name": "Bench scale", "type": "scale", "tolerance": "r76_in_service", "scale_class": "III",
                          "division": number("5", "g"), "capacity": number("50", "kg")}),
    ("bench_check:demo1", {"reading": {"instrument": "instrument:bench", "temperature": number("19", "°C"),
                                       "barometer": number("1012", "hPa"), "humidity": number("48", "%"),
                                       "plate": number("2.44", "inH2O")}}),
    ("scale_check:demo1", {"reading": {"instrument": "instrument:scale", "weight": number("20", "kg"), "weight_class": "M1",
                                       "shown": number("20.005", "kg")}}),
)


def seed(shop: Shop) -> None:
    """Writes the invented shop through the desk's own door."""
    spec = {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
            "origin": "invented for the demo", "revision": "1"}
    write(shop, "shop:rules", {"name": "Harbour Lane Filters (invented)"})
    write(shop, "model:window", {"number": "HL-290", "depth": number("290", "mm"), "spec": spec,
                                 "clean_mass": number("13.6", "kg"), "brick": {
                                     "shape": "round", "long": number("267", "mm"), "wall": number("12", "mil"),
                                     "cells_per_in2": number("200", "")}})
    write(shop, "model:bare", {"number": "HL-300", "depth": number("290", "mm")})
    for record, answers in INSTRUMENTS:
        write(shop, record, answers)
    for name, may_sign in PEOPLE:
        write(shop, f"person:{name.lower()}", {"name": name, "may_sign": may_sign, "pin": pin_value(PIN)})
    for owner, name in (("moorland", "Moorland Haulage (invented)"), ("quayside", "Quayside Movers (invented)")):
        write(shop, f"owner:{owner}", {"name": name})
    for place, (serial, body, model, owner, truck, answers, rounds) in enumerate(JOBS, 1):
        write(shop, f"filter:demo{place}", {"unit_kind": "wall_flow", "model": f"model:{model}", "serial": serial})
        write(shop, f"tag:{complete(body)}", {"filter": f"filter:demo{place}"})
        write(shop, f"job:demo{place}", {"filter": f"filter:demo{place}", "owner": f"owner:{owner}", "truck": truck,
                                         "work_order": f"WO-{100 + place}", **answers})
        for turn, (method, mass) in enumerate(rounds, 1):
            treatment = {"method": method, "minutes": number("480", "min")}
            if method == "oven":
                treatment["temperature"] = number("600", "°C")
            write(shop, f"round:demo{place}-{turn}", {"job": f"job:demo{place}", "treatment": treatment, "weight": mass})


def write(shop: Shop, record: str, answers: dict[str, Any]) -> None:
    """One change; the demo must not hold what the form would refuse."""
    receipt = shop.write(record, answers, "person:kim", {})
    if receipt["status"] != "stored":
        raise ValueError(f"{record}: {receipt['reason']}")
