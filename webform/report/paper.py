"""The owner's report on A4: one page in the ordinary case, ink on white, every typed text escaped.

Draws nothing but what content() gives it, and the photos that it names, which are drawn anew by the server
(sync/pictures.py) and embedded. No link, nothing that a reader program would fetch.
"""

import io
from collections.abc import Callable

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph, Spacer, Table

from .. import lettering
from ..lettering import BOLD, REGULAR, markup
from .paper_photos import photo_grid

MARGIN = 15 * mm
WIDTH = A4[0] - 2 * MARGIN
INK, SOFT, LINE, ACCENT = HexColor("#1b2430"), HexColor("#5a6270"), HexColor("#c9c3b6"), HexColor("#1f3f77")
TINT = HexColor("#f4f1ea")
COLOURS = {"ok_to_reinstall": HexColor("#1c6b46"), "clean": HexColor("#8a5800"), "clean_again": HexColor("#8a5800"),
           "hold": HexColor("#5b3f92"), "replace": HexColor("#a3231f")}
CELL = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 6), ("TOPPADDING", (0, 0), (-1, -1), 1.6),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8)]


def report_pdf(content: dict, words: dict[str, str], picture: Callable[[str], bytes | None] = lambda sha256: None) -> bytes:
    """The PDF of one report; the same content gives the same bytes. picture: the JPEG of a photo by its hash."""
    lettering.register()
    held = io.BytesIO()
    document = BaseDocTemplate(held, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=12 * mm,
                               bottomMargin=15 * mm, invariant=1, title=_title(content),
                               author=lettering.printable(content["shop"]["name"]), lang="en")
    frame = Frame(MARGIN, 15 * mm, WIDTH, A4[1] - 27 * mm, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("page", [frame], onPage=lambda canvas, _document: _foot(
        canvas, content, words))])
    document.build(_story(content, words, picture))
    return held.getvalue()


def _story(content: dict, words: dict[str, str], picture: Callable[[str], bytes | None]) -> list[Flowable]:
    story = _head(content) + [_said(mark, 10.5, COLOURS["replace"], is_bold=True) for mark in content.get("marks", [])]
    story += _verdict(content)
    story += _two_columns(_why(content, words), _next(content, words))
    story += _heading(words["report.facts"]) + _facts(content)
    story += _heading(words["report.readings"]) + _readings(content, words)
    story += _two_columns(_decision(content, words), _owner_says(content, words))
    if content["photos"]:
        story += photo_grid(_heading(words["report.photos"]), content["photos"], picture, WIDTH, _said)
    return story + _small(content, words)


def _head(content: dict) -> list[Flowable]:
    left = [_said(content["shop"]["name"] or content["title"], 13, is_bold=True)]
    if content["shop"]["address"]:
        left.append(_said(content["shop"]["address"], 8, SOFT))
    right = [_said(content["title"], 13, ACCENT, is_bold=True, align=2)]
    right.append(_said("  ·  ".join(text for text in (content["work_order"], content["issue"]) if text), 8, SOFT, align=2))
    return [_grid([[left, right]], [WIDTH * 0.6, WIDTH * 0.4], [("LINEBELOW", (0, 0), (-1, -1), 1.2, INK),
                                                               ("BOTTOMPADDING", (0, 0), (-1, -1), 5),
                                                               ("RIGHTPADDING", (-1, 0), (-1, 0), 0)]), Spacer(0, 8)]


def _verdict(content: dict) -> list[Flowable]:
    """The verdict large with its shape and one sentence; beside it whether it is signed; beneath, before and after."""
    verdict, status = content["verdict"], content["status"]
    colour = COLOURS[verdict["code"]]
    word = [_said(verdict["word"], 25, colour, is_bold=True), Spacer(0, 2), _said(verdict["meaning"], 10.5)]
    decision = content["decision"]
    signed = [_said(status["word"], 10.5, INK if status["code"] == "final" else COLOURS["replace"], is_bold=True)]
    lines = [decision["person"], decision["at"]] if decision and status["code"] == "final" else [status["text"]]
    signed += [_said(line, 8.5, SOFT) for line in lines if line]
    rows = [[Shape(verdict["code"], 15 * mm), word, signed]]
    band = _grid(rows, [20 * mm, WIDTH - 72 * mm, 52 * mm], [
        ("LINEBEFORE", (2, 0), (2, 0), 0.5, LINE), ("LEFTPADDING", (2, 0), (2, 0), 8),
        ("VALIGN", (0, 0), (0, 0), "MIDDLE"), ("VALIGN", (2, 0), (2, 0), "MIDDLE")])
    return [band, Spacer(0, 6), *_stages(content), *[_said(line, 9, COLOURS["replace"]) for line in content["why"]]]


