"""The words of the logbook pages."""

from __future__ import annotations

from typing import Final

from trials.words.language import marked, say

RULES: Final = (
    marked("Write with a pen, when it happens and with the time."),
    marked(
        "Errors are struck out once, so that they can still be read; nothing is removed, no page "
        "is torn out."
    ),
    marked("Write what you saw, with its unit, and what went differently from the sheet."),
    marked("What is lost or broken gets a line: code, time, why."),
)
FIELDS: Final = (
    marked("Date"),
    marked("Begun at (time)"),
    marked("Ended at (time)"),
    marked("Written by (initials)"),
)


def continued(title: str) -> str:
    """Return the title of a second page.

    Examples
    --------
    >>> continued("Team elm: Lesson 1")
    'Team elm: Lesson 1 (continued)'
    """
    return say("{title} (continued)", title=title)
