"""The letters of printed paper: which fonts a PDF is set in, and any text made safe to set.

Noto Sans (its figures are tabular) sets almost everything; FiraGO has the arrows and Hebrew, Arabic, Thai and
Devanagari letters; both are embedded and come with the package pymupdf-fonts. Chinese, Japanese and Korean letters are
named and not embedded: the reader's own fonts show them. What none of them has, and every control or direction mark,
is printed as a replacement mark, so that it is seen and cannot turn the line around. Not right yet: right-to-left words
are set letter by letter from the left.
"""

import io
import unicodedata
from functools import cache
from itertools import groupby
from xml.sax.saxutils import escape

import pymupdf_fonts
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.cidfonts import UnicodeCIDFont
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

REGULAR, BOLD = "Paper", "Paper-Bold"
MORE, MORE_BOLD = "Paper-More", "Paper-More-Bold"
HAN, HANGUL = "STSong-Light", "HYSMyeongJo-Medium"
UNKNOWN = "�"
MOST_CHARS = 2000
# Invisible and harmless: joiners, soft hyphen, byte order mark. They are left out.
INVISIBLE = "\u200c\u200d\u00ad\ufeff"
CUT = " … (the rest is in the job book)"


@cache
def register() -> dict[str, frozenset[int]]:
    """Font name → the characters it has; makes the fonts known to reportlab the first time."""
    sources = {REGULAR: "notos", BOLD: "notosbo", MORE: "figo", MORE_BOLD: "figbo"}
    has = {}
    for name, source in sources.items():
        font = TTFont(name, io.BytesIO(pymupdf_fonts.myfont(source)))
        pdfmetrics.registerFont(font)
        has[name] = frozenset(font.face.charToGlyph)
    for name in (HAN, HANGUL):
        pdfmetrics.registerFont(UnicodeCIDFont(name))
    return has


def printable(text: object, most_chars: int = MOST_CHARS) -> str:
    """The text on one line, without control and direction marks, cut where it is longer than any honest answer."""
    plain = "".join(" " if char in "\t\r\n" else _seen(char) for char in str(text))
    plain = " ".join(plain.split(" "))
    return plain if len(plain) <= most_chars else plain[:most_chars] + CUT


def runs(text: object, is_bold: bool = False) -> list[tuple[str, str]]:
    """The printable text as (font name, piece) pairs, each piece in a font that has its letters."""
    has = register()
    fonts = [_font_of(char, is_bold, has) for char in printable(text)]
    chars = [char if font else UNKNOWN for char, font in zip(printable(text), fonts, strict=True)]
    named = [font or (BOLD if is_bold else REGULAR) for font in fonts]
    pairs = groupby(zip(named, chars, strict=True), key=lambda pair: pair[0])
    return [(font, "".join(char for _font, char in group)) for font, group in pairs]


def markup(text: object, is_bold: bool = False) -> str:
    """The printable text as the inside of a reportlab paragraph; markup in it stays text."""
    usual = BOLD if is_bold else REGULAR
    pieces = []
    for font, piece in runs(text, is_bold):
        safe = escape(piece)
        pieces.append(safe if font == REGULAR and usual == REGULAR else f'<font name="{font}">{safe}</font>')
    return "".join(pieces)


def width_pt(text: object, size_pt: float, is_bold: bool = False) -> float:
    """The width of the text set on one line, in points."""
    return sum(pdfmetrics.stringWidth(piece, font, size_pt) for font, piece in runs(text, is_bold))


def draw(canvas: Canvas, x_pt: float, y_pt: float, text: object, size_pt: float, is_bold: bool = False) -> None:
    """Sets the text on one line from its left end at the base line."""
    for font, piece in runs(text, is_bold):
        canvas.setFont(font, size_pt)
        canvas.drawString(x_pt, y_pt, piece)
        x_pt += pdfmetrics.stringWidth(piece, font, size_pt)


def fitted(text: object, size_pt: float, room_pt: float, is_bold: bool = False) -> str:
    """As much of the start of the text as fits the room, with an ellipsis where it was cut."""
    plain = printable(text)
    if width_pt(plain, size_pt, is_bold) <= room_pt:
        return plain
    while plain and width_pt(plain + "…", size_pt, is_bold) > room_pt:
        plain = plain[:-1] if len(plain) < 200 else plain[:len(plain) // 2]
    return plain + "…"


def _seen(char: str) -> str:
    if char in INVISIBLE:
        return ""
    return UNKNOWN if unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else char


def _font_of(char: str, is_bold: bool, has: dict[str, frozenset[int]]) -> str | None:
    """The font that has the letter, None where none has."""
    for font in (BOLD, MORE_BOLD) if is_bold else (REGULAR, MORE):
        if ord(char) in has[font]:
            return font
    name = unicodedata.name(char, "")
    if ord(char) > 0xFFFF:
        return None
    if name.startswith("HANGUL"):
        return HANGUL
    if name.startswith(("CJK", "HIRAGANA", "KATAKANA", "IDEOGRAPHIC", "FULLWIDTH")):
        return HAN
    return None
