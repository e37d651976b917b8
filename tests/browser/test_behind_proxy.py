"""deploy/ as it is installed: the unit's own command behind Caddy with its own certificate authority, over HTTPS."""

import json
import os
import re
import shlex
import shutil
import signal
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

from sync.photo_client import with_photos
from tests.browser.conftest import ROOT, Phone
from tests.browser.shopwork import prepare
from tests.proxying import free_port
from webform.access import CONTENT_POLICY, Doors
from webform.phone.build import OUT

pytestmark = pytest.mark.browser


class Installed:
    """What deploy/install left below a folder, started by what stands in its unit files."""

    def __init__(self, prefix):
        self.prefix, self.processes = prefix, []
        ports = {"ASHBOOK_PORT": str(free_port()), "ASHBOOK_HTTP_PORT": str(free_port()),
                 "ASHBOOK_HTTPS_PORT": str(free_port()), "ASHBOOK_LISTEN": "127.0.0.1"}
        done = subprocess.run([ROOT / "deploy/install", "--prefix", prefix, "--name", "localhost", "--venv", sys.prefix],
                              env={**os.environ, **ports}, capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr
        self.said = done.stdout
        lines = (prefix / "etc/ashbook/ashbook.env").read_text().splitlines()
        words = (shlex.split(line)[0] for line in lines if line and not line.startswith("#"))
        self.settings = dict(word.split("=", 1) for word in words)
        self.url = f"https://localhost:{ports['ASHBOOK_HTTPS_PORT']}"
        self.plain = f"http://localhost:{ports['ASHBOOK_HTTP_PORT']}"
        self.data = prefix / "var/lib/ashbook"

    def start(self):
        units = self.prefix / "etc/systemd/system"
        self.logs = []
        for unit in (units / "ashbook.service", units / "caddy.service.d/ashbook.conf"):
            command = [line.removeprefix("ExecStart=") for line in unit.read_text().splitlines()
                       if line.startswith("ExecStart=") and line != "ExecStart="]
            assert len(command) == 1
            words = [word.replace("${ASHBOOK_PORT}", self.settings["ASHBOOK_PORT"]) for word in shlex.split(command[0])]
            words[0] = shutil.which("caddy") if words[0] == "/usr/bin/caddy" else words[0]
            log = self.prefix / f"{unit.stem}.log"
            self.logs.append(log)
            with log.open("w") as out:
                self.processes.append(subprocess.Popen(words, cwd=ROOT, stdout=out, stderr=subprocess.STDOUT,
                                                       env={**os.environ, **self.settings}))
        self.wait(self.plain + "/ca.crt")
        self.wait(f"http://127.0.0.1:{self.settings['ASHBOOK_PORT']}/health")

    def wait(self, url):
        for _ in range(600):  # a minute at least: a busy machine is no fault
            assert all(process.poll() is None for process in self.processes), [log.read_text() for log in self.logs]
            try:
                return urllib.request.urlopen(url, timeout=2).read()
            except OSError:
                time.sleep(0.1)  # polls a condition
        raise AssertionError([log.read_text() for log in self.logs])

    def root(self):
        """The authority's certificate as a phone fetches it."""
        path = self.prefix / "root.crt"
        path.write_bytes(self.wait(self.plain + "/ca.crt"))
        return path

    def get(self, path, accept="identity"):
        trusted = ssl.create_default_context(cafile=self.root())
        return urllib.request.urlopen(urllib.request.Request(self.url + path, headers={"Accept-Encoding": accept}),
                                      context=trusted, timeout=10)

    def stop(self):
        for process in self.processes:
            process.send_signal(signal.SIGTERM)
            process.wait(60)


@pytest.fixture
def installed(built, tmp_path):
    made = Installed(tmp_path / "machine")
    prepare(made.data)
    made.start()
    yield made
    made.stop()


def test_a_phone_that_trusts_the_authority_enrols_and_works_offline_over_https(installed, playwright_engine, tmp_path):
    home = tmp_path / "home"
    store = home / ".pki/nssdb"
    store.mkdir(parents=True)
    subprocess.run(["certutil", "-d", f"sql:{store}", "-N", "--empty-password"], check=True)
    subprocess.run(["certutil", "-d", f"sql:{store}", "-A", "-n", "shop", "-t", "C,,", "-i", installed.root()], check=True)
    done = subprocess.run([installed.prefix / "opt/ashbook/venv/bin/python", "-m", "webform", "code", "--data",
                           installed.data], cwd=ROOT, check=True, capture_output=True, text=True)
    phone = Phone(playwright_engine, tmp_path / "phone", installed.url, home=home)
    try:
        phone.enrol(done.stdout.strip(), "Kim")
        seen = phone.page.evaluate("""async () => ({ isSecure: isSecureContext,
          worker: (await navigator.serviceWorker.ready).active.state, scripts: document.cookie })""")
        assert seen == {"isSecure": True, "worker": "activated", "scripts": ""}  # no script can read the device cookie
        cookie = [one for one in phone.context.cookies() if one["name"] == "__Host-ashbook_phone"]
        assert [(one["secure"], one["httpOnly"], one["sameSite"], one["path"]) for one in cookie] == \
            [(True, True, "Strict", "/")]
        installed.stop()
        phone.tap("type")
        phone.fill("tag-code", "7K3M9QX08")  # one digit is wrong: only the calculation, in WebAssembly, can tell
        phone.tap("tag-go")
        phone.page.locator("[data-testid=tag-problem]:not([hidden])").wait_for()
        assert phone.errors == []
    finally:
        phone.kill()


def test_every_file_carries_the_same_policy_whoever_serves_it(installed):
    names = ["/phone/", "/phone/sw.js", *(f"/phone/a/{path.name}" for path in sorted((OUT / "a").iterdir())
                                          if path.suffix not in (".br", ".gz"))]
    assert len(names) > 8
    kinds = {".js": "text/javascript", ".wasm": "application/wasm", ".json": "application/json", ".css": "text/css",
             ".svg": "image/svg+xml", ".webmanifest": "application/manifest+json", "": "text/html"}
    for name in [*names, "/", "/office/login", "/health", "/static/tokens.css"]:
        with installed.get(name, "br, gzip") as answer:
            assert answer.headers["Content-Security-Policy"] == CONTENT_POLICY, name
            assert answer.headers["X-Content-Type-Options"] == "nosniff", name
            assert answer.headers["Referrer-Policy"] == "same-origin", name
            if name in names:
                # a wrong kind and the browser starts no worker and no WebAssembly
                assert answer.headers["Content-Type"].split(";")[0] == kinds[Path(name).suffix], name
                assert answer.headers["Content-Encoding"] == "br", name
                assert "immutable" in answer.headers["Cache-Control"] or "/a/" not in name, name
                packed = OUT / ("index.html" if name == "/phone/" else name.removeprefix("/phone/"))
                assert answer.read() == packed.with_name(packed.name + ".br").read_bytes(), name
                assert answer.headers["Server"] in ("Caddy", None)
    for name in ("/phone/baked.json", "/phone/inputs.txt", "/phone/a/../baked.json", "/phone/a/"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            installed.get(name)
        assert refused.value.code == 404, name
        refused.value.close()


def test_plain_http_gives_the_root_certificate_and_nothing_else(installed):
    assert installed.root().read_text().startswith("-----BEGIN CERTIFICATE-----")

    class Stay(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, *_):
            return None

    for path in ("/office/", "/phone/", "/pki/authorities/local/root.key", "/root.key"):
        with pytest.raises(urllib.error.HTTPError) as moved:
            urllib.request.build_opener(Stay).open(installed.plain + path, timeout=10)
        assert moved.value.code == 308 and moved.value.headers["Location"] == installed.url + path
        moved.value.close()


def test_the_proxy_tells_scheme_and_address_and_a_client_cannot(installed):
    body = json.dumps({"code": "NOT-A-CODE", "name": "x"}).encode()
    trusted = ssl.create_default_context(cafile=installed.root())
    for origin, expected in ((installed.url, 403), ("https://elsewhere.example", 403)):
        request = urllib.request.Request(installed.url + "/sync/enrol", body, {
            "Content-Type": "application/json", "Origin": origin, "X-Forwarded-Host": "elsewhere.example"})
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(request, context=trusted, timeout=10)
        assert refused.value.code == expected
        code = json.loads(refused.value.read())["error"]["code"]
        refused.value.close()
        # our own page comes as far as the code; a foreign one does not, whatever host the client claims
        assert code == ("bad_code" if origin == installed.url else "forbidden")


def test_a_file_of_photos_passes_the_proxy_for_the_desk_and_nothing_else_so_large_does(installed):
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(), urllib.request.HTTPSHandler(
        context=ssl.create_default_context(cafile=installed.root())))

    def send(path, parts):
        """The page at an address after a form was sent there; parts: {name: text or bytes of a file}."""
        token = re.search(r'name="csrf_token" value="([^"]+)"', opener.open(installed.url + path, timeout=10).read().decode())
        body = b"".join(b'--x\r\nContent-Disposition: form-data; name="%s"%s\r\n\r\n%s\r\n' % (
            name.encode(), b'; filename="f"' if isinstance(part, bytes) else b"", part if isinstance(part, bytes)
            else part.encode()) for name, part in {"csrf_token": token.group(1), **parts}.items()) + b"--x--\r\n"
        headers = {"Content-Type": "multipart/form-data; boundary=x", "Origin": installed.url}
        return opener.open(urllib.request.Request(installed.url + path, body, headers), timeout=60).read().decode()

    large = with_photos(json.dumps({"ashbook_outbox": 1, "device": "van", "schema": 1, "changes": [], "hashes": []}),
                        [bytes(9 * 2**20)] * 3)
    with pytest.raises(urllib.error.URLError):  # 413; the proxy hangs up before this client has come to read it
        send("/office/login", {"file": large})
    send("/office/login", {"name": "office", "password": Doors(installed.data).new_password()})
    assert send("/office/phones/file", {"file": large}).count("It is no picture that can be read.") == 3
