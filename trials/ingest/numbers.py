"""Turning cells into exact numbers, with the decimal mark decided column by column."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from trials.ingest.grid import Raw
from trials.ingest.headings import Heading
from trials.quantities import (
    Numeral,
    convert,
    convertible,
    is_endless,
    known,
    nice,
    numeral,
    same,
)
from trials.record.values import Cell

Mark = Literal["point", "comma", "both", "unsaid"]

MOST_TOLD = 4  # numbers with a unit of their own that are named
_BROKEN = re.compile(
    r"\b((did|does)(n['’]?t| not) work|not working|no (reading|signal)|failed|dead|defective)\b",
    re.IGNORECASE,
)
_LIKE_FIGURES = str.maketrans(
    {"O": "0", "o": "0", "l": "1", "I": "1", "~": "", "?": "", "≈": "", "*": "", "·": "."}
)


@dataclass(frozen=True, slots=True)
class Read:
    """What became of one cell.

    ``fault``: "" (fine), "text", "date", "formula", "unit", "mark" (readable in two ways).
    ``other`` is the second way, or what the text may have been meant to be.
    """

    cell: Cell
    fault: str = ""
    other: str = ""
    comma: bool = False  # a decimal comma was read
    row: int | None = None  # where it stands, if not in the row of its reading


def says_broken(text: str) -> bool:
    """Return whether a note says that the item did not work.

    Examples
    --------
    >>> says_broken("did not work"), says_broken("worked well")
    (True, False)
    """
    return bool(_BROKEN.search(text))


def mark_of(cells: Iterable[Raw]) -> Mark:
    """Return which decimal mark the texts prove.

    Examples
    --------
    >>> mark_of([Raw("0,41"), Raw("12")]), mark_of([Raw("1,234")]), mark_of([Raw("0.41")])
    ('comma', 'unsaid', 'point')
    """
    proofs: Counter[str] = Counter()
    for raw in cells:
        number = numeral(raw.text) if raw.kind == "text" else None
        if number is None:
            continue
        if number.point is None:
            proofs["comma"] += 1
        elif number.comma is None:
            proofs["point"] += 1
    if not proofs:
        return "unsaid"
    if len(proofs) == 2:
        return "both"
    return "comma" if proofs["comma"] else "point"


def read_cell(raw: Raw, heading: Heading, mark: Mark) -> Read:
    """Return the number of one cell that is not missing.

    Parameters
    ----------
    mark : the decimal mark that the column, or else the file, proves.
    """
    column = heading.column
    if raw.kind in ("date", "formula"):
        return Read(Cell(column.name, raw.text, heading.unit, None, None), raw.kind)
    if column.endless and heading.fits and is_endless(raw.text):
        endless = Decimal("Infinity")
        return Read(Cell(column.name, raw.text, heading.unit, endless, endless))
    number = numeral(raw.text)
    if number is not None and number.unit and not known(number.unit):
        number = number if same(number.unit, column.unit) else None
    if number is None:
        meant = raw.text.translate(_LIKE_FIGURES).strip()
        other = numeral(meant) if meant != raw.text else None
        fits = other is not None and (not other.unit or convertible(other.unit, column.unit))
        guess = meant if fits else ""
        return Read(Cell(column.name, raw.text, heading.unit, None, None), "text", guess)
    value, second = (number.point, None) if raw.kind == "number" else _chosen(number, mark)
    if value is None:
        return Read(Cell(column.name, raw.text, heading.unit, None, None), "text")
    own = number.unit or raw.unit
    unit = own or heading.unit
    fits = heading.fits if not own else same(own, column.unit) or convertible(own, column.unit)
    have = column.unit if same(unit, column.unit) else unit  # "ma" is no unit, but means mA here
    converted = convert(value, have, column.unit) if fits else None
    cell = Cell(column.name, raw.text, unit, value, converted)
    fault = "unit" if not fits else "mark" if second is not None else ""
    comma = raw.kind == "text" and value == number.comma and value != number.point
    return Read(cell, fault, "" if second is None else f"{second:f}", comma)


def _chosen(number: Numeral, mark: Mark) -> tuple[Decimal | None, Decimal | None]:
    """Return the number, and the other way to read it where the file doesn't settle which."""
    if number.point is None or number.comma is None:
        return (number.comma if number.point is None else number.point), None
    if number.point == number.comma or mark == "point":
        return number.point, None
    has_comma = number.point > number.comma if number.point >= 0 else number.point < number.comma
    if mark == "comma":
        # 1,234 in a file of decimal commas is clear; 1.234 there may be thousands
        return (number.comma, None) if has_comma else (number.point, number.comma)
    if mark == "unsaid" and not has_comma:
        return number.point, None
    return (number.comma, number.point) if has_comma else (number.point, number.comma)


def typed_unit_note(heading: Heading, reads: Sequence[Read]) -> str:
    """Return a sentence on units typed beside numbers that are not those of the column.

    Empty where there are none. Such numbers are turned into the unit of the column.
    """
    turned = [
        read.cell
        for read in reads
        if read.cell.unit != heading.unit
        and read.cell.value is not None
        and not same(read.cell.unit, heading.unit)
    ]
    if not turned:
        return ""
    unit = nice(heading.column.unit)
    told = ", ".join(f"{cell.text} = {cell.value:f} {unit}" for cell in turned[:MOST_TOLD])
    more = f" and {len(turned) - MOST_TOLD} more" if len(turned) > MOST_TOLD else ""
    return f"'{heading.text}': typed with another unit and turned into {unit}: {told}{more}."


def comma_note(heading: Heading, reads: Sequence[Read]) -> str:
    """Return a sentence on decimal commas in a column, empty where it has none."""
    count = sum(read.comma for read in reads)
    if not count:
        return ""
    numbers = f"{count} numbers were" if count > 1 else "one number was"
    return f"'{heading.text}': {numbers} read with a comma as the decimal mark."
