"""A file as lines of cells, before anything is understood."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from operator import attrgetter
from typing import Literal

from trials.quantities import shown
from trials.record.quick import quickly

TAKEN = "the filled entry workbook (XLSX or ODS), or a table of readings as CSV or TSV text"
MOST_ROWS = 20_000
MOST_COLUMNS = 200
_LONGEST_NUMBER = 20  # figures written out

_UNSEEN = str.maketrans(
    dict.fromkeys("\ufeff\u200b\u200e\u200f\u2060\u00ad") | dict.fromkeys("\u00a0\u202f\u2007", " ")
)

Kind = Literal["text", "number", "date", "formula"]


@dataclass(frozen=True, slots=True)
class Raw:
    """One cell as it stands.

    ``kind`` "number": the file itself says that it is a number, so ``text`` has a decimal point.
    ``kind`` "formula": a formula whose result the file doesn't hold; it is never worked out here.
    ``unit``: what another cell says of its unit. ``row``: where it stands, if not in its line.
    """

    text: str
    kind: Kind = "text"
    unit: str = ""
    row: int | None = None


_NOTHING = Raw("")
_text = attrgetter("text")


def tidy(text: str) -> str:
    """Return the text of a cell without what can't be seen, and without blanks around it.

    Examples
    --------
    >>> tidy("\\ufeff K7\\u200b "), tidy("1\\u202f234\\u00a0V")
    ('K7', '1 234 V')
    """
    if text.isascii():  # nothing unseen in it, and most cells by far
        return text.strip()
    return text.translate(_UNSEEN).strip()


def number_text(text: str) -> str:
    """Return the number that a workbook holds as its shortest text, without powers of ten if short.

    Raises
    ------
    ValueError : it is no number, or none that is finite.

    Examples
    --------
    >>> number_text("1.0"), number_text("4.1E-05"), number_text("0.4120"), number_text("6E+23")
    ('1', '0.000041', '0.4120', '6E+23')
    """
    try:
        number = Decimal(text)
    except InvalidOperation:
        raise ValueError(f"no number: {text[:40]!r}") from None
    if not number.is_finite():
        raise ValueError(f"no finite number: {text[:40]!r}")
    if abs(number.adjusted()) > _LONGEST_NUMBER:
        return text
    plain = str(int(number)) if number == number.to_integral_value() else shown(number)
    return plain if len(plain) <= _LONGEST_NUMBER else text


@dataclass(frozen=True, slots=True)
class Line:
    """One line, with its number as a person counts it, from 1."""

    number: int
    cells: tuple[Raw, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing is written in it."""
        return not any(map(_text, self.cells))

    def at(self, index: int | None) -> Raw:
        """Return the cell at an index; an empty one where there is none."""
        if index is None or index >= len(self.cells):
            return _NOTHING
        return self.cells[index]


new_line = quickly(Line)  # a logger writes a million


@dataclass(frozen=True)
class Sheet:
    """One sheet, or the whole of a file without sheets (then ``name`` is empty).

    ``note``: what is to be told of it, such as that it is hidden.
    """

    name: str
    lines: tuple[Line, ...]
    delimiter: str = ""
    note: str = ""
