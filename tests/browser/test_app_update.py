"""A newer app is put on the server while a phone works: nothing of its queue is lost, the new one waits for a tap, a
missing file stops the update and not the phone. Readings invented.
"""

import pytest

from sync import lookup
from tests.browser.newer import newer_tree
from webform.shop import Shop

pytestmark = pytest.mark.browser

JOB = "#/job/job:demo5"
# How often the page was loaded, whatever loads it.
COUNT = "sessionStorage.setItem('loads', String(Number(sessionStorage.getItem('loads') ?? 0) + 1));"
FORGET = """async (part) => { const gone = [];
  for (const name of await caches.keys()) { const cache = await caches.open(name);
  for (const kept of await cache.keys()) if (kept.url.includes(part)) { await cache.delete(kept); gone.push(kept.url); } }
  return gone; }"""
INSTALLED = """() => navigator.serviceWorker.getRegistration().then((one) => new Promise((ok) => {
  const newer = one.installing; if (!newer) return ok(one.waiting ? "installed" : "none");
  newer.onstatechange = () => { if (newer.state !== "installing") ok(newer.state); }; }))"""


def weigh(phone, grams):
    phone.go(JOB + "/after.weight")
    phone.fill("field-mass", str(grams))
    phone.save()


def weights(server):
    shop = Shop(server.data)
    found = [entry["change"]["set"]["after.weight"]["mass"]["n"] for entry in lookup.history(shop.store, "job:demo5")
             if entry["device"].startswith("phone-")]
    shop.store.close()
    return found


def deploy(server, tree):
    server.root = tree
    server.kill()
    server.start()


def asked_for_update(phone):
    """What becomes of the newer worker that the server has now."""
    phone.page.evaluate("() => navigator.serviceWorker.getRegistration().then((one) => one.update()).catch(() => undefined)")
    return phone.page.evaluate(INSTALLED)


def loads(phone):
    return int(phone.page.evaluate("() => sessionStorage.getItem('loads')"))


def test_a_full_outbox_outlives_the_update_and_both_apps_send_it(server, demo_phone, tmp_path):
    newer = newer_tree(tmp_path / "newer")
    demo_phone.end()
    demo_phone.open()  # Chromium writes cookies within half a minute, or when it is ended in peace
    server.kill()
    for number in range(3):
        weigh(demo_phone, 14000 + number)
    deploy(server, newer)
    demo_phone.sync()  # the old app sends its queue to the newer server
    assert weights(server) == ["14000", "14001", "14002"]
    asked_for_update(demo_phone)
    server.kill()
    for number in range(3, 6):
        weigh(demo_phone, 14000 + number)
    demo_phone.page.get_by_test_id("update").click()  # without a network: the newer app is whole on the phone
    demo_phone.page.wait_for_selector("html[data-app=newer][data-ready]")
    demo_phone.page.wait_for_selector("#status[data-waiting='3']")
    demo_phone.kill()
    demo_phone.open()
    demo_phone.page.wait_for_selector("html[data-app=newer] #status[data-waiting='3']")
    server.start()
    demo_phone.sync()
    assert weights(server) == [str(14000 + number) for number in range(6)]


def test_a_missing_file_stops_the_update_and_not_the_phone(server, demo_phone, tmp_path):
    newer = newer_tree(tmp_path / "newer")
    assets = newer / "webform/phone/build/a"
    names = [name for name in assets.iterdir() if name.name.startswith("app-")]
    kept = {name: name.read_bytes() for name in names}
    for name in names:
        name.unlink()
    demo_phone.context.add_init_script(COUNT)
    deploy(server, newer)
    gone = demo_phone.page.evaluate(FORGET, "/calculation-")  # as on a phone that had not yet fetched all in the background
    demo_phone.context.new_cdp_session(demo_phone.page).send("Network.clearBrowserCache")
    demo_phone.page.reload()
    demo_phone.page.wait_for_selector("html[data-ready]")
    assert asked_for_update(demo_phone) in ("redundant", "none")
    assert demo_phone.page.get_by_test_id("update").count() == 0
    weigh(demo_phone, 15000)  # the old page asks for its calculation in vain: the newer server does not have it
    asked = "async (all) => Promise.all(all.map(async (one) => (await fetch(one)).status))"
    assert 404 in demo_phone.page.evaluate(asked, gone)
    demo_phone.sync()
    assert weights(server) == ["15000"]
    assert loads(demo_phone) <= 2
    server.kill()
    demo_phone.page.reload()  # half updated and offline: the old app still opens
    demo_phone.page.wait_for_selector("html[data-ready]:not([data-app])")
    weigh(demo_phone, 15001)
    for name, content in kept.items():
        name.write_bytes(content)
    server.start()
    asked_for_update(demo_phone)
    demo_phone.page.get_by_test_id("update").click()
    demo_phone.page.wait_for_selector("html[data-app=newer][data-ready]")
    demo_phone.sync()
    assert weights(server) == ["15000", "15001"]
    assert loads(demo_phone) <= 4
