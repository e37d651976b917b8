"""The photos on the paper report: three in a row, each with its caption; a frame with a sentence where there is none."""

import io
from collections.abc import Callable
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, Spacer, Table

IN_ROW = 3
GAP = 4 * mm
TALLEST = 62 * mm
ABSENT = HexColor("#a3231f")
SOFT, LINE = HexColor("#5a6270"), HexColor("#c9c3b6")


def photo_grid(heading: list[Flowable], photos: list[dict[str, str]], picture: Callable[[str], bytes | None],
               width: float, said: Callable[..., Flowable]) -> list[list[Flowable]]:
    """The heading and the photos in rows, one a block; [] without photos. said(text, size, colour) sets a text."""
    column = (width - (IN_ROW - 1) * GAP) / IN_ROW
    rows = []
    for start in range(0, len(photos), IN_ROW):
        cells: list[Any] = [_cell(photo, picture, column, said) for photo in photos[start:start + IN_ROW]]
        cells += [""] * (IN_ROW - len(cells))
        rows.append(Table([cells], [column + GAP] * (IN_ROW - 1) + [column], hAlign="LEFT", style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-2, -1), GAP), ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 2), ("BOTTOMPADDING", (0, 0), (-1, -1), 4)]))
    return [[*heading, *rows[:1]], *[[row] for row in rows[1:]]] if rows else []


def _cell(photo: dict[str, str], picture: Callable[[str], bytes | None], column: float,
          said: Callable[..., Flowable]) -> list[Flowable]:
    drawn = picture(photo["sha256"]) if photo["state"] == "here" else None
    top: Flowable
    if drawn is None:
        top = Table([[said(photo["text"], 8, ABSENT)]], [column], [32 * mm], style=[
            ("BOX", (0, 0), (-1, -1), 0.6, LINE), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    else:
        top = Image(io.BytesIO(drawn))
        scale = min(column / top.imageWidth, TALLEST / top.imageHeight)
        top.drawWidth, top.drawHeight, top.hAlign = top.imageWidth * scale, top.imageHeight * scale, "LEFT"
    return [top, Spacer(0, 2), said(photo["caption"], 7, SOFT)]
