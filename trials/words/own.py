"""What is to be made one's own in a study that began as an example, with the lines of the file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from trials.words.numbers import listing

OPEN: Final = (
    "Open {file} in a text editor and make these lines your own; lines with # explain them:"
)
ANY_TIME: Final = (
    "How different equal things come out is a guess so far. A practice run tells: trials new "
    "{practice} --practice"
)

KINDS: Final = {
    "printed": "printed on sheets and report",
    "when": "your lessons",
    "who": "your class",
    "most": "how much is made",
    "there": "what there is",
}


def lines_to_change(kind: str, places: Sequence[tuple[str, int, int]]) -> str:
    """Return one line on what to change: each name with its line, or its first and last one.

    Examples
    --------
    >>> lines_to_change("printed", [("title", 5, 5), ("makers", 8, 8)])
    '  printed on sheets and report: title (line 5) and makers (line 8)'
    >>> lines_to_change("there", [("[equipment]", 40, 70)])
    '  what there is: [equipment] (lines 40-70)'
    """
    return f"  {KINDS[kind]}: {listing([_place(*one) for one in places])}"


def still_the_examples(places: Sequence[tuple[str, int, int]]) -> str:
    """Return what a study still has of the example that it began as.

    Examples
    --------
    >>> still_the_examples([("makers", 7, 7), ("dates", 92, 92)])
    "Still the example's: makers (line 7) and dates (line 92). Write yours: they are printed."
    >>> still_the_examples([("note", 9, 9)])
    "Still the example's: note (line 9). Write yours, or delete it: it is printed."
    """
    named = listing([_place(*one) for one in places])
    if [name for name, *_ in places] == ["note"]:
        return f"Still the example's: {named}. Write yours, or delete it: it is printed."
    several = len(places) > 1 or places[0][0] == "dates"
    are = "they are" if several else "it is"
    return f"Still the example's: {named}. Write yours: {are} printed."


def _place(name: str, first: int, last: int) -> str:
    return f"{name} (line {first})" if first == last else f"{name} (lines {first}-{last})"
