"""The protocol cases, passed by the phone's own exchange in Chromium; the Python client passes them in tests/sync."""

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from sync.change import LETTERS, new_name
from tests.browser.conftest import ARGUMENTS
from tests.sync.cases import ALL, CASES, PATIENCE_S, Case, record_of, text_of
from tests.sync.making import made, pushed
from tests.sync.scripted import Scripted, check_first, check_last
from webform.phone.build import OUT, baked, node_and_npm

pytestmark = pytest.mark.browser

PAGE = b"<!doctype html><title>client</title><script src=/client.js></script>"
TYPES = {".js": "text/javascript", ".json": "application/json", ".wasm": "application/wasm"}
# What the page does: begins as an enrolled phone, writes, syncs, and tells what it has.
BEGIN = """async ([entries, counted]) => { const { setMeta, write } = window.client;
  await setMeta("device", "van"); await setMeta("person", "person:kim"); await setMeta("lamport", counted);
  return (await Promise.all(entries.map((entry) => write([entry])))).flat(); }"""
SYNC = "async (isAsked) => { const done = await window.client.syncNow(isAsked); return done.state; }"
# Every time limit is noted and made short.
HURRY = """(most) => { const limit = AbortSignal.timeout; window.limits = [];
  AbortSignal.timeout = (ms) => { window.limits.push(ms); return limit.call(AbortSignal, Math.min(ms, most)); }; }"""
NAMES = """(moments) => moments.map((moment) => { Date.now = () => moment; return window.client.newName(); })"""
STATED_MS = 20000  # TIME_OUT_MS of request.js
TELL = """async () => { const { heldChanges, unsent, viewsOfKind } = window.client;
  return { waiting: (await unsent()).map((entry) => entry.id),
    held: (await heldChanges()).map((entry) => [entry.id, entry.reason]),
    views: Object.fromEntries((await viewsOfKind("job")).map((view) => [view.record, view.fields])) }; }"""
# The ids of the answers that the screens show of these records once the merge has had its word.
SHOWN = """async (records) => { const { remerge, viewOf } = window.client;
  await remerge(records);
  const views = await Promise.all(records.map((record) => viewOf(record)));
  const held = views.flatMap((view) => Object.values(view?.fields ?? {}));
  return held.flatMap((field) => field.answers.map((answer) => answer.id)); }"""
MERGED = """async (expected) => { const { canonical, viewsOfKind } = window.client;
  for (const end = performance.now() + 10000; performance.now() < end; await new Promise((ok) => setTimeout(ok, 20))) {
    const views = await viewsOfKind("job");
    const isThere = (view) => canonical(view.fields) === expected[view.record];
    if (views.length === Object.keys(expected).length && views.every(isThere)) return;
  } }"""

WRITE = "(entry) => window.client.write([entry])"
# What the page shows of a record once the merge has had its word.
REMERGED = """async (record) => { const { remerge, viewOf } = window.client;
  await remerge([record]);
  return Object.fromEntries(Object.entries((await viewOf(record)).fields).map(([field, held]) => [field, held.used])); }"""
# From now on the page's clock is so many days ahead.
JUMP = """(days) => { const True = Date, off = days * 86400000;
  window.Date = class extends True { constructor(...given) { given.length ? super(...given) : super(True.now() + off); }
    static now() { return True.now() + off; } }; }"""
# What is kept of confirmed changes is now so many days older by the clocks that are named.
AGE = """([days, clocks]) => window.client.transact(["confirmed"], "readwrite", async ({ confirmed }) => {
  for (const entry of await window.client.asked(confirmed.getAll())) {
    for (const clock of clocks) entry[clock] = new Date(Date.parse(entry[clock]) - days * 86400000).toISOString();
    confirmed.put(entry); } })"""
# A person asks while a sync that nobody asked for waits for its pull, after something more was written.
ASKED = """async (entry) => { const { syncNow, unsent, write } = window.client, ask = window.fetch;
  let told, go;
  const [begun, may] = [new Promise((ok) => { told = ok; }), new Promise((ok) => { go = ok; })];
  window.fetch = async (path, ...more) => {
    if (String(path).endsWith("/pull")) { told(); await may; }
    return ask(path, ...more); };
  const first = syncNow();
  await begun;
  await write([entry]);
  const asked = [syncNow(true), syncNow(true)];
  go();
  const states = [await first, ...await Promise.all(asked)].map((done) => done.state);
  return [states, (await unsent()).length]; }"""
KEPT = """() => { const { asked, transact } = window.client;
  return transact(["confirmed"], "readonly", ({ confirmed }) => asked(confirmed.count())); }"""