def _stages(content: dict) -> list[Flowable]:
    """As found → after cleaning → what came off, in one ruled line."""
    if len(content["stages"]) == 1 and content["stages"][0]["code"] == content["verdict"]["code"]:
        return []
    cells: list[list[Flowable]] = []
    for stage in content["stages"]:
        line = Paragraph(markup(stage["word"], True), _style(11.5, COLOURS[stage["code"]]))
        cells.append([_said(stage["title"], 8, SOFT), _grid([[Shape(stage["code"], 4 * mm), line]], [6 * mm, None], [
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"), ("TOPPADDING", (0, 0), (-1, -1), 0)])])
    if content["removed"]:
        cells.append([_said(content["removed"]["figure"], 11.5, is_bold=True),
                      _said(content["removed"]["text"], 8, SOFT)])
    return [_grid([cells], [WIDTH / len(cells)] * len(cells), [
        ("BACKGROUND", (0, 0), (-1, -1), TINT), ("LINEBEFORE", (1, 0), (-1, -1), 0.5, LINE),
        ("LEFTPADDING", (0, 0), (-1, -1), 8), ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 4)]), Spacer(0, 3)]


def _why(content: dict, words: dict[str, str]) -> list[Flowable]:
    """The reasons of each stage, the last stage first, with the numbers of the notes on where limits come from."""
    found = _heading(words["report.why"])
    for stage in reversed(content["stages"]):
        if len(content["stages"]) > 1 or stage["reading"] != stage["word"]:
            found.append(_said(stage["title"] + ": " + stage["reading"], 8.5, SOFT, is_bold=True))
        for entry in stage["reasons"] + stage["findings"]:
            found.append(_item(entry["text"], entry["note"]))
        if stage["close"]:
            found.append(_item(stage["close"]))
    if content["limit_note"]:
        found.append(_said(content["limit_note"], 9, is_bold=True))
    for number, note in enumerate(content["notes"], 1):
        found.append(_said(f"{number}  {note}", 7, SOFT))
    return found


def _next(content: dict, words: dict[str, str]) -> list[Flowable]:
    return _heading(words["report.next"]) + [_item(text) for text in content["next"]] \
        + [_said(content["next_note"], 7, SOFT)]


def _facts(content: dict) -> list[Flowable]:
    """Label over text, four in a row."""
    cells: list = [[_said(fact["label"], 7, SOFT), _said(fact["text"], 9)] for fact in content["facts"]]
    rows = [cells[start:start + 4] for start in range(0, len(cells), 4)]
    if not rows:
        return []
    rows[-1] += [""] * (4 - len(rows[-1]))
    return [_grid(rows, [WIDTH / 4] * 4)]


def _readings(content: dict, words: dict[str, str]) -> list[Flowable]:
    """Test | field | as found | after cleaning; a hairline between tests."""
    rows: list[list] = [["", "", _said(words["report.before"], 8, SOFT, is_bold=True),
                         _said(words["report.after"], 8, SOFT, is_bold=True)]]
    ruled: list = [("LINEBELOW", (0, 0), (-1, 0), 0.8, INK)]
    for test in content["table"]:
        for number, row in enumerate(test["rows"]):
            rows.append([_said(test["title"] if number == 0 else "", 8.5, is_bold=True), _said(row["label"], 8, SOFT),
                         _reading(row, "before", words), _reading(row, "after", words)])
        ruled.append(("LINEBELOW", (0, len(rows) - 1), (-1, len(rows) - 1), 0.4, LINE))
    for number, line in enumerate(content["rounds"]):
        rows.append([_said(words["report.rounds"] if number == 0 else "", 8.5, is_bold=True),
                     _said(line["label"], 8, SOFT), _said(line["text"], 8.5), _said(line["weight"], 8.5)])
    limits = "  ·  ".join(f"{pair['label']}: {pair['text']}" for pair in content["limits"])
    if limits:
        rows.append([_said(words["report.limits"], 8.5, is_bold=True), _said(limits, 8), "", ""])
        ruled += [("SPAN", (1, len(rows) - 1), (3, len(rows) - 1)),
                  ("LINEABOVE", (0, len(rows) - 1), (-1, len(rows) - 1), 0.4, LINE)]
    ruled += [("TOPPADDING", (0, 0), (-1, -1), 0.6), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.0)]
    return [_grid(rows, [20 * mm, 44 * mm, (WIDTH - 64 * mm) / 2, (WIDTH - 64 * mm) / 2], ruled, header_rows=1)]


def _reading(row: dict, stage: str, words: dict[str, str]) -> Paragraph:
    if row[stage] == words["report.not_done"]:
        return _said(row[stage], 8, SOFT)
    return _said(row[stage], 8.5, is_bold=row["is_key"])


def _decision(content: dict, words: dict[str, str]) -> list[Flowable]:
    decision = content["decision"]
    found = _heading(words["report.decision"])
    if decision is None:
        return [*found, _said(words["report.unsigned_line"], 9, COLOURS["replace"])]
    return found + [_said(decision["word"], 10.5, is_bold=True)] + [_said(line, 8.5) for line in decision["lines"]]


def _owner_says(content: dict, words: dict[str, str]) -> list[Flowable]:
    lines = [_said(pair["label"] + ": " + pair["text"], 8.5) for pair in content["owner_answer"]]
    return _heading(words["report.owner_answer"]) + (lines or [_said(words["report.not_done"], 8.5, SOFT)])


def _small(content: dict, words: dict[str, str]) -> list[Flowable]:
    cautions = " ".join(content["cautions"])
    return [Spacer(0, 5), Paragraph(markup(words["report.cautions"] + ". ", True) + markup(cautions), _style(7.2, INK)),
            Spacer(0, 3), _said(" ".join(text for text in [content["thresholds"], *content["small"]] if text), 6.5, SOFT)]


def _foot(canvas: Canvas, content: dict, words: dict[str, str]) -> None:
    """The line at the bottom of every page: whether it is signed, which filter, where the books stood, which page."""
    canvas.saveState()
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, 12 * mm, A4[0] - MARGIN, 12 * mm)
    canvas.setFillColor(SOFT)
    page = words["report.page"].replace("{page}", str(canvas.getPageNumber()))
    if content.get("paper_line"):
        page = words["report.paper_line"].replace("{line}", content["paper_line"]) + "  ·  " + page
    right = lettering.width_pt(page, 7)
    text = content["status"]["word"] + "  ·  " + _title(content)
    lettering.draw(canvas, MARGIN, 8.6 * mm, lettering.fitted(text, 7, WIDTH - right - 12), 7)
    lettering.draw(canvas, A4[0] - MARGIN - right, 8.6 * mm, page, 7)
    canvas.restoreState()


def _title(content: dict) -> str:
    parts = [content["title"], content["work_order"], content["facts"][0]["text"] if content["facts"] else ""]
    return lettering.printable(" · ".join(part for part in parts if part), 200)


def _two_columns(left: list[Flowable], right: list[Flowable]) -> list[Flowable]:
    return [_grid([[left, right]], [WIDTH * 0.56, WIDTH * 0.44], [("RIGHTPADDING", (0, 0), (0, 0), 14)])]


def _heading(text: str) -> list[Flowable]:
    return [Spacer(0, 7), _said(text, 9, ACCENT, is_bold=True)]


def _item(text: str, note: int = 0) -> Paragraph:
    mark = f' <super size="6">{note}</super>' if note else ""
    style = _style(9, INK)
    style.leftIndent, style.firstLineIndent, style.spaceAfter = 8, -8, 1
    return Paragraph(markup("– ") + markup(text) + mark, style)


def _said(text: str, size: float, colour: Color = INK, is_bold: bool = False, align: int = 0) -> Paragraph:
    return Paragraph(markup(text, is_bold), _style(size, colour, align))


def _style(size: float, colour: Color, align: int = 0) -> ParagraphStyle:
    return ParagraphStyle("text", fontName=REGULAR, fontSize=size, leading=size * 1.28, textColor=colour,
                          alignment=align, bulletFontName=BOLD)


def _grid(rows: list, widths: list, more: list | None = None, header_rows: int = 0) -> Table:
    return Table(rows, widths, style=CELL + (more or []), repeatRows=header_rows, splitInRow=1, hAlign="LEFT")


class Shape(Flowable):
    """The sign of a verdict, told apart without colour: disc with a tick, triangle, two triangles, two bars, cross."""

    def __init__(self, code: str, size: float) -> None:
        super().__init__()
        self.code, self.width, self.height = code, size, size

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Its square."""
        return self.width, self.height

    def draw(self) -> None:
        """The sign within a unit square, scaled up."""
        canvas = self.canv
        canvas.setFillColor(COLOURS[self.code])
        canvas.setStrokeColor(COLOURS[self.code])
        canvas.scale(self.width, self.width)
        canvas.setLineCap(1)
        if self.code == "ok_to_reinstall":
            canvas.circle(0.5, 0.5, 0.46, stroke=0, fill=1)
            canvas.setStrokeColor(HexColor("#ffffff"))
            canvas.setLineWidth(0.11)
            canvas.lines([(0.28, 0.5, 0.44, 0.34), (0.44, 0.34, 0.74, 0.66)])
        elif self.code == "replace":
            canvas.setLineWidth(0.2)
            canvas.lines([(0.16, 0.16, 0.84, 0.84), (0.16, 0.84, 0.84, 0.16)])
        elif self.code == "hold":
            canvas.rect(0.16, 0.08, 0.24, 0.84, stroke=0, fill=1)
            canvas.rect(0.6, 0.08, 0.24, 0.84, stroke=0, fill=1)
        else:
            tops = (0.96,) if self.code == "clean" else (0.96, 0.52)
            for top in tops:
                path = canvas.beginPath()
                path.moveTo(0.5, top)
                path.lineTo(0.96, top - (0.88 if self.code == "clean" else 0.42))
                path.lineTo(0.04, top - (0.88 if self.code == "clean" else 0.42))
                path.close()
                canvas.drawPath(path, stroke=0, fill=1)
