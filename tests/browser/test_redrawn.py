"""A list shows what the book says, also where the book changed while the person was on the way to it. Readings invented."""

import pytest

pytestmark = pytest.mark.browser

JOB = "job:demo1"
# Holds what a screen needs at its very end, until let go; the person then goes to a job; when that has been read and
# drawn, a step of it is half filled (in another tab, say), and all that is told of it comes before the screen is ready.
ON_THE_WAY = """async (job) => {
  const book = await new Promise((ok) => {
    const asked = indexedDB.open("ashbook"); asked.onsuccess = () => ok(asked.result); });
  const photos = book.transaction("photos", "readwrite").objectStore("photos");
  let isHeld = true;
  const hold = () => { photos.get("none").onsuccess = () => { if (isHeld) hold(); }; };
  hold();
  const until = async (is) => { while (!is()) await new Promise((ok) => requestAnimationFrame(ok)); };
  document.documentElement.removeAttribute("data-ready");
  location.hash = `#/job/${job}`;
  await until(() => document.querySelector("[data-testid='step-after.weight']"));
  const drafts = book.transaction("drafts", "readwrite").objectStore("drafts");
  const slot = "after.weight";
  drafts.put({ key: `${job}/${slot}`, step: "weight", record: job, slot, values: {}, replaces: {}, job });
  await new Promise((ok) => { drafts.transaction.oncomplete = ok; });
  new BroadcastChannel("ashbook").postMessage("changed");
  await new Promise((ok) => setTimeout(ok, 1500));  // what was told is dealt with after 0.6 s
  const isReady = "ready" in document.documentElement.dataset;
  isHeld = false;
  book.close();
  return isReady;
}"""


def test_a_list_that_the_book_changed_under_on_the_way_is_drawn_again(server, demo_phone):
    demo_phone.go(f"#/job/{JOB}")
    demo_phone.go("#/")
    assert demo_phone.page.evaluate(ON_THE_WAY, JOB) is False
    row = demo_phone.page.get_by_test_id("step-after.weight")
    row.get_by_text("half filled").wait_for(timeout=10_000)  # sooner than the next sync, which would tell of it anew
