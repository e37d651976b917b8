"""Invented inspections for the benchmarks: about 30 answers, about 2 kB of JSON each, good by the declaration."""

import random

from sync.change import LETTERS, NAME_STEP_MS, make_change, to_text

AT = "2026-11-25T17:40:00.000Z"
FIRST_MS, YEAR_MS, MINUTES_MS = 1_764_000_000_000, 365 * 86_400_000, 180_000  # filters of a year, then a job every 3 minutes
FEELS = ("free", "soft", "hard", "end_plug")
WORDS = ("clamp", "rusted", "sensor", "bung", "tight", "soot", "ring", "outer", "edge", "washed", "dry", "gasket", "renewed")


def answers(number: int) -> dict:
    """The stored fields of one inspection: check-in and the five readings as found. The same number gives the same."""
    draw = random.Random(number)
    cells = []
    for zone in range(1, 11):
        feel = draw.choice(FEELS)
        depth = {"depth": figure(draw.randrange(120, 290), "mm")} if feel in ("soft", "hard") else {}
        cells.append({"zone": zone, "feel": feel, **depth})
    note = " ".join(draw.choice(WORDS) for _ in range(12))
    return {
        "filter": "filter:" + name(draw, FIRST_MS + draw.randrange(YEAR_MS)), "work_order": f"W{draw.randrange(10**6):06d}",
        "truck": f"T-{draw.randrange(10**4)}", "owner": f"owner:{number % 300:016d}",
        "complaint": ["high_restriction", "service"],
        "forced_regens": draw.choice(("none", "few", "many")), "engine_hours": figure(draw.randrange(20_000), "h"),
        "odometer": figure(draw.randrange(900_000), "km"), "note": note,
        "before.visual": {"told_by": "arrow", "outlet": draw.choice(("clean", "grey", "black")), "brick": "sound",
                          "can": draw.choice(("sound", "dented")), "wet": "dry", "photos": [photo(draw), photo(draw)]},
        "before.weight": {"mass": figure(draw.randrange(11_000, 19_000), "g"), "fitted": ["adapter", "clamps"],
                          "fitted_mass": figure(draw.randrange(300, 900), "g"), "temperature": "cold", "moisture": "dry"},
        "before.rod": {"full_depth": figure(290, "mm"), "cells": cells},
        "before.light": {"kind": "cells", "lit": "6_20", "count": figure(draw.randrange(6, 21), ""), "photos": [photo(draw)]},
        "before.flow": {"bench": "good", "fixture": ["adapter", "zero"],
                        "drop": figure(f"2.{draw.randrange(1000):03d}", "inH2O"),
                        "drop_2": figure(f"2.{draw.randrange(1000):03d}", "inH2O")},
    }


def name(draw: random.Random, made_ms: int) -> str:
    """The name of a record as new_name of sync/change.py gives it: when it was made, then random characters."""
    number = (made_ms // NAME_STEP_MS) << 40 | draw.getrandbits(40)
    return "".join(LETTERS[number >> shift & 31] for shift in range(75, -1, -5))


def photo(draw: random.Random) -> dict:
    """What a step says of a photo."""
    clock = f"{draw.randrange(7, 18):02d}:{draw.randrange(60):02d}:{draw.randrange(60):02d}.{draw.randrange(1000):03d}"
    return {"sha256": f"{draw.getrandbits(256):064x}", "bytes": draw.randrange(150_000, 400_000),
            "taken_at": f"2026-11-25T{clock}Z"}


def figure(number: object, unit: str) -> dict:
    """A typed number."""
    return {"n": str(number), "u": unit}


def text_of(number: int, device: str = "bench", run: str = "r") -> str:
    """The text of one inspection queued as one change of a new job."""
    return to_text(make_change(f"{device}.{run}.{number}", job_of(number, run), answers(number), lamport=number + 1, at=AT,
                               by="person:0000000000invent"))


def job_of(number: int, run: str) -> str:
    """The record of an inspection."""
    return "job:" + name(random.Random(f"{run}.{number}"), FIRST_MS + YEAR_MS + number * MINUTES_MS)


def texts(first: int, many: int, device: str = "bench", run: str = "r") -> list[str]:
    """The texts of inspections first, first + 1, ..."""
    return [text_of(number, device, run) for number in range(first, first + many)]


def step_texts(first: int, many: int, device: str = "bench", run: str = "s") -> list[str]:
    """The same as the phone's screens queue them: the check-in's fields in one change, a change for each reading."""
    found, counter = [], 0
    for number in range(first, first + many):
        whole = answers(number)
        parts = [{name: whole[name] for name in whole if "." not in name}]
        parts += [{name: whole[name]} for name in whole if "." in name]
        for part in parts:
            counter += 1
            found.append(to_text(make_change(f"{device}.{run}.{first * 10 + counter}", job_of(number, run), part,
                                             lamport=counter, at=AT, by="person:0000000000invent")))
    return found
