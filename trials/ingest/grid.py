"""A file as lines of cells, before anything is understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MOST_ROWS = 20_000
MOST_COLUMNS = 200

Kind = Literal["text", "number", "date", "formula"]


@dataclass(frozen=True, slots=True)
class Raw:
    """One cell as it stands.

    ``kind`` "number": the file itself says that it is a number, so ``text`` has a decimal point.
    ``kind`` "formula": a formula whose result the file doesn't hold; it is never worked out here.
    """

    text: str
    kind: Kind = "text"


@dataclass(frozen=True, slots=True)
class Line:
    """One line, with its number as a person counts it, from 1."""

    number: int
    cells: tuple[Raw, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing is written in it."""
        return not any(cell.text for cell in self.cells)

    def at(self, index: int | None) -> Raw:
        """Return the cell at an index; an empty one where there is none."""
        if index is None or index >= len(self.cells):
            return Raw("")
        return self.cells[index]


@dataclass(frozen=True)
class Sheet:
    """One sheet, or the whole of a file without sheets (then ``name`` is empty)."""

    name: str
    lines: tuple[Line, ...]
    delimiter: str = ""
