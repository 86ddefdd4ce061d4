"""How it is told: the report as one document, the board as tiles, and all of them as files."""

from trials.render.blocks import Document
from trials.report.board_files import Texts, board_files, edited_texts
from trials.report.build import report_document
from trials.report.files import report_files
from trials.report.judge import judge_document
from trials.report.story import Story, story_of
from trials.report.teacher import teacher_document

__all__ = [
    "Document",
    "Story",
    "Texts",
    "board_files",
    "edited_texts",
    "judge_document",
    "report_document",
    "report_files",
    "story_of",
    "teacher_document",
]
