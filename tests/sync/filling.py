"""A store with something of everything in it, to be kept and proven. All of it is invented."""

from sync import change, erasing, exchange

from .making import made, pushed


def fill(store):
    """Two answers, references, held changes of three kinds, one of them stored later, and an erased text."""
    pushed(store, made("a.1", "owner:haul", {"name": "Invented Haulage"}))
    for n in range(1, 21):
        answers = {"filter": f"filter:f{n % 3}", f"flow{n % 2}": {"n": f"{n}.0", "u": "Pa"}}
        pushed(store, made(f"v.{n}", f"job:j{n % 5}", answers, lamport=n),
               made(f"w.{n}", f"job:j{n % 5}", {"note": f"naïve {n}"}, {"note": [f"w.{n - 5}"]} if n > 5 else None))
    pushed(store, made("a.2", "owner:haul", {"name": None}, {"name": ["a.1"]}))
    erasing.erase(store, "owner:haul")
    pushed(store, "{broken", "{broken", made("z.1", "job:j2", {"flow2": "1"}, schema=2))
    text = change.to_text(made("z.2", "job:j3", {"flow2": "1"}))
    exchange.push(store, "z", [text + " "], [change.content_hash(text)])
    exchange.push(store, "z", [text], [change.content_hash(text)])


def records(store):
    """The heads of every record, whatever pages they come in."""
    return {entry["record"]: entry["heads"] for entry in exchange.pull(store, None, limit=10_000)["records"]}
