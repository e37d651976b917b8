"""An owner whom a phone entered is erased at the desk: the phone forgets the name and offers it no more. Names invented."""

import json

import pytest

from demo.shop import seed
from webform.shop import Shop
from webform.trade.tag_code import complete

pytestmark = pytest.mark.browser

NAME = "Zanzibarra Fuhrwerk"
EVERYTHING = """() => new Promise((ok) => { const asked = indexedDB.open("ashbook"); asked.onsuccess = async () => {
  const book = asked.result, found = {};
  for (const name of book.objectStoreNames) found[name] = await new Promise((told) => {
    const all = book.transaction(name).objectStore(name).getAll(); all.onsuccess = () => told(all.result); });
  book.close(); ok(JSON.stringify(found)); }; })"""


def owners(phone, tag):
    """What the check-in offers as owners."""
    phone.go(f"#/checkin/{tag}")
    return phone.page.get_by_test_id("field-owner").locator("option").all_text_contents()


def test_a_phone_forgets_an_owner_who_was_erased(server, phone, office):
    shop = Shop(server.data)
    seed(shop)
    shop.store.close()
    one = phone()
    one.enrol(server.code(), "Kim")
    tag, other = complete("ABC1234"), complete("XYZ9876")
    one.go(f"#/checkin/{tag}")
    one.pick("field-unit_kind-wall_flow")
    one.fill("new-owner", NAME)
    one.save()
    one.sync()
    assert NAME in owners(one, other) and NAME in one.page.evaluate(EVERYTHING)
    office.page.goto(server.url + "/office/books?kind=owner")
    office.page.get_by_text(NAME).first.click()
    office.page.get_by_test_id("erase-owner").locator("visible=true").click()
    assert NAME in office.page.get_by_role("heading", level=1).inner_text()
    office.page.get_by_label("Why").fill("asked by letter of 3 March")
    office.page.get_by_test_id("erase").click()
    office.page.get_by_test_id("erased").wait_for()
    assert NAME not in office.page.content()
    one.go("#/")
    one.sync()
    held = json.loads(one.page.evaluate(EVERYTHING))
    assert [store for store in held if NAME in json.dumps(held[store], ensure_ascii=False)] == []
    offered = owners(one, other)
    assert NAME not in offered and [text for text in offered if text.startswith("owner:")] == [], offered
    assert "Moorland Haulage (invented)" in offered and json.loads(one.page.evaluate(EVERYTHING))
