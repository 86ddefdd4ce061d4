"""What was measured: readers of filled workbooks and tables, and the checks of what they hold."""

from trials.ingest.checks import questions_about
from trials.ingest.reader import collect, collect_all, read_file

__all__ = ["collect", "collect_all", "questions_about", "read_file"]
