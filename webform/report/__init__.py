"""The owner's report. Reads: records.py finds the records, content.py says what the report says, readings.py the figures,
steps_ahead.py what to do next, photo_rows.py which photos it names; paper.py makes the PDF of paper_story.py's blocks, set
with paper_blocks.py, and of paper_photos.py; templates/report.html is the page, made.py puts it together for one job,
pages.py are the addresses, issuing.py those of issued reports and of owners.
"""

from . import issuing  # its routes join the blueprint
from .made import report_content
from .pages import blueprint
from .paper import report_pdf

__all__ = ["blueprint", "issuing", "report_content", "report_pdf"]
