"""Tag labels on paper. Reads: layout.py says where labels stand, drawing.py draws them, printed.py gives new codes,
pages.py is the desk's form.
"""

from .drawing import Label, Printing, labels_pdf
from .layout import LAYOUTS
from .pages import blueprint

__all__ = ["LAYOUTS", "Label", "Printing", "blueprint", "labels_pdf"]