@pytest.fixture(scope="module")
def page_files(built, tmp_path_factory):
    """The page with the phone's own modules, and the interpreter that the merge runs in."""
    sizes, made = json.loads((OUT / "sizes.json").read_text()), baked()
    assets = {Path(name).name.rpartition("-")[0] + Path(name).suffix: name for name in sizes["later"]}
    folder = tmp_path_factory.mktemp("page")
    (folder / "baked.json").write_text(json.dumps({
        "DECLARATION": made["declaration"], "WORDS": made["words"], "CALCULATION": made["calculation"],
        "ASSETS": {"calc_worker": assets["calculation.js"], "calc": assets["calculation.json"],
                   "micropython": assets["python.wasm"]}}))
    node, _npm = node_and_npm()
    bundle = subprocess.run([node, Path(__file__).parent / "protocol_page.mjs", folder / "baked.json"], check=True,
                            capture_output=True).stdout
    return {"/": ("text/html", PAGE), "/client.js": ("text/javascript", bundle),
            **{name: (TYPES[Path(name).suffix], (OUT / "a" / Path(name).name).read_bytes()) for name in assets.values()}}


@pytest.fixture(scope="module")
def scripted(page_files, tmp_path_factory):
    made = Scripted(tmp_path_factory.mktemp("scripted"), page_files)
    yield made
    made.close()


@pytest.fixture(scope="module")
def browser(playwright_engine):
    made = playwright_engine.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
    yield made
    made.close()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_phones_client_passes(browser, scripted, case):
    scripted.begin(case)
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    ids = page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(number), "set": {"note": text_of(case, number)}}
                                 for number in range(case.writes)], case.limits.get("counted", 0)])
    is_slow = "never answers" in case.name or "drop by drop" in case.name
    if is_slow:
        page.evaluate(HURRY, PATIENCE_S * 1000)
    state = page.evaluate(SYNC, False)
    told = page.evaluate(TELL)
    shown = [answer["id"] for fields in told["views"].values() for held in fields.values() for answer in held["answers"]]
    check_first(case, scripted, ids, told["waiting"], [tuple(one) for one in told["held"]], shown)
    assert (state == "done") == ((case.confirmed != "none" and "pull" not in case.fates) or "keys" in case.name
                                  or "drop" in case.name)
    scripted.be_honest()
    assert page.evaluate(SYNC, bool(case.limits.get("let_in"))) == "done"
    assert set(page.evaluate("() => window.limits ?? []")) == ({STATED_MS} if is_slow else set())
    page.evaluate(MERGED, scripted.views())  # the merge runs in its worker, after the sync
    told = page.evaluate(TELL)
    check_last(case, scripted, ids, told["waiting"], [tuple(one) for one in told["held"]], told["views"])
    context.close()


def test_a_clock_that_jumps_ahead_drops_nothing_that_a_restored_server_asks_for(browser, scripted):
    scripted.begin(Case("the server is put back", {}, ALL, limits={"put_back": 1}))
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    ids = page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(0), "set": {"note": "typed once"}}], 0])
    assert page.evaluate(SYNC, False) == "done"
    page.evaluate(JUMP, 40)  # the clock was a month late, and is put right
    assert page.evaluate(SYNC, False) == "done" and page.evaluate(KEPT) == 1
    scripted.be_honest()
    assert page.evaluate(SYNC, False) == "done" and scripted.stored() == ids
    context.close()


def test_what_is_sent_to_a_database_file_copied_back_stays_on_its_authors_screen(browser, scripted):
    scripted.begin(Case("the file is copied back", {}, ALL))
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(number), "set": {"note": "old"}} for number in range(4)], 0])
    assert page.evaluate(SYNC, False) == "done"
    scripted.put_back(is_by_hand=True)
    scripted.fates = {"pull": "503"}  # the receipt comes, and nothing after it
    page.evaluate(WRITE, {"kind": "job", "record": record_of(0), "set": {"flow": "1.78"}})
    assert page.evaluate(SYNC, False) == "trouble"
    assert page.evaluate(REMERGED, record_of(0)) == {"note": "old", "flow": "1.78"}
    scripted.be_honest()
    assert page.evaluate(SYNC, False) == "done"
    assert page.evaluate(REMERGED, record_of(0)) == {"note": "old", "flow": "1.78"} and len(scripted.stored()) == 5
    context.close()


