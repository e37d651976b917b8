"""Draws labels into a PDF: exact page size, modules as one path on whole printer dots, the code large in letters.

Nothing in a PDF scales it; print at 100 %. Sheets carry a line of 50 mm to lay a ruler on.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from .. import lettering
from ..tags import QUIET_MODULES, Matrix, grouped
from .layout import POINTS_PER_MM, Layout, module_mm, on_a_dot_mm

MM = POINTS_PER_MM
CAP_HEIGHT = 0.714  # of the size of Noto Sans, from its own tables
EDGE_MM = 4.5  # what an office printer leaves white along the edge of a page
PAD_MM = 1.5
TOP_PAD_MM = 0.5
RULER_MM = 50.0
LETTER_ROOM_MM = 4.8  # above and below the code: J and Q reach below the line and must not touch a ruler mark


@dataclass(frozen=True)
class Label:
    """What one label says: its code, the symbol, and for a known filter its model and the last four of its serial."""

    code: str
    matrix: Matrix
    model: str = ""
    serial: str = ""


@dataclass(frozen=True)
class Printing:
    """How labels are printed: the printer's dots per inch, and the dots that each dark module is drawn narrower."""

    dpi: int
    inset_dots: float = 0.0
    words: str = ""
    title: str = ""


def labels_pdf(labels: Sequence[Label], layout: Layout, printing: Printing, first_place: int = 0) -> bytes:
    """A PDF with the labels in order, the first one at `first_place` of the first page (from 0)."""
    lettering.register()
    held = io.BytesIO()
    size = (layout.page_width_mm * MM, layout.page_height_mm * MM)
    canvas = Canvas(held, pagesize=size, invariant=1, pageCompression=1)
    canvas.setTitle(lettering.printable(printing.title))
    canvas.setViewerPreference("PrintScaling", "None")
    place = first_place
    for number, label in enumerate(labels):
        if place == layout.places:
            canvas.showPage()
            place = 0
        if number == 0 or place == 0:
            _ruler(canvas, layout, place)
        _label(canvas, layout, printing, layout.corner_mm(place), label)
        place += 1
    canvas.showPage()
    canvas.save()
    return held.getvalue()


def fits(matrix: Matrix, layout: Layout, dpi: int) -> bool:
    """Whether the symbol with its quiet zone goes on a label of that layout."""
    box_mm = _box_mm(matrix, dpi)
    return box_mm + TOP_PAD_MM <= layout.label_height_mm and box_mm + PAD_MM + 20 <= layout.label_width_mm


def _box_mm(matrix: Matrix, dpi: int) -> float:
    """The width of the symbol with its quiet zone, in mm."""
    return (len(matrix) + 2 * QUIET_MODULES) * module_mm(dpi)


def _label(canvas: Canvas, layout: Layout, printing: Printing, corner_mm: tuple[float, float], label: Label) -> None:
    left, top = corner_mm
    box = _box_mm(label.matrix, printing.dpi)
    quiet = QUIET_MODULES * module_mm(printing.dpi)
    x = on_a_dot_mm(left + PAD_MM + quiet, printing.dpi)
    y = on_a_dot_mm(top + TOP_PAD_MM + quiet, printing.dpi)
    _symbol(canvas, layout, printing, (x, y), label.matrix)
    beneath = layout.label_height_mm - TOP_PAD_MM - box
    text_left, text_right = x, left + layout.label_width_mm - EDGE_MM
    side_left = left + PAD_MM + box + 0.5
    if beneath >= 7.0:
        room = (text_right - text_left) * MM
        size = min((beneath - LETTER_ROOM_MM) * MM / CAP_HEIGHT, 34.0)
        size = min(size, size * room / lettering.width_pt(grouped(label.code), size, True))
        base = top + layout.label_height_mm - max(4.0, (beneath - size * CAP_HEIGHT / MM) / 2)
        lettering.draw(canvas, text_left * MM, _up(layout, base), grouped(label.code), size, True)
        _side(canvas, layout, printing, (side_left, top + TOP_PAD_MM + quiet, text_right), label)
    else:
        base = top + TOP_PAD_MM + quiet
        for group in grouped(label.code).split(" "):
            base += 4.4
            lettering.draw(canvas, side_left * MM, _up(layout, base), group, 14.0, True)
        _side(canvas, layout, printing, (side_left, base + 0.8, text_right), label)


def _symbol(canvas: Canvas, layout: Layout, printing: Printing, corner_mm: tuple[float, float], matrix: Matrix) -> None:
    """The dark modules as one filled path: dark neighbours touch, an edge towards light is drawn in by the inset."""
    module = module_mm(printing.dpi)
    inset = printing.inset_dots * 25.4 / printing.dpi
    last = len(matrix) - 1
    path = canvas.beginPath()
    for row, line in enumerate(matrix):
        for column, is_dark in enumerate(line):
            if not is_dark:
                continue
            left = corner_mm[0] + column * module + (0 if column and line[column - 1] else inset)
            right = corner_mm[0] + (column + 1) * module - (0 if column < last and line[column + 1] else inset)
            top = corner_mm[1] + row * module + (0 if row and matrix[row - 1][column] else inset)
            bottom = corner_mm[1] + (row + 1) * module - (0 if row < last and matrix[row + 1][column] else inset)
            path.rect(left * MM, _up(layout, bottom), (right - left) * MM, (bottom - top) * MM)
    canvas.setFillGray(0)
    canvas.drawPath(path, stroke=0, fill=1)


def _side(canvas: Canvas, layout: Layout, printing: Printing, room_mm: tuple[float, float, float],
          label: Label) -> None:
    """The lines beside the symbol: model, serial, where the label belongs."""
    left, base, right = room_mm
    width = right - left
    for text, is_bold, size in ((label.model, True, 11.0), (label.serial, False, 9.5)):
        if text:
            base += size / MM
            shown = lettering.fitted(text, size, width * MM, is_bold)
            lettering.draw(canvas, left * MM, _up(layout, base - 0.8), shown, size, is_bold)
    style = ParagraphStyle("side", fontName=lettering.REGULAR, fontSize=6.8, leading=8.0)
    said = Paragraph(lettering.markup(printing.words), style)
    _width, height = said.wrap(width * MM, layout.label_height_mm * MM)
    said.drawOn(canvas, left * MM, _up(layout, base + 0.8) - height)


def _ruler(canvas: Canvas, layout: Layout, place: int) -> None:
    """A line of 50 mm between two marks: in the upper margin, else along the bottom of the page's first label."""
    if layout.places == 1:
        return
    if layout.top_mm >= 10:
        left, level = layout.left_mm + EDGE_MM, layout.top_mm - 3.0
    else:
        left, top = layout.corner_mm(place)
        left, level = left + PAD_MM + 3.6, top + layout.label_height_mm - 1.2
    canvas.setLineWidth(0.15 * MM)
    canvas.line(left * MM, _up(layout, level), (left + RULER_MM) * MM, _up(layout, level))
    for x in (left, left + RULER_MM):
        canvas.line(x * MM, _up(layout, level - 0.9), x * MM, _up(layout, level + 0.9))
    lettering.draw(canvas, (left + RULER_MM + 1) * MM, _up(layout, level + 0.6), "50 mm", 5.0)


def _up(layout: Layout, down_mm: float) -> float:
    """A place counted in mm down from the top, as points up from the bottom of the page."""
    return (layout.page_height_mm - down_mm) * MM
