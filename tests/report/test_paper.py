"""The PDF and the page of a report: figures are there, one page, typed text stays text, nothing is fetched."""

import re
import socket
import urllib.request
from pathlib import Path
from types import SimpleNamespace

import flask
import pypdfium2
import pytest

from sync import exchange
from sync import lookup as log
from sync.change import Pen
from sync.log import Store
from sync.photos import Photos
from tests.checklist.views import MODEL, number, view
from tests.report.filters import A_AFTER, A_BEFORE, A_ROUND, C_AFTER, C_ROUNDS, CHECK_IN, WORDS, report
from tests.sync.picturing import jpeg
from webform import report as report_package
from webform.checklist import lookup
from webform.checklist.case import job_state
from webform.issued import Issued
from webform.lasting import Lasting

OK = "ok_to_reinstall"
OWNER_SAYS = {"owner_answer": {"answer": "clean", "said_by": "Mara Quill"}}


def paper(made):
    return report_package.report_pdf(made, WORDS)


def text_of(pdf):
    """All text of a PDF on one line."""
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def page_of(made):
    app = flask.Flask("webform", root_path=str(Path(report_package.__file__).parents[1]))
    app.register_blueprint(report_package.blueprint)
    with app.test_request_context():
        return flask.render_template("report.html", report=made, words=WORDS, pdf_url="/x.pdf", job_url="/x")


def plain(page):
    """The text of a page on one line."""
    return " ".join(re.sub(r"<[^>]*>", " ", page).split())


SIGNED_A = {"signed": OK, **OWNER_SAYS}


def signed_a(**more):
    return report({**A_BEFORE, **A_AFTER}, A_ROUND, **{**SIGNED_A, **more})


@pytest.mark.parametrize("draw", [lambda made: text_of(paper(made)), lambda made: plain(page_of(made))])
def test_page_and_pdf_hold_the_figures_of_filter_a(draw):
    text = draw(signed_a())
    for piece in ("OK to reinstall", "Signed", "Kim", "25 Nov 2026", "WO-4711", "7K3M9QX07", "TEST-290", "S-1001",
                  "TEST 17", "Mara Quill", "14480 g", "13780 g", "700 g came off", "2.75 inH2O", "1.78 inH2O",
                  "24 cells: 24 Soft (170 mm)", "24 cells: 24 Free", "Clean it", "start-4", "c0ffee012345",
                  "common practice, no published source", "invented for tests", "never removed or opened up"):
        assert piece in text, piece


@pytest.mark.parametrize("draw", [lambda made: text_of(paper(made)), lambda made: plain(page_of(made))])
def test_page_and_pdf_hold_the_verdict_of_filter_c(draw):
    text = draw(report(C_AFTER, *C_ROUNDS, signed="replace"))
    for piece in ("Replace", "14 of 24 cells (58 %)", "13892 g", "1.90 inH2O", "Fit another filter", "took off 8 g"):
        assert piece in text, piece


@pytest.mark.parametrize("draw", [lambda made: text_of(paper(made)), lambda made: plain(page_of(made))])
def test_a_draft_is_marked_on_page_and_pdf(draw):
    text = draw(report({**A_BEFORE, **A_AFTER}, A_ROUND))
    assert "Draft, not signed" in text
    assert "Draft, not signed" not in draw(signed_a())


ISSUED = {"issue": "Report 2026-0007-K7M2, issued 25 Nov 2026, 17:40 UTC",
          "paper_line": "2026-0007-K7M2/4711:3fa9-21bc-77d0/1a2b-3c4d-5e6f"}
ORDINARY = [signed_a(), report(C_AFTER, *C_ROUNDS, signed="replace"), report(A_BEFORE)]


def lines_of(pdf):
    """The lines of each page, without the foot."""
    return [[line.strip() for line in page.get_textpage().get_text_range().splitlines() if "Page " not in line]
            for page in pypdfium2.PdfDocument(pdf)]


@pytest.mark.parametrize("made", ORDINARY + [{**made, **ISSUED} for made in ORDINARY])
def test_an_ordinary_report_is_one_page_of_a4(made):
    document = pypdfium2.PdfDocument(paper(made))
    assert len(document) == 1 and "Page 1 of 1" in text_of(paper(made))
    # ISO 216: A4 is 210 x 297 mm.
    assert [side * 25.4 / 72 for side in document[0].get_size()] == [pytest.approx(210, abs=0.1),
                                                                     pytest.approx(297, abs=0.1)]


