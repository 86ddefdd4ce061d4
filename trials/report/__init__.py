"""How it is told: the report as one document, and the document as files."""

from trials.render.blocks import Document
from trials.report.build import build
from trials.report.files import report_files

__all__ = ["Document", "build", "report_files"]
