"""A phone that does not trust the shop's certificate, and one that comes without any: refused, and told why and what to do.

The real proxy of deploy/ with an authority of its own, which this Chromium does not know; the real interstitial page.
"""

import shutil
import subprocess

import pytest
from playwright.sync_api import Error

from tests.browser.conftest import ARGUMENTS, Phone
from tests.browser.shopwork import prepare
from tests.browser.test_behind_proxy import Installed
from tests.browser.test_whole_job import check_in
from webform.access import Doors

pytestmark = pytest.mark.browser

WAVE_ASIDE = "thisisunsafe"  # typed on the warning, Chromium goes on in spite of it; from memory
STORED = """async () => ({ databases: (await indexedDB.databases()).map((one) => one.name), cookie: document.cookie,
  workers: (await navigator.serviceWorker?.getRegistrations() ?? []).length, isSecure: isSecureContext })"""


@pytest.fixture(scope="module")
def installed(built, tmp_path_factory):
    made = Installed(tmp_path_factory.mktemp("machine") / "machine")
    prepare(made.data)
    made.start()
    yield made
    made.stop()


@pytest.fixture
def stranger(playwright_engine, tmp_path):
    """A phone's browser with nothing installed; what it asks over its lines is noted."""
    context = playwright_engine.chromium.launch_persistent_context(
        str(tmp_path / "profile"), executable_path=shutil.which("chromium"), args=ARGUMENTS, headless=True,
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    yield context.pages[0]
    context.close()


def devices(installed):
    return Doors(installed.data).read()["devices"]


def test_chromium_itself_stops_a_phone_that_does_not_know_the_authority_and_nothing_is_sent(installed, stranger):
    answered = []
    stranger.on("response", lambda answer: answered.append(answer.url))
    for address in (installed.url + "/phone/", installed.plain + "/phone/", installed.url + "/sync/enrol"):
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            stranger.goto(address)
    assert [url for url in answered if url.startswith("https:")] == [] and devices(installed) == {}


def test_whoever_waves_the_warning_aside_is_told_why_he_cannot_enrol_and_what_to_do(installed, stranger):
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        stranger.goto(installed.url + "/phone/")
    stranger.wait_for_selector("#main-message")  # Chromium's own page
    with stranger.expect_navigation(url=installed.url + "/phone/"):
        stranger.keyboard.type(WAVE_ASIDE)
    told = stranger.get_by_test_id("untrusted")
    told.wait_for()
    assert told.get_attribute("data-why") == "certificate"
    assert "http://localhost/ca.crt" in told.inner_text() and installed.url + "/phone/" in told.inner_text()
    assert "trusted" in stranger.get_by_test_id("status").inner_text()
    assert stranger.get_by_test_id("trusted-root").get_attribute("href") == "http://localhost/ca.crt"
    assert stranger.get_by_test_id("enrol-go").count() == 0
    for way in ("#/enrol", "#/people", "#/"):  # by no way round
        stranger.evaluate("way => { delete document.documentElement.dataset.ready; location.hash = way; "
                          "dispatchEvent(new HashChangeEvent('hashchange')); }", way)
        stranger.wait_for_selector("html[data-ready=untrusted]")
        assert stranger.get_by_test_id("enrol-go").count() == 0
    assert stranger.evaluate(STORED)["workers"] == 0 and devices(installed) == {}


def test_over_plain_http_the_app_says_why_it_does_not_work_and_sends_nothing(server, playwright_engine, tmp_path):
    prepare(server.data)
    context = playwright_engine.chromium.launch_persistent_context(
        str(tmp_path / "profile"), executable_path=shutil.which("chromium"), headless=True,
        args=[*ARGUMENTS, "--host-resolver-rules=MAP ashbook.test 127.0.0.1"], viewport={"width": 360, "height": 740})
    try:
        page, asked = context.pages[0], []
        page.on("request", lambda request: asked.append((request.method, request.url)))
        page.goto(f"http://ashbook.test:{server.port}/phone/")
        told = page.get_by_test_id("untrusted")
        told.wait_for()
        assert told.get_attribute("data-why") == "plain" and "https://ashbook.test/phone/" in told.inner_text()
        assert page.evaluate("isSecureContext") is False
        for way in ("#/enrol", "#/waiting", "#/checkin/7K3M9QX07"):
            page.evaluate("way => { delete document.documentElement.dataset.ready; location.hash = way; }", way)
            page.wait_for_selector("html[data-ready=untrusted]")
        assert page.locator("input:visible").count() == 0
        assert all(method == "GET" and "/phone/" in url for method, url in asked), asked
        assert Doors(server.data).read()["devices"] == {}
    finally:
        context.close()


def trust(home, installed):
    """What README's steps 5 to 7 do: this browser's store then knows the shop's authority, and no other."""
    store = home / ".pki/nssdb"
    shutil.rmtree(store, ignore_errors=True)
    store.mkdir(parents=True)
    subprocess.run(["certutil", "-d", f"sql:{store}", "-N", "--empty-password"], check=True)
    subprocess.run(["certutil", "-d", f"sql:{store}", "-A", "-n", "shop", "-t", "C,,", "-i", installed.root()], check=True)


def test_work_waits_on_a_phone_while_the_server_shows_a_certificate_of_another_authority(
        installed, playwright_engine, tmp_path):
    machine, home = installed, tmp_path / "home"
    trust(home, machine)
    code = Doors(machine.data).new_code()
    phone = Phone(playwright_engine, tmp_path / "phone", machine.url, home=home)
    try:
        phone.enrol(code, "Kim")
        machine.stop()
        machine.processes.clear()
        certificates = machine.prefix / "var/lib/caddy/ashbook"
        assert (certificates / "pki").is_dir()
        shutil.rmtree(certificates / "pki")  # the machine was set up anew, or somebody stands in between
        shutil.rmtree(certificates / "certificates")
        machine.start()
        phone.page.reload()  # it opens from the phone, whatever the certificate says
        phone.page.wait_for_selector("html[data-ready='#/']")
        phone.go("#/type")
        phone.fill("tag-code", "7K3M9QX07")
        phone.tap("tag-go")
        phone.page.get_by_test_id("new-filter").wait_for()
        check_in(phone, "S-9100")
        waiting = phone.waiting()
        assert waiting >= 4
        phone.go("#/waiting")
        phone.hush()
        phone.tap("sync")
        told = phone.page.get_by_test_id("why-not-sent")
        told.wait_for()
        assert "does not trust its certificate" in told.inner_text()
        assert told.get_by_test_id("trusted-root").get_attribute("href") == "http://localhost/ca.crt"
        assert "Everything is safe on this phone" in phone.heard() and phone.waiting() == waiting
        phone.end()
        trust(home, machine)  # the new one, as a person does who was told
        phone.open()
        phone.page.wait_for_selector("#status[data-waiting='0']")
        assert phone.errors == []
    finally:
        phone.kill()
