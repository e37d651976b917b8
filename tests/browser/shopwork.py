"""An invented shop in the server's books: one model with a window, one without, three people. PIN of all: 4711."""

from webform.office.books import pin_value
from webform.shop import Shop


def number(text, unit):
    return {"n": text, "u": unit}


def prepare(data):
    """Writes the shop through the desk's own door."""
    shop = Shop(data)
    # window of the worked filters, invented: 1.60 to 2.00 inH2O, standard uncertainty 0.05, brick 290 mm
    spec = {"low": number("1.60", "inH2O"), "high": number("2.00", "inH2O"), "uncertainty": number("0.05", "inH2O"),
            "origin": "invented for tests", "revision": "1"}
    for record, answers in (
            ("model:window", {"number": "HL-290", "depth": number("290", "mm"), "spec": spec}),
            ("model:bare", {"number": "HL-300", "depth": number("290", "mm")}),
            ("shop:rules", {"name": "Harbour Lane Filters (invented)"}),
            *((f"person:{name.lower()}", {"name": name, "may_sign": may, "pin": pin_value("4711")})
              for name, may in (("Kim", "yes"), ("Ravn", "yes"), ("Alex", "no")))):
        receipt = shop.write(record, answers, "desk:office", {})
        assert receipt["status"] == "stored", receipt
    shop.store.close()
