"""The owner's report. Reads: records.py finds the records, content.py says what the report says, steps_ahead.py what
to do next, photo_rows.py which photos it names, paper.py and paper_photos.py draw the PDF, templates/report.html the
page, pages.py are the addresses.
"""

from .pages import blueprint, report_content
from .paper import report_pdf

__all__ = ["blueprint", "report_content", "report_pdf"]
