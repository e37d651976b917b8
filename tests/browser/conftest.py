"""Real parts for browser tests: a server process that can be killed, Chromium with a profile that outlives it, a camera."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
import qrcode
from PIL import Image
from playwright.sync_api import sync_playwright

from demo.shop import seed
from tests.browser.link import Link
from tests.proxying import free_port
from webform.phone.build import build
from webform.shop import Shop

ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]
ROOT = Path(__file__).parents[2]
# What the app says to the next tap on Save: the first text of its own that tells saved or not saved. The minute begins
# here and not at the tap, before which a test may have more to do.
LISTEN = """() => { const said = document.getElementById("said"); said.textContent = "";
  window.answer = new Promise((ok, no) => { setTimeout(() => no(new Error(document.body.innerText)), 60000);
    new MutationObserver(() => { if (/saved/i.test(said.textContent)) ok(said.textContent); })
      .observe(said, {childList: true, characterData: true, subtree: true}); }); }"""
# What the app says from now on stays to be read, also after it has wiped its words away, as it does after four seconds.
HEAR = """() => { const said = document.getElementById("said"); said.textContent = ""; delete said.dataset.heard;
  window.hearing?.disconnect();
  window.hearing = new MutationObserver(() => { if (said.textContent) said.dataset.heard = said.textContent; });
  window.hearing.observe(said, {childList: true, characterData: true, subtree: true}); }"""


class Server:
    """`ashbook serve` as a process of its own, on one port and one folder for its whole life."""

    def __init__(self, data, root=ROOT):
        self.data, self.root, self.port, self.process, self.password = data, root, free_port(), None, None
        self.url = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self):
        log = self.data.with_suffix(".log")
        with log.open("a") as out:
            self.process = subprocess.Popen([sys.executable, "-m", "webform", "serve", "--data", str(self.data), "--port",
                                             str(self.port)], cwd=self.root, stdout=out, stderr=subprocess.STDOUT)
        for _ in range(1200):
            try:
                urllib.request.urlopen(self.url + "/health", timeout=2).close()
                break
            except OSError:
                assert self.process.poll() is None, log.read_text()
                time.sleep(0.05)  # polls a condition
        else:
            raise AssertionError("the server did not come up: " + log.read_text())
        self.password = self.password or re.search(r"password (\S+)", log.read_text()).group(1)

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def code(self):
        done = subprocess.run([sys.executable, "-m", "webform", "code", "--data", str(self.data)], cwd=self.root, check=True,
                              capture_output=True, text=True)
        return done.stdout.strip()


class Phone:
    """One phone: a Chromium profile of 360 px that can be ended, killed and opened again."""

    def __init__(self, playwright, profile, url, camera=None, home=None, more=()):
        """home: a home folder whose certificate store this browser trusts, else the person's own. more: for Chromium."""
        self.playwright, self.profile, self.url, self.camera, self.more = playwright, profile, url, camera, list(more)
        self.environment = {**os.environ, "HOME": str(home)} if home else None
        self.errors = []
        self.open()

    def open(self, path="/phone/", before=lambda phone: None):
        """before: called with this phone when its browser is there and no page of ours is yet."""
        self.context = self.playwright.chromium.launch_persistent_context(str(self.profile), **self.launching())
        self.page = self.context.pages[0]
        self.page.set_default_timeout(15000)
        self.page.on("pageerror", lambda problem: self.errors.append(str(problem)))
        before(self)
        self.page.goto(self.url + path)
        self.page.wait_for_selector("html[data-ready]")

    def launching(self):
        """How Chromium is launched for this phone."""
        arguments = ARGUMENTS + self.more
        if self.camera:
            arguments += ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream",
                          f"--use-file-for-fake-video-capture={self.camera}"]
        return {"executable_path": shutil.which("chromium"), "args": arguments, "headless": True, "env": self.environment,
                "viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}

    def kill(self):
        """kill -9 of the whole browser of this profile."""
        for folder in Path("/proc").iterdir():
            if not folder.name.isdigit():
                continue
            try:
                command = (folder / "cmdline").read_bytes()
            except OSError:
                continue
            if f"--user-data-dir={self.profile}".encode() in command:
                os.kill(int(folder.name), signal.SIGKILL)
        try:
            self.context.close()
        except Exception as problem:  # it was killed, so it cannot say goodbye
            assert "closed" in str(problem).lower()
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            (self.profile / name).unlink(missing_ok=True)

    def end(self):
        self.context.close()

    def tap(self, name):
        if name.startswith(("cell-", "cells-", "feel-", "zone-")):
            self.reach("cells")
        self.page.get_by_test_id(name).click()

    def reach(self, field):
        """Goes to a question as a person does: on with Next, or back through its folded answer."""
        box = self.page.locator(f"[data-field='{field}']")
        for _ in range(30):
            state = box.get_attribute("data-state")
            if state in (None, "open"):
                return
            if state == "folded":
                self.page.get_by_test_id(f"answer-{field}").click()
                continue
            now = self.page.locator("[data-state=open]").get_attribute("data-field")
            self.page.get_by_test_id("next-question").click()
            self.page.wait_for_selector(f"[data-state=open]:not([data-field='{now}'])")
        raise AssertionError(f"no way to the question {field}")

    def pick(self, *names):
        """Touches choices and units, each under its own question; a choice goes on by itself."""
        for name in names:
            field = name.split("-")[1]
            self.reach(field)
            self.page.locator("label", has=self.page.get_by_test_id(name)).click()
            box = self.page.locator(f"[data-field='{field}']")
            if box.get_attribute("data-state") and box.get_attribute("data-kind") == "choice" and name.startswith("field-"):
                self.page.wait_for_selector(f"[data-field='{field}'][data-state=folded]")

    def fill(self, name, text):
        if name.startswith(("field-", "new-")):
            self.reach(name.split("-")[1])
        elif name.startswith("cell-"):
            self.reach("cells")
        self.page.get_by_test_id(name).fill(text)

    def choose(self, field, label):
        """Picks a record by its name."""
        self.reach(field)
        self.page.get_by_test_id(f"field-{field}").select_option(label=label)

    def go(self, path):
        self.page.evaluate("""path => { document.documentElement.removeAttribute('data-ready');
          if (location.hash === path) dispatchEvent(new HashChangeEvent('hashchange')); else location.hash = path; }""", path)
        self.page.wait_for_selector(f"html[data-ready='{path}']")

    def save(self):
        """Saves the step and waits until the job's page is drawn again."""
        self.page.evaluate("document.documentElement.removeAttribute('data-ready')")
        self.tap("save")
        self.page.wait_for_selector("html[data-ready^='#/job/']")

    def listen(self):
        """From now on what the app says about a save is kept, for answer()."""
        self.page.evaluate(LISTEN)

    def answer(self):
        """What it said, once it has."""
        return self.page.evaluate("() => window.answer")

    def hush(self):
        """From now on what the app says is kept, for heard()."""
        self.page.evaluate(HEAR)

    def heard(self, of="", **more):
        """The last that it said since hush(), once that has come; of: what must stand in it. more: for the wait."""
        self.page.wait_for_selector(f"#said[data-heard*='{of}']" if of else "#said[data-heard]", state="attached", **more)
        return self.page.locator("#said").get_attribute("data-heard")

    def verdict(self):
        return self.page.locator("[data-testid=verdict]").first.get_attribute("data-verdict")

    def waiting(self):
        return int(self.page.get_by_test_id("status").get_attribute("data-waiting"))

    def sync(self):
        """Sends what waits and comes back when nothing does."""
        here = self.page.evaluate("location.hash")
        self.go("#/waiting")
        self.hush()
        self.tap("sync")
        self.heard()  # how it went
        self.page.wait_for_selector("#status[data-waiting='0']")
        self.go(here or "#/")

    def enrol(self, code, person):
        self.fill("enrol-code", code)
        self.fill("enrol-name", "Van phone")
        self.tap("enrol-go")
        self.page.get_by_test_id("person").filter(has_text=person).click()
        self.page.wait_for_selector("html[data-ready='#/']")
        # the calculation and the scanner are fetched in the background; offline work begins when they are there
        self.page.evaluate("""async () => { const all = await (await fetch('/phone/sw.js')).text();
          const names = [...new Set(all.match(/\\/phone\\/a\\/[\\w.-]+/g))];
          for (;;) { const found = await Promise.all(names.map((name) => caches.match(name)));
            if (found.every(Boolean)) return; await new Promise((ok) => requestAnimationFrame(ok)); } }""")


@pytest.fixture(scope="session")
def built():
    assert build() == 0


@pytest.fixture(scope="session")
def playwright_engine():
    with sync_playwright() as engine:
        yield engine


@pytest.fixture
def server(built, tmp_path):
    made = Server(tmp_path / "shop")
    yield made
    made.kill()


@pytest.fixture
def phone(playwright_engine, server, tmp_path):
    """Makes phones; a camera is the text of the QR code that is held before it."""
    made = []

    def open_phone(name="phone", camera=None, url=server.url, more=()):
        picture = camera_file(tmp_path / f"{name}.mjpeg", camera) if camera else None
        profile = tmp_path / name
        profile.mkdir(exist_ok=True)
        made.append(Phone(playwright_engine, profile, url, picture, more=more))
        return made[-1]

    yield open_phone
    for one in made:
        one.kill()
        assert one.errors == []


@pytest.fixture
def link(server):
    """A link to the server that goes bad on order."""
    made = Link(server.port)
    yield made
    made.close()


def camera_file(path, text):
    """A film of one picture: the code on a label, at a distance."""
    code = qrcode.QRCode(border=4, box_size=9, error_correction=qrcode.constants.ERROR_CORRECT_H)
    code.add_data(text)
    picture = Image.new("RGB", (1280, 720), "#8a8a86")
    drawn = code.make_image().convert("RGB")
    picture.paste(drawn, ((1280 - drawn.width) // 2, (720 - drawn.height) // 2))
    picture.save(path, "JPEG", quality=92)
    path.write_bytes(path.read_bytes() * 10)
    return path


@pytest.fixture
def demo_phone(server, phone):
    """The demo's shop behind the server, and one enrolled phone: Kim's."""
    shop = Shop(server.data)
    seed(shop)
    shop.store.close()
    one = phone("one")
    one.enrol(server.code(), "Kim")
    return one


@pytest.fixture
def two_phones(server, demo_phone, phone):
    """The demo's shop behind the server, and two enrolled phones: Kim's and Ravn's."""
    one, two = demo_phone, phone("two")
    two.enrol(server.code(), "Ravn")
    return one, two


class Office:
    """The desk in a browser of its own."""

    def __init__(self, playwright, server):
        self.browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        self.page = self.browser.new_page(viewport={"width": 1280, "height": 900})
        self.url = server.url
        self.page.goto(self.url + "/office/")
        self.page.get_by_label("Name").fill("office")
        self.page.get_by_label("Password").fill(server.password)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url("**/office/")


@pytest.fixture
def office(playwright_engine, server):
    made = Office(playwright_engine, server)
    yield made
    made.browser.close()
