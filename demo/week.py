"""What two invented phones sent in one week: more filters, sign-offs, one question of two answers, one held change.

Goes through the phones' own way in (sync.client and the wire's border), so it is stored like anybody's work.
"""

import datetime
import json
import tempfile
from pathlib import Path
from typing import Any

from sync import wire
from sync.change import Pen, content_hash, make_change, to_text
from sync.client import Client
from webform.access import Doors
from webform.checklist import case, check
from webform.checklist.lookup import policy_of
from webform.shop import Shop
from webform.trade.tag_code import complete

from .shop import VISUAL, flow, number, rod, weight

MODELS = {
    "short": ("HL-260", "260", ("0.90", "1.30", "0.03")),
    "long": ("HL-340", "340", ("2.10", "2.60", "0.05")),
    "wide": ("HL-360", "360", ("1.20", "1.70", "0.04")),
}
OWNERS = {"saltmarsh": "Saltmarsh Milk (invented)", "kestrel": "Kestrel Buses (invented)"}
FREE = rod((24, "free", ""))
SKIPPED = {"skipped": "at_shop", "note": "no bench in the van"}
NO_LIGHT = {"kind": "none"}

# serial, tag body, model, owner, truck, days ago, answers of the job, rounds
JOBS: tuple[tuple[str, str, str, str, str, int, dict[str, Any], tuple[tuple[str, dict[str, Any]], ...]], ...] = (
    ("HL-S-1006", "3F5RT6Y", "short", "saltmarsh", "SM 4", 6, {
        "before.visual": VISUAL, "before.weight": weight("9640"), "before.rod": rod((24, "soft", "150"), depth="260"),
        "before.light": NO_LIGHT, "before.flow": flow("2.10"), "owner_answer": {"answer": "clean", "said_by": "driver"},
        "after.visual": VISUAL, "after.weight": weight("9120"), "after.rod": rod((24, "free", ""), depth="260"),
        "after.light": NO_LIGHT, "after.flow": flow("1.12")}, (("oven", weight("9180")), ("air", weight("9120")))),
    ("HL-S-1007", "6H9JK3M", "long", "kestrel", "KB 201", 5, {
        "before.visual": {**VISUAL, "outlet": "black", "brick": "cracked"}, "before.light": {"kind": "crack"}}, ()),
    ("HL-S-1008", "9P2QR4S", "wide", "kestrel", "KB 207", 4, {
        "before.visual": VISUAL, "before.weight": weight("17250"), "before.flow": flow("2.05"),
        "after.visual": VISUAL, "after.weight": weight("16410"), "after.rod": rod((24, "free", ""), depth="360"),
        "after.light": {"kind": "cells", "lit": "1_5", "count": number("3", "")}, "after.flow": flow("1.44")},
     (("oven", weight("16410")),)),
    ("HL-S-1009", "4T7VW2X", "short", "saltmarsh", "SM 9", 3, {
        "before.visual": {**VISUAL, "wet": "oil"}, "before.weight": weight("10020")}, ()),
    ("HL-S-1010", "8Y3ZA5B", "window", "quayside", "QS 12", 2, {
        "before.visual": VISUAL, "before.weight": weight("14210"), "before.rod": rod((24, "soft", "180")),
        "before.light": NO_LIGHT, "before.flow": SKIPPED}, ()),
    ("HL-S-1011", "5C8DE2F", "long", "kestrel", "KB 214", 1, {}, ()),
    ("HL-S-1012", "2G6HJ9K", "window", "moorland", "HL 8", 1, {
        "before.visual": VISUAL, "before.weight": weight("14100"), "before.flow": flow("2.60"),
        "after.visual": VISUAL, "after.weight": weight("13720"), "after.rod": FREE, "after.light": NO_LIGHT},
     (("wash", weight("13720")),)),
)
SIGNED = (("job:demo2", "ravn", 6), ("job:demo6", "kim", 6), ("job:demo7", "ravn", 5), ("job:demo8", "kim", 4))


