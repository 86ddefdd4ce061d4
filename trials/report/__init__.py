"""How it is told: the report as one document, and the document as files."""

from trials.render.blocks import Document
from trials.report.build import build, report_document
from trials.report.files import report_files
from trials.report.judge import judge_document
from trials.report.story import story_of
from trials.report.teacher import teacher_document

__all__ = [
    "Document",
    "build",
    "judge_document",
    "report_document",
    "report_files",
    "story_of",
    "teacher_document",
]
