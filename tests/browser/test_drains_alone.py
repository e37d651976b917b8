"""Nobody taps anything: the outbox empties by itself once there is a way to the server, whatever the browser says of it.

Chromium without background sync, its online flag stuck at the wrong word, its events never told to the app.
"""

import pytest

from tests.browser.link import Link
from tests.browser.shopwork import prepare
from tests.browser.test_photos import choose, open_visual, photos_waiting, picture
from webform.shop import Shop

pytestmark = pytest.mark.browser

# What a phone's browser may get wrong: the flag, its events, and background sync that is not there.
STUCK = """
Object.defineProperty(Navigator.prototype, "onLine", { get: () => FLAG });
for (const name of ["online", "offline"]) addEventListener(name, (event) => event.stopImmediatePropagation(), true);
delete window.SyncManager;
if (window.ServiceWorkerRegistration) delete ServiceWorkerRegistration.prototype.sync;
"""
MOST_MS = 60_000  # promised: within a minute, with the app open


def cut_off(server, phone, link, flag, tmp_path, serial):
    """A phone of which the server knows nothing that was done since: a check-in, a reading and a photo."""
    prepare(server.data)
    one = phone("one", url=link.url)
    one.enrol(server.code(), "Kim")
    one.context.add_init_script(STUCK.replace("FLAG", flag))
    one.page.reload()
    one.page.wait_for_selector("html[data-ready='#/']")
    assert one.page.evaluate("[navigator.onLine, 'SyncManager' in window]") == [flag == "true", False]
    link.turn("swallow" if flag == "true" else "refuse")  # a network that leads nowhere, or none
    open_visual(one, serial)
    choose(one, picture(tmp_path / "a.jpg", 31, 800, 600))
    one.save()
    photos_waiting(one, 1)
    assert one.waiting() >= 5
    return one


def is_at_the_desk(server, serial):
    shop = Shop(server.data)
    found = [entry["state"]["evidence"] for entry in shop.todays_jobs() if any(
        view["kind"] == "filter" and view["fields"]["serial"]["used"] == serial for view in entry["views"].values())]
    shop.store.close()
    return len(found) == 1 and any(name.endswith("/before.visual") for name in found[0]) \
        and len(list((server.data / "photos").glob("??/*"))) == 1


@pytest.mark.parametrize("flag", ["false", "true"])
def test_a_phone_that_is_back_empties_its_outbox_within_a_minute_though_nobody_tells_it(server, phone, tmp_path, flag):
    link = Link(server.port)
    try:
        one = cut_off(server, phone, link, flag, tmp_path, "S-8001")
        link.turn("up")
        one.page.wait_for_selector("#status[data-waiting='0'][data-photos='0']", timeout=MOST_MS)
        assert is_at_the_desk(server, "S-8001")
    finally:
        link.close()


def test_a_phone_that_was_closed_with_a_full_outbox_empties_it_when_it_is_opened_again(server, phone, tmp_path):
    link = Link(server.port)
    try:
        one = cut_off(server, phone, link, "false", tmp_path, "S-8002")
        one.end()  # in peace: Chromium writes cookies within half a minute only
        link.turn("up")
        one.open()
        one.page.wait_for_selector("#status[data-waiting='0'][data-photos='0']")
        assert is_at_the_desk(server, "S-8002")
    finally:
        link.close()