def play(shop: Shop, doors: Doors) -> None:
    """Writes the week."""
    bench = doors.redeem(doors.new_code(), "Bench phone (invented)")
    van = doors.redeem(doors.new_code(), "Van phone (invented)")
    if bench is None or van is None:
        raise ValueError("a fresh code did not enrol a phone")
    with tempfile.TemporaryDirectory() as folder:
        kim, ravn = (_phone(shop, Path(folder) / device, device) for device, _token in (bench, van))
        try:
            _books(kim)
            for place, job in enumerate(JOBS, 6):
                _job(ravn if job[4].startswith("KB") else kim, place, job)
            _settle_outboxes(kim, ravn)
            for record, person, days in SIGNED:
                _sign(shop, kim if person == "kim" else ravn, record, person, days)
            _settle_outboxes(kim, ravn)
            # both read the flow of one filter while the van had no signal
            kim.write("job:demo12", {"after.flow": flow("1.72")}, "person:kim", at=_ago(1))
            ravn.write("job:demo12", {"after.flow": flow("2.15")}, "person:ravn", at=_ago(0))
            _settle_outboxes(kim, ravn)
        finally:
            kim.close()
            ravn.close()
    _from_a_newer_app(shop, van[0])


def _phone(shop: Shop, path: Path, device: str) -> Client:
    def post(route: str, body: bytes) -> bytes:
        status, answer = wire.answer_push(shop.store, device, body, accept=check.refusal) if route == "push" \
            else wire.answer_pull(shop.store, body)
        if status != 200:
            raise ValueError(f"{route}: {answer}")
        return json.dumps(answer).encode()

    return Client(str(path), device, post, policy_of)


def _settle_outboxes(*phones: Client) -> None:
    for one in phones:
        one.sync()
    for one in phones:
        one.pull()
        if one.waiting() or one.held():
            raise ValueError(f"the demo's own work was not taken: {one.held()}")


def _books(phone: Client) -> None:
    for name, (part, depth, (low, high, uncertainty)) in MODELS.items():
        phone.write(f"model:{name}", {
            "number": part, "depth": number(depth, "mm"),
            "spec": {"low": number(low, "inH2O"), "high": number(high, "inH2O"),
                     "uncertainty": number(uncertainty, "inH2O"), "origin": "invented for the demo", "revision": "1"}},
            "person:kim", at=_ago(7))
    for owner, name in OWNERS.items():
        phone.write(f"owner:{owner}", {"name": name}, "person:kim", at=_ago(7))


def _job(phone: Client, place: int, job: tuple[Any, ...]) -> None:
    serial, body, model, owner, truck, days, answers, rounds = job
    by, at = "person:ravn" if truck.startswith("KB") else "person:kim", _ago(days)
    phone.write(f"filter:demo{place}", {"unit_kind": "wall_flow", "model": f"model:{model}", "serial": serial}, by, at=at)
    phone.write(f"tag:{complete(body)}", {"filter": f"filter:demo{place}"}, by, at=at)
    phone.write(f"job:demo{place}", {"filter": f"filter:demo{place}", "owner": f"owner:{owner}", "truck": truck,
                                     "work_order": f"WO-{100 + place}", "complaint": ["high_restriction"]}, by, at=at)
    for slot, value in answers.items():
        phone.write(f"job:demo{place}", {slot: value}, by, at=at)
    for turn, (method, mass) in enumerate(rounds, 1):
        treatment = {"method": method, "minutes": number("480" if method == "oven" else "30", "min")}
        if method == "oven":
            treatment["temperature"] = number("600", "°C")
        phone.write(f"round:demo{place}-{turn}", {"job": f"job:demo{place}", "treatment": treatment, "weight": mass}, by,
                    at=at)


def _sign(shop: Shop, phone: Client, record: str, person: str, days: int) -> None:
    """Signs what the calculation says, on what stands at this moment."""
    state = shop.job_state(record)
    phone.write(record, {"signoff": {"decision": state["verdict"], "person": f"person:{person}"}}, f"person:{person}",
                basis=case.basis_of(state), at=_ago(days))


def _from_a_newer_app(shop: Shop, device: str) -> None:
    """A change that a later version of the app made: kept raw, held, tried again after the server's update."""
    change = make_change(Pen(device).next_id(), "job:demo11", {"after.noise": {"level": number("61", "dB")}}, lamport=1,
                         at=_ago(0), by="person:ravn", schema=2)
    text = to_text(change)
    body = json.dumps({"schema": 1, "changes": [text], "hashes": [content_hash(text)]}).encode()
    status, answer = wire.answer_push(shop.store, device, body, accept=check.refusal)
    if status != 200 or answer["receipts"][0]["status"] != "held":
        raise ValueError(f"a change of a newer app should be held: {answer}")


def _ago(days: int) -> str:
    """That many days ago, as phones write it."""
    at = datetime.datetime.now(datetime.UTC) - datetime.timedelta(days=days)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")