@pytest.mark.parametrize("made", [{**made, **ISSUED, "work_order": order} for made in ORDINARY
                                  for order in ("WO-4711", "W" * 40)])
def test_no_line_begins_with_a_unit_or_the_end_of_a_time(made):
    [lines] = lines_of(paper(made))
    assert any(line.endswith("issued 25 Nov 2026, 17:40 UTC") for line in lines)
    assert [line for line in lines if re.match(r"(UTC|inH2O|g|mm|%|°C)\b", line)] == []


def with_photos(count):
    made = {**signed_a(), **ISSUED}
    photo = {"sha256": "0" * 64, "state": "here", "text": "", "caption": "Look, as found, taken 25 Nov 2026, 08:00 UTC"}
    return {**made, "photos": [photo] * count}


@pytest.mark.parametrize(("count", "pages"), [(1, 2), (6, 2), (24, 3)])
def test_photos_stand_on_pages_of_their_own_and_the_first_page_is_whole(count, pages):
    pdf = report_package.report_pdf(with_photos(count), WORDS, lambda _sha256: jpeg())
    found = lines_of(pdf)
    assert len(found) == pages
    assert any("Driving without it is unlawful" in line for line in found[0]), "verdict, readings and cautions on the first"
    assert found[1][0] == "Photos" and text_of(pdf).count("taken 25 Nov") == count
    assert all(f"Page {number} of {pages}" in text_of(pdf) for number in range(1, pages + 1))


@pytest.mark.parametrize("words", [150, 400, 800, 1500])
def test_a_long_report_is_parted_between_its_blocks(words):
    made = {**filled_with("x", "word " * words), **ISSUED}
    found = lines_of(paper(made))
    assert all(len(page) >= 6 for page in found), "no page holds a few lost lines"
    for page in found:
        assert page[-1] not in WORDS.values(), f"a heading at the foot of a page: {page[-1]}"


def test_the_decision_is_told_again_only_where_the_head_does_not_tell_all_of_it():
    for draw in (lambda made: text_of(paper(made)), lambda made: plain(page_of(made))):
        assert "Decided by" not in draw(signed_a()) and "Kim" in draw(signed_a())
        text = draw(signed_a(signed="replace", reason="rusted through"))
        told = "Kim decided “Replace” and gave this reason: rusted through"
        assert text.count(told) == 1 and text.index(told) < text.index("All cells are free"), "before the readings' reasons"
        assert "Decided by Kim" in draw({**signed_a(), "status": {"code": "not_final", "word": "Not final", "text": ""}})


def test_the_same_report_gives_the_same_bytes():
    assert paper(signed_a()) == paper(signed_a())


PAYLOADS = ["<b>bold</b>", "<script>alert(1)</script>", '<img src="http://192.0.2.1/x.png"/>',
            '<a href="javascript:alert(1)">x</a>', "</para><para>", "&amp;&#60;", '"><svg onload=alert(1)>',
            "{{ 7*7 }}", "%(x)s {code}", '<font name="Nowhere">x</font>']


def filled_with(text, long_text=None):
    """A report in which a text stands in every field that people type."""
    noted = {"note": text}
    readings = {**A_BEFORE, **A_AFTER, "before.visual": {**A_BEFORE["before.visual"], **noted},
                "note": long_text or text, "work_order": text, "truck": text}
    model = view("model:m", {**{name: field["used"] for name, field in MODEL["fields"].items()}, "number": text})
    return report(readings, A_ROUND, signed="replace", reason=text, model=model,
                  owner_answer={"answer": "clean", "said_by": text, "note": text})


@pytest.mark.parametrize("payload", PAYLOADS)
def test_markup_stays_text_on_page_and_pdf(payload):
    made = filled_with(payload)
    assert payload in text_of(paper(made))
    page = page_of(made)
    assert payload not in page or payload in ("{{ 7*7 }}", "%(x)s {code}")
    assert "<script" not in page
    assert "onload=" not in re.sub(r">[^<]*<", "><", page)
    assert "49" not in plain(page_of(filled_with("{{ 7*7 }}")))


@pytest.mark.parametrize("payload", PAYLOADS)
def test_a_pdf_holds_no_link_no_script_and_no_picture(payload):
    pdf = paper(filled_with(payload))
    for name in (b"/URI", b"/JavaScript", b"/JS", b"/Launch", b"/Annots", b"/XObject", b"/EmbeddedFile"):
        assert name not in pdf.replace(b"/XObject <<", b""), name


