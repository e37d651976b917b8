"""What the paper report is set with: colours, texts of any size, headings, items, grids, and the signs of the verdicts."""

import re

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from ..lettering import BOLD, REGULAR, markup

INK, SOFT, LINE, ACCENT = HexColor("#1b2430"), HexColor("#5a6270"), HexColor("#c9c3b6"), HexColor("#1f3f77")
RIGHT = 0.44  # the share of the right one of two columns
TINT = HexColor("#f4f1ea")
COLOURS = {"ok_to_reinstall": HexColor("#1c6b46"), "clean": HexColor("#8a5800"), "clean_again": HexColor("#8a5800"),
           "hold": HexColor("#5b3f92"), "replace": HexColor("#a3231f")}
JOINED = re.compile(r"(?<=\d) (?=[A-Za-z°%²])")  # a figure and what follows it, so that no unit begins a line


class Setting:
    """How a page is set. width_pt: of its column; air: 1 is wide, 0 as close as it can still be read."""

    def __init__(self, width_pt: float, air: float) -> None:
        self.width, self.air = width_pt, air

    def said(self, text: str, size: float, colour: Color = INK, is_bold: bool = False, align: int = 0) -> Paragraph:
        """A text; what was typed stays text."""
        return Paragraph(markup(JOINED.sub("\u00a0", text), is_bold), self.style(size, colour, align))

    def style(self, size: float, colour: Color = INK, align: int = 0) -> ParagraphStyle:
        """The paragraph style of a size."""
        return ParagraphStyle("text", fontName=REGULAR, fontSize=size, leading=size * (1.18 + 0.1 * self.air),
                              textColor=colour, alignment=align, bulletFontName=BOLD)

    def gap(self, points: float) -> Spacer:
        """Room between blocks, less where the page is set close."""
        return Spacer(0, points * (0.45 + 0.55 * self.air))

    def heading(self, text: str) -> list[Flowable]:
        """A heading with the room above it."""
        return [self.gap(7), self.said(text, 9, ACCENT, is_bold=True)]

    def item(self, text: str, note: int = 0) -> Paragraph:
        """One line of a list, with the number of its note."""
        mark = f' <super size="6">{note}</super>' if note else ""
        style = self.style(9)
        style.leftIndent, style.firstLineIndent, style.spaceAfter = 8, -8, self.air
        return Paragraph(markup("– ") + markup(JOINED.sub("\u00a0", text)) + mark, style)

    def grid(self, rows: list, widths: list, more: list | None = None, header_rows: int = 0) -> Table:
        """Cells in rows, without lines."""
        cell = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 6), ("TOPPADDING", (0, 0), (-1, -1), 0.6 + self.air),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0.8 + self.air)]
        return Table(rows, widths, style=cell + (more or []), repeatRows=header_rows, splitInRow=1, hAlign="LEFT")

    def two_columns(self, left: list[Flowable], right: list[Flowable]) -> Table:
        """Two blocks side by side, the left one a little wider."""
        widths = [self.width * (1 - RIGHT), self.width * RIGHT]
        return self.grid([[left, right]], widths, [("RIGHTPADDING", (0, 0), (0, 0), 14)])


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
            for top in (0.96,) if self.code == "clean" else (0.96, 0.52):
                foot = top - (0.88 if self.code == "clean" else 0.42)
                path = canvas.beginPath()
                path.moveTo(0.5, top)
                path.lineTo(0.96, foot)
                path.lineTo(0.04, foot)
                path.close()
                canvas.drawPath(path, stroke=0, fill=1)
