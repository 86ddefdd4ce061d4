"""Colours, marks and sizes of the figures: never colour alone, and readable in grey.

The colours are chosen from the set of M. Okabe and K. Ito, "Color Universal Design" (2008), made
darker where they would stand out from white by less than 3 to 1 (WCAG 2.2, criterion 1.4.11). Each
comes with a shape, a line and a hatching of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

INK: Final = "#16242c"
QUIET: Final = "#45555e"
PALE: Final = "#edf3f6"
ACCENT: Final = "#1d4e66"
BAND: Final = "#eef2f4"
HATCH: Final = "#c3ced4"
WHITE: Final = "#ffffff"

HATCHES: Final = ("", "////", "....", "xx", "\\\\\\\\", "++", "oo", "--")

WIDTH: Final = 6.9  # inches: the printed width of a page of A4 or Letter
SIZE: Final = 9.0  # points: size of plain text
SMALL: Final = 8.0


@dataclass(frozen=True)
class Mark:
    """How one version is drawn: colour of line and edge, pale fill, shape and dash."""

    colour: str
    fill: str
    shape: str
    dash: str | tuple[int, tuple[int, ...]]


MARKS: Final[tuple[Mark, ...]] = (
    Mark("#0072b2", "#8cc3e2", "o", "solid"),
    Mark("#c44e00", "#f4b78c", "s", (0, (5, 2))),
    Mark("#00664a", "#7fc7ae", "^", (0, (1, 1))),
    Mark("#b0508a", "#e6bcd5", "D", (0, (6, 2, 1, 2))),
    Mark("#2b2b2b", "#b5b5b5", "v", (0, (8, 3))),
    Mark("#7a6a00", "#e4d68c", "P", (0, (3, 1, 1, 1, 1, 1))),
    Mark("#4b2f9f", "#bcb2e8", "X", (0, (2, 2))),
    Mark("#8f1020", "#e3a0a8", "p", (0, (4, 1, 1, 1))),
)


def mark(index: int) -> Mark:
    """Return the mark of the version in this place; after the last they start again."""
    return MARKS[index % len(MARKS)]