def test_making_a_pdf_fetches_nothing(monkeypatch):
    def refuse(*_given, **_named):
        raise AssertionError("a report must not reach for the network")
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(urllib.request, "urlopen", refuse)
    for payload in PAYLOADS:
        assert paper(filled_with(payload))[:5] == b"%PDF-"


@pytest.mark.parametrize("text", ["a\x00b\x07", "\u202egnp.exe\u202c", "W" * 3000, "word " * 3000, "\n" * 400,
                                  "𝄞🚚", "漢字 かな 한글", "עברית العربية ไทย हिन्दी", "Ærø Łódź Žižkov Ελλάδα Київ"])
def test_a_pdf_is_made_of_any_text(text):
    made = paper(filled_with(text[:40], text))
    assert "700 g came off" in text_of(made)
    assert "\u202e" not in text_of(made)


def test_european_greek_cyrillic_and_thai_names_are_printed():
    for name in ("Łódź Žižkov Ærø", "Ελλάδα", "Київ", "ไทย", "→ − ≤ ²"):
        assert name in text_of(paper(filled_with(name))), name


def test_a_very_long_note_is_cut_with_a_word_about_where_the_rest_is():
    assert "(the rest is in the job book)" in text_of(paper(filled_with("x", "word " * 3000)))


def test_every_control_on_the_page_is_free_of_inline_style_and_script():
    page = page_of(signed_a())
    assert not re.search(r"<style|<script|\sstyle=|\son[a-z]+=", page)


@pytest.fixture
def client(tmp_path):
    store = Store(f"sqlite:///{tmp_path}/book.db", policy_of=lookup.policy_of, ref_fields=lookup.ref_fields,
                  personal=("owner",))
    pen = Pen("desk")

    def write(record, **answers):
        fields = {name.replace("__", "."): value for name, value in answers.items()}
        assert exchange.write(store, pen, record, fields, "person:kim", replaces={})["status"] == "stored"

    def read_job(job_id):
        round_ids = log.children(store, job_id, "job", "round")
        views = log.views(store, [job_id, "filter:f", "model:m", "person:kim", *round_ids])
        return views, job_state(job_id, views)

    write("person:kim", name="Kim", may_sign="yes")
    write("owner:o", name="Mara Quill")
    write("shop:rules", name="Invented Filter Works", address="1 Test Lane")
    write("model:m", number="TEST-290", depth=number("290", "mm"), spec=MODEL["fields"]["spec"]["used"])
    write("filter:f", unit_kind="wall_flow", model="model:m", serial="S-1001")
    write("tag:7K3M9QX07", filter="filter:f")
    write("job:j", filter="filter:f", **CHECK_IN)
    for name, value in {**A_BEFORE, **A_AFTER}.items():
        write("job:j", **{name: value})
    write("round:r", job="job:j", treatment={"method": "wash", "minutes": number("480", "min")})
    app = flask.Flask("webform", root_path=str(Path(report_package.__file__).parents[1]))
    app.register_blueprint(report_package.blueprint)
    app.extensions["shop"] = SimpleNamespace(store=store, read_job=read_job, issued=Issued(store, Lasting(tmp_path)),
                                                photos=Photos(tmp_path / "photos"))
    yield app.test_client()
    store.close()


@pytest.mark.parametrize("name", ["j", "job:j"])
def test_the_desk_shows_the_report_of_a_stored_job_as_page_and_pdf(client, name):
    page = client.get(f"/office/jobs/{name}/report")
    assert page.status_code == 200
    pdf = client.get(f"/office/jobs/{name}/report.pdf")
    assert (pdf.status_code, pdf.mimetype) == (200, "application/pdf")
    for text in (plain(page.text), text_of(pdf.data)):
        for piece in ("OK to reinstall", "Draft, not signed", "Invented Filter Works", "Mara Quill", "7K3M9QX07",
                      "Wash, 480 min", "Readings by Kim"):
            assert piece in text, piece


@pytest.mark.parametrize("name", ["nowhere", "filter:f", "person:kim", "%00", "job:"])
def test_a_job_that_is_not_there_is_not_found(client, name):
    assert client.get(f"/office/jobs/{name}/report").status_code == 404
    assert client.get(f"/office/jobs/{name}/report.pdf").status_code == 404
