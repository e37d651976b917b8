"""Where labels stand on paper, in true millimetres, and how large their modules are in whole printer dots.

A sheet's labels touch each other, as on ready-cut label stock and as is easiest to cut; the ink stays 4 mm and more
from the edge of the paper, where office printers cannot print.
"""

from dataclasses import dataclass

MM_PER_INCH = 25.4
POINTS_PER_MM = 72 / MM_PER_INCH

# Printer dots a module: 0.8759 mm at 203 dpi, 0.9313 mm at 300 dpi. Whole dots, so that every module is equally wide.
DOTS_PER_MODULE = {203: 7, 300: 11}


@dataclass(frozen=True)
class Layout:
    """One page of labels: sizes in mm, columns and rows of labels, whether a ruler mark fits beside them."""

    name: str
    words: str
    page_width_mm: float
    page_height_mm: float
    label_width_mm: float
    label_height_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float

    @property
    def places(self) -> int:
        """How many labels stand on one page."""
        return self.columns * self.rows

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Left and top of the place-th label (from 0, row by row), in mm from the page's left and top."""
        row, column = divmod(place, self.columns)
        return self.left_mm + column * self.label_width_mm, self.top_mm + row * self.label_height_mm


# Sizes of paper: ISO 216 (A4), ANSI/ASME Y14.1 (Letter). Sizes of labels: common stock, no source.
LAYOUTS = {
    layout.name: layout for layout in (
        Layout("a4", "A4 sheet, 24 labels of 70 × 36 mm", 210.0, 297.0, 70.0, 36.0, 3, 8, 0.0, 4.5),
        Layout("letter", "Letter sheet, 10 labels of 4 × 2 in", 215.9, 279.4, 101.6, 50.8, 2, 5, 6.35, 12.7),
        Layout("roll", "Roll, one label of 3 × 2 in a page", 76.2, 50.8, 76.2, 50.8, 1, 1, 0.0, 0.0),
    )
}


def module_mm(dpi: int) -> float:
    """The width of one module in mm.

    >>> round(module_mm(203), 4), round(module_mm(300), 4)
    (0.8759, 0.9313)
    """
    return DOTS_PER_MODULE[dpi] * MM_PER_INCH / dpi


def on_a_dot_mm(length_mm: float, dpi: int) -> float:
    """The length moved to the nearest printer dot."""
    return round(length_mm * dpi / MM_PER_INCH) * MM_PER_INCH / dpi
