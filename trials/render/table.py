"""One table model: what the cells hold, apart from how they are shown.

Cells hold numbers unrounded. A column says how its numbers are shown and in which unit; HTML,
typeset pages and plain text only draw what :func:`shown` gives, and the CSV file keeps every digit.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass
from typing import Any, Final, Literal

from trials.files import csv_text
from trials.words.language import marked, say, say_as
from trials.words.numbers import decimals_of, number, p_text, significant

Cell = str | int | float | None
Kind = Literal["text", "word", "number", "significant", "count", "p", "percent"]

MISSING = "–"
WORDS: Final = frozenset(
    {
        marked("yes"),
        marked("no"),
        marked("exact"),
        marked("approximate"),
        marked("measured"),
        marked("at least"),
        marked("failed"),
        marked("lost"),
        marked("unmeasured"),
        marked("set aside"),
        marked("mattered"),
        marked("made no practical difference"),
        marked("not settled"),
        marked("average"),
        marked("not known"),
        marked("can't be tested here"),
        marked("straight line"),
        marked("bend (square)"),
    }
)


@dataclass(frozen=True)
class Column:
    """One column.

    Parameters
    ----------
    name : short name, the heading in the CSV file; unique within the table.
    title : what a person reads; the name if empty.
    unit : unit of measurement, shown in the heading.
    kind : "number" shows a whole column with the same decimals, "significant" each cell with its
        own, "count" whole numbers, "p" a p-value, "percent" a share of 1 times a hundred, "word"
        one of ``WORDS``, told in the language of the page; the CSV file keeps it.
    digits : significant digits that the column's largest number is shown with.
    decimals : fixed number of decimals instead of ``digits``.
    """

    name: str
    title: str = ""
    unit: str = ""
    kind: Kind = "text"
    digits: int = 3
    decimals: int | None = None

    @property
    def heading(self) -> str:
        """Title with the unit, as a person reads it."""
        title = say_as("heading", self.title or self.name)
        return f"{title} ({self.unit})" if self.unit else title

    @property
    def field(self) -> str:
        """Name with the unit, the heading in the CSV file."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


@dataclass(frozen=True)
class Table:
    """A table: caption, columns, rows of as many cells, and notes that say how it was made.

    ``heads`` is how many of the first columns name the row.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()
    heads: int = 1


def ends_columns(unit: str = "") -> tuple[Column, Column]:
    """Return the two columns of an interval's ends."""
    return (
        Column("from", unit=unit, kind="significant", digits=4),
        Column("to", unit=unit, kind="significant", digits=4),
    )


def behind_figure(
    name: str,
    label: str,
    columns: tuple[Column, ...],
    rows: tuple[tuple[Cell, ...], ...],
    notes: tuple[str, ...] = (),
    *,
    heads: int = 1,
) -> Table:
    """Return the numbers behind a figure as a table; ``label``: what is shown, "" for many."""
    caption = (
        say("Numbers behind the figure: {label}", label=label)
        if label
        else say("Numbers behind the figure")
    )
    return Table(name, caption, columns, rows, notes, heads)


def shown(table: Table) -> tuple[tuple[str, ...], ...]:
    """Return the text of every cell, rounded as its column says.

    Examples
    --------
    >>> t = Table("t", "", (Column("level"), Column("mean", unit="mW", kind="number")),
    ...           (("oven", 0.51234), ("burner", None)))
    >>> shown(t)
    (('oven', '0.512'), ('burner', '–'))
    """
    decimals = [_decimals(table, i) for i in range(len(table.columns))]
    return tuple(
        tuple(
            _cell(column, cell, places)
            for column, cell, places in zip(table.columns, row, decimals, strict=True)
        )
        for row in table.rows
    )


def _decimals(table: Table, index: int) -> int:
    column = table.columns[index]
    if column.decimals is not None or column.kind != "number":
        return column.decimals or 0
    sizes = [
        abs(cell)
        for row in table.rows
        if isinstance(cell := row[index], int | float) and math.isfinite(cell)
    ]
    return max(decimals_of(max(sizes), column.digits), 0) if sizes else 0


def _cell(column: Column, cell: Cell, decimals: int) -> str:
    if cell is None:
        return MISSING
    if isinstance(cell, str) or column.kind in ("count", "text"):
        return say(str(cell)) if column.kind == "word" and cell in WORDS else str(cell)
    if column.kind == "p":
        return p_text(cell)
    if column.kind == "significant" and (cell == 0 or isinstance(cell, int)):
        return str(int(cell))
    if column.kind == "significant":
        return significant(cell, column.digits)
    return number(100 * cell if column.kind == "percent" else cell, decimals)


def right_aligned(column: Column) -> bool:
    """Return whether a column's cells stand at the right, as numbers do."""
    return column.kind not in ("text", "word")


def to_csv(table: Table) -> str:
    """Return the table as CSV text with every digit of its numbers.

    A share stands there in hundredths, as its heading says.

    Examples
    --------
    >>> print(to_csv(Table("t", "", (Column("mean", unit="mW", kind="number"),), ((0.1 + 0.2,),))))
    mean (mW)
    0.30000000000000004
    <BLANKLINE>
    """
    rows = [
        [
            round(100 * cell, 10)
            if _in_hundredths(column) and isinstance(cell, int | float)
            else cell
            for column, cell in zip(table.columns, row, strict=True)
        ]
        for row in table.rows
    ]
    return csv_text([column.field for column in table.columns], rows)


def _in_hundredths(column: Column) -> bool:
    return column.kind == "percent" and column.unit.startswith("%")


def to_data(table: Table) -> dict[str, Any]:
    """Return the table as plain values for a typeset page."""
    return {
        "caption": table.caption,
        "heads": table.heads,
        "header": [column.heading for column in table.columns],
        "align": ["right" if right_aligned(column) else "left" for column in table.columns],
        "rows": [list(row) for row in shown(table)],
        "notes": list(table.notes),
    }


def to_text(table: Table, width: int = 100) -> list[str]:
    """Return the table as lines of plain text.

    Examples
    --------
    >>> t = Table("t", "Means", (Column("level"), Column("mean", unit="mW", kind="number")),
    ...           (("oven", 0.51234), ("burner", 0.3)))
    >>> print("\\n".join(to_text(t)))
    Means
    level   mean (mW)
    ------  ---------
    oven        0.512
    burner      0.300
    """
    header = [column.heading for column in table.columns]
    cells = [header, *[list(row) for row in shown(table)]]
    widths = [max(len(row[i]) for row in cells) for i in range(len(header))]
    right = [right_aligned(column) for column in table.columns]

    def line(row: list[str]) -> str:
        parts = (
            text.rjust(size) if to_right else text.ljust(size)
            for text, size, to_right in zip(row, widths, right, strict=True)
        )
        return "  ".join(parts).rstrip()

    rule = "  ".join("-" * size for size in widths)
    lines = textwrap.wrap(table.caption, width)
    lines += [line(header), rule, *(line(row) for row in cells[1:])]
    for note in table.notes:
        lines += textwrap.wrap(note, width)
    return lines
