"""The desk's page of instruments: which check failed, which proves nothing, which readings to take again. All invented."""

import datetime

from tests.office.test_access import app, office  # noqa: F401


def number(text, unit):
    return {"n": text, "u": unit}


def bench_checked(shop, name, plate, previous=None, barometer="1013.25"):
    """A check of the bench, whose plate of 2.10 inH2O reads so much."""
    reading = {"instrument": "instrument:b", "temperature": number("20", "°C"), "humidity": number("0", "%"),
               "plate": number(plate, "inH2O")}
    reading |= {"barometer": number(barometer, "hPa")} if barometer else {}
    reading |= {"previous": previous} if previous else {}
    assert shop.write(f"bench_check:{name}", {"reading": reading}, "person:kim", {})["status"] == "stored"


def blown_under(shop, check):
    """A job whose reading as found stands on that check."""
    shop.write(f"filter:{check}", {"unit_kind": "wall_flow", "model": "model:m", "serial": f"S-{check}"}, "desk:office", {})
    shop.write(f"job:{check}", {"filter": f"filter:{check}", "before.flow": {
        "check": f"bench_check:{check}", "drop": number("1.78", "inH2O")}}, "person:kim", {})


def shop_with_a_bench(app):  # noqa: F811
    """The shop of this app with one bench."""
    shop = app.extensions["shop"]
    shop.write("instrument:b", {"name": "Bench", "type": "bench", "mode": "constant_volume",
                                "plate": number("2.10", "inH2O")}, "desk:office", {})
    shop.write("person:kim", {"name": "Kim", "may_sign": "yes"}, "desk:office", {})
    return shop


def test_a_check_that_proves_nothing_is_not_called_failed_and_puts_nothing_in_doubt(app):  # noqa: F811
    shop = shop_with_a_bench(app)
    bench_checked(shop, "one", "2.11")
    blown_under(shop, "one")
    # 1.74 of 2.10 is 17 % low at sea level, and nobody read the barometer: the hill, or the bench.
    bench_checked(shop, "two", "1.74", "bench_check:one", barometer=None)
    page = office(app).get("/office/checks").text
    assert "proves nothing" in page and ">failed<" not in page and 'data-testid="recheck"' not in page


def test_a_failed_check_lists_what_was_taken_since_the_last_good_one_also_under_one_that_proved_nothing(app):  # noqa: F811
    shop = shop_with_a_bench(app)
    bench_checked(shop, "nought", "2.10")
    bench_checked(shop, "one", "2.11", "bench_check:nought")
    bench_checked(shop, "two", "1.74", "bench_check:one", barometer=None)
    bench_checked(shop, "three", "2.40", "bench_check:two")  # 2.40/2.10 is 14 % high
    for check in ("nought", "one", "two", "three"):
        blown_under(shop, check)
    page = office(app).get("/office/checks").text
    recheck = page.split('data-testid="recheck"')[1].split("</section>")[0]
    assert [f"S-{check}" in recheck for check in ("nought", "one", "two", "three")] == [False, True, True, True]


def test_a_check_of_yesterday_is_due_again_and_one_of_today_is_not(app, monkeypatch):  # noqa: F811
    shop = shop_with_a_bench(app)
    bench_checked(shop, "one", "2.11")
    assert 'data-testid="due"' not in office(app).get("/office/checks").text
    tomorrow = (datetime.datetime.now() + datetime.timedelta(hours=25)).timestamp()
    monkeypatch.setattr("webform.office.checks.time.time", lambda: tomorrow)
    assert 'data-testid="due"' in office(app).get("/office/checks").text
