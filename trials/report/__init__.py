"""How it is told: the report as one document, the board as tiles, and both as files."""

from trials.render.blocks import Document
from trials.report.board_files import Texts, board_files, edited_texts
from trials.report.build import build
from trials.report.files import report_files
from trials.report.story import Story

__all__ = ["Document", "Story", "Texts", "board_files", "build", "edited_texts", "report_files"]
