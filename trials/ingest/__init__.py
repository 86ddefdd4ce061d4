"""What was measured: readers of filled workbooks and tables, and the checks of what they hold."""

from trials.ingest.checks import questions_about
from trials.ingest.reader import asked_of_all, collect, read_file

__all__ = ["asked_of_all", "collect", "questions_about", "read_file"]
