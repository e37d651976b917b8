"""The owner's report on paper: one page in the ordinary case, ink on white, every typed text escaped.

Draws nothing but what content() gives it, and the photos that it names, which are drawn anew by the server
(sync/pictures.py) and embedded. No link, nothing that a reader program would fetch.

What does not fit on one page is first set closer. Where that is not enough, the photos get the pages after the first; where
the text alone is too long it is set wide and parted between its blocks, each page with its number and how many there are.
"""

import functools
import io
from collections.abc import Callable

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, KeepTogether, PageBreak, PageTemplate

from .. import lettering
from .paper_blocks import LINE, SOFT, Setting
from .paper_photos import photo_grid
from .paper_story import Blocks, Story

MARGIN = 15 * mm
TOP = 12 * mm
WIDTH, HEIGHT = A4[0] - 2 * MARGIN, A4[1] - TOP - MARGIN
UNBOUNDED = 1e6
AIRS = (1.0, 0.8, 0.6, 0.4, 0.2, 0.0)  # how widely the page is set, the widest first


def report_pdf(content: dict, words: dict[str, str], picture: Callable[[str], bytes | None] = lambda sha256: None) -> bytes:
    """The PDF of one report; the same content gives the same bytes. picture: the JPEG of a photo by its hash."""
    lettering.register()
    making = functools.partial(_blocks, content, words, functools.cache(picture))
    for are_photos_among in (True, False):
        for air in AIRS:
            if _height(making(air, are_photos_among)[0]) <= HEIGHT:
                return _bound(content, words, functools.partial(making, air, are_photos_among))
    return _bound(content, words, functools.partial(making, AIRS[0], False))


def _blocks(content: dict, words: dict[str, str], picture: Callable[[str], bytes | None], air: float,
            are_photos_among: bool) -> tuple[Blocks, Blocks]:
    """(the blocks of the report, those of the photos where they come on pages of their own)."""
    setting = Setting(WIDTH, air if are_photos_among else AIRS[0])
    photos = photo_grid(setting.heading(words["report.photos"]), content["photos"], picture, WIDTH, setting.said)
    story = Story(content, words, Setting(WIDTH, air)).blocks(photos if are_photos_among else [])
    return story, [] if are_photos_among else photos


def _height(blocks: Blocks) -> float:
    """How high the blocks are one below the other, in points."""
    nowhere = Canvas(io.BytesIO())
    return sum(part.wrapOn(nowhere, WIDTH, UNBOUNDED)[1] for block in blocks for part in block)


def _bound(content: dict, words: dict[str, str], making: Callable[[], tuple[Blocks, Blocks]]) -> bytes:
    """The PDF; drawn twice where there are several pages, because the foot of each says how many."""
    drawn, pages = _drawn(content, words, *making(), 1)
    return drawn if pages == 1 else _drawn(content, words, *making(), pages)[0]


def _drawn(content: dict, words: dict[str, str], story: Blocks, photos: Blocks, pages: int) -> tuple[bytes, int]:
    """(the PDF, its pages); pages: how many the foot speaks of."""
    held = io.BytesIO()
    document = BaseDocTemplate(held, pagesize=A4, leftMargin=MARGIN, rightMargin=MARGIN, topMargin=TOP,
                               bottomMargin=MARGIN, invariant=1, title=_title(content),
                               author=lettering.printable(content["shop"]["name"]), lang="en")
    frame = Frame(MARGIN, MARGIN, WIDTH, HEIGHT, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate("page", [frame], onPage=lambda canvas, _document: _foot(
        canvas, content, words, pages))])
    parts: list[Flowable] = [KeepTogether(block) for block in story] + ([PageBreak()] if photos else [])
    document.build(parts + [KeepTogether(block) for block in photos])
    return held.getvalue(), document.page


def _foot(canvas: Canvas, content: dict, words: dict[str, str], pages: int) -> None:
    """The foot of every page: whether it is signed, which filter, where the books stood, which page of how many."""
    canvas.saveState()
    canvas.setStrokeColor(LINE)
    canvas.setLineWidth(0.5)
    canvas.line(MARGIN, 12 * mm, A4[0] - MARGIN, 12 * mm)
    canvas.setFillColor(SOFT)
    page = words["report.page"].replace("{page}", str(canvas.getPageNumber())).replace("{pages}", str(pages))
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
