"""What was measured: readers of filled workbooks and tables, and the checks of what they hold.

Public names are fetched when first used: reading one file of points needs neither study nor plan.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trials.ingest.checks import questions_about
    from trials.ingest.reader import asked_of_all, collect, collect_all, read_again, read_file

__all__ = ["asked_of_all", "collect", "collect_all", "questions_about", "read_again", "read_file"]

_HOME = {
    "asked_of_all": "trials.ingest.reader",
    "questions_about": "trials.ingest.checks",
    "collect": "trials.ingest.reader",
    "collect_all": "trials.ingest.reader",
    "read_again": "trials.ingest.reader",
    "read_file": "trials.ingest.reader",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'trials.ingest' has no name {name!r}")
    import importlib

    return getattr(importlib.import_module(_HOME[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
