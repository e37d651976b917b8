"""A throw-away field, added in the declaration and nowhere else, is found on the phone, in its store, in the server's
check, at the desk and in the report."""

import shutil
import subprocess
import sys

import pytest

from demo.shop import seed
from tests.browser.conftest import ROOT, Office, Phone, Server
from webform.shop import Shop

pytestmark = pytest.mark.browser

LABEL = "Throw-away field"
BEFORE = '    step("flow", "job", "Flow", (\n'
STORED = """() => new Promise((resolve) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = () => {
  const got = asked.result.transaction("views").objectStore("views").get("job:demo4");
  got.onsuccess = () => resolve(got.result.fields["before.flow"].used.throwaway); }; })"""


def test_a_field_declared_once_is_everywhere(built, playwright_engine, tmp_path):
    tree = tmp_path / "tree"
    for folder in ("webform", "sync"):
        shutil.copytree(ROOT / folder, tree / folder, ignore=shutil.ignore_patterns("node_modules", "build", "__pycache__"))
    (tree / "webform/phone/node_modules").symlink_to(ROOT / "webform/phone/node_modules")
    declaration = tree / "webform/checklist/declaration.py"
    text = declaration.read_text()
    assert text.count(BEFORE) == 1
    declaration.write_text(text.replace(BEFORE, BEFORE + f'        text("throwaway", "{LABEL}", longest=20),\n'))
    subprocess.run([sys.executable, "-m", "webform.phone.build"], cwd=tree, check=True, timeout=120)
    shop = Shop(tmp_path / "shop")
    seed(shop)
    shop.store.close()
    server = Server(tmp_path / "shop", tree)
    (tmp_path / "phone").mkdir()
    phone = Phone(playwright_engine, tmp_path / "phone", server.url)
    office = Office(playwright_engine, server)
    try:
        phone.enrol(server.code(), "Kim")
        phone.go("#/job/job:demo4/before.flow")
        phone.fill("field-throwaway", "kept <b>as text</b>")
        phone.pick("field-bench-good")
        phone.save()
        assert phone.page.evaluate(STORED) == "kept <b>as text</b>"
        phone.sync()
        office.page.goto(server.url + "/office/jobs/demo4")
        assert office.page.get_by_text(LABEL, exact=True).count() and office.page.get_by_text("kept <b>as text</b>").count()
        office.page.goto(server.url + "/office/jobs/demo4/report")
        assert office.page.get_by_text(LABEL).count() and office.page.get_by_text("kept <b>as text</b>").count()
    finally:
        phone.kill()
        office.browser.close()
        server.kill()
    check = ("from webform.checklist.check import refusal; print(refusal({'schema': 1, 'kind': 'job', 'set': {'before.flow': "
             "{'bench': 'good', 'drop': {'n': '2', 'u': 'kPa'}, 'throwaway': 'x' * 21}}}))")
    said = subprocess.run([sys.executable, "-c", check], cwd=tree, check=True, capture_output=True, text=True).stdout
    assert said.strip() == "answer.too_long"