@pytest.fixture
def broken_off(browser, scripted):
    """(page, own ids, a function): a phone whose push got through and no pull; after the function has put changes of others
    into the server, its pull has come no further than the first page of two records."""
    scripted.begin(Case("a pull that breaks off", {"pull": "503"}, ALL, limits={"page": 2}))
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    ids = page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(0), "set": {"flow": "1"}}], 0])
    assert page.evaluate(SYNC, False) == "trouble"

    def of_others(*changes):
        with scripted.lock:
            pushed(scripted.store, *changes)
            scripted.store.close()
        scripted.fates = {"pull": ["honest", "503"]}
        assert page.evaluate(SYNC, False) == "trouble"

    yield page, ids, of_others
    context.close()


def test_an_own_answer_stays_on_the_screen_where_a_pull_broke_off_before_its_record_came(scripted, broken_off):
    page, ids, of_others = broken_off
    of_others(*[made(f"b.{number}", f"job:other{number}", {"flow": "2"}) for number in range(3)],
              made("b.9", record_of(0), {"note": "by somebody else, so the record comes last"}))
    ids += page.evaluate(WRITE, {"kind": "job", "record": record_of(0), "set": {"mass": "13780"}})  # and is drawn anew
    assert sorted(page.evaluate(SHOWN, [record_of(0)])) == sorted(ids)
    scripted.be_honest()
    assert page.evaluate(SYNC, False) == "done"
    assert sorted(page.evaluate(SHOWN, [record_of(0)])) == sorted([*ids, "b.r.9"])


def test_an_own_answer_that_somebody_replaced_does_not_come_back_where_a_pull_broke_off(scripted, broken_off):
    page, ids, of_others = broken_off
    of_others({**made("b.1", record_of(0), {"flow": "2"}), "replaces": {"flow": ids}},
              *[made(f"b.{number}", f"job:other{number}", {"flow": "2"}) for number in range(2, 5)])
    assert page.evaluate(SHOWN, [record_of(0)]) == ["b.r.1"]
    scripted.be_honest()
    assert page.evaluate(SYNC, False) == "done" and page.evaluate(SHOWN, [record_of(0)]) == ["b.r.1"]


def test_what_was_confirmed_thirty_days_ago_by_both_clocks_is_kept_no_longer(browser, scripted):
    scripted.begin(Case("nothing goes wrong", {}, ALL))
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(0), "set": {"note": "typed once"}}], 0])
    for days, clocks, kept in ((0, [], 1), (29, ["confirmed_at", "told_at"], 1), (2, ["told_at"], 1),
                               (2, ["confirmed_at"], 0)):
        page.evaluate(AGE, [days, clocks])
        assert page.evaluate(SYNC, False) == "done" and page.evaluate(KEPT) == kept, (days, clocks)
    context.close()


def test_over_a_link_that_carries_little_in_time_the_outbox_gets_through_in_smaller_parts(browser, scripted):
    case = Case("little in time", {}, writes=60, limits={"most_in_time": 12})
    scripted.begin(case)
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    ids = page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(number), "set": {"note": text_of(case, number)}}
                                 for number in range(case.writes)], 0])
    page.evaluate(HURRY, PATIENCE_S * 1000)
    states = [page.evaluate(SYNC, False)]
    while states[-1] == "offline" and len(states) < 15:
        states.append(page.evaluate(SYNC, False))
    sizes = [len(one["request"]["changes"]) for one in scripted.requests if one["route"] == "push"]
    assert states[-1] == "done" and sorted(scripted.stored()) == sorted(ids)
    assert sizes[:6] == [60, 30, 15, 8, 10, 12]  # it tries more again once something got through
    context.close()


def test_who_asks_while_a_sync_runs_gets_what_was_written_since_sent_too(browser, scripted):
    scripted.begin(Case("nothing goes wrong", {}, ALL))
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    page.evaluate(BEGIN, [[{"kind": "job", "record": record_of(0), "set": {"note": "typed first"}}], 0])
    entry = {"kind": "job", "record": record_of(1), "set": {"note": "typed meanwhile"}}
    assert page.evaluate(ASKED, entry) == [["done", "done", "done"], 0] and len(scripted.stored()) == 2
    pushes = [one for one in scripted.requests if one["route"] == "push"]
    assert len(pushes) == 2  # however often it was tapped
    context.close()


def test_phone_and_server_name_new_records_alike(browser, scripted):
    moments = [0, 8, 1_764_000_000_000, 1_764_000_000_007, 1_764_000_000_008, 4_102_444_800_000, 2**43 - 1, 2**43]
    context = browser.new_context()
    page = context.new_page()
    page.goto(scripted.url)
    named = page.evaluate(NAMES, moments)
    context.close()
    assert [name[:8] for name in named] == [new_name(moment)[:8] for moment in moments]
    assert all(len(name) == 16 and set(name) <= set(LETTERS) for name in named) and len(set(named)) == len(named)
