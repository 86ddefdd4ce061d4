"""The fixed words of the entry workbook, which is read back in any language."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from trials.words.language import in_all, marked_as, say_as

WORKBOOK: Final = "workbook"  # the context of these words

ABOUT: Final = marked_as("workbook", "about this file")
PLAN: Final = marked_as("workbook", "plan (do not change)")
FORMAT: Final = marked_as("workbook", "layout version")
STUDY: Final = marked_as("workbook", "study")
REMARK: Final = marked_as("workbook", "remark")
CHECK_CODE: Final = marked_as("workbook", "plan check code")
HOW_TO: Final = marked_as("workbook", "how to fill it in")
READINGS: Final = marked_as("workbook", "readings")

ITEM: Final = marked_as("workbook", "item")
READING: Final = marked_as("workbook", "reading")
TIME: Final = marked_as("workbook", "time (hour:minute)")
WORKED: Final = marked_as("workbook", "did it work?")
NOTE: Final = marked_as("workbook", "note")
YES: Final = marked_as("workbook", "yes")
NO: Final = marked_as("workbook", "no")
OPEN: Final = marked_as("workbook", "open")


def told(word: str) -> str:
    """Return one of these words in the language that is written now.

    Examples
    --------
    >>> from trials.words.language import speaking
    >>> with speaking("es"):
    ...     told(ITEM), told(YES)
    ('código', 'sí')
    """
    return say_as(WORKBOOK, word)


@lru_cache
def told_in_all(word: str) -> tuple[str, ...]:
    """Return what one of these words may be in a workbook.

    Examples
    --------
    >>> told_in_all(NOTE)
    ('note', 'nota')
    """
    return in_all(lambda: told(word))
