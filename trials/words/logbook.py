"""The words of the logbook pages."""

from __future__ import annotations

from typing import Final

RULES: Final = (
    "Write with a pen, when it happens and with the time.",
    "Errors are struck out once, so that they can still be read; nothing is removed, no page is "
    "torn out.",
    "Write what you saw, with its unit, and what went differently from the sheet.",
    "What is lost or broken gets a line: code, time, why.",
)
FIELDS: Final = ("Date", "Begun at (time)", "Ended at (time)", "Written by (initials)")


def continued(title: str) -> str:
    """Return the title of a second page.

    Examples
    --------
    >>> continued("Team elm: Lesson 1")
    'Team elm: Lesson 1 (continued)'
    """
    return f"{title} (continued)"
