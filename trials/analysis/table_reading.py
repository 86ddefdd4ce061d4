"""A table as a person saved it, read as text: nothing is coerced and nothing is dropped unsaid.

Encodings: UTF-8 with or without a byte order mark, UTF-16, else Western European (Windows-1252 or
Latin-1). Separators: comma, semicolon or tab, chosen by the rows they make; a first line such as
``sep=;`` settles it. Quoting follows RFC 4180. How the file was read is kept in ``frame.attrs``
under "encoding", "separator" and "lines" (the file's line number of each row).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from trials.errors import AnalysisError
from trials.files import read_bytes
from trials.tables import LongCellError, TornTableError, kind_of, letters, lines_of

if TYPE_CHECKING:
    import pandas as pd

MAX_BYTES = 100_000_000
MAX_COLUMNS = 2_000
SEPARATORS = ("\t", ";", ",")  # of two that fit alike the earlier: commas also stand in numbers
_SEPARATOR_NAMES = "comma, semicolon or tab"
_SAVE_AS_CSV = "Open it in the program that made it and save it as a CSV file (UTF-8)."
_SEP_LINE = re.compile(r'^\s*"?sep=(.)"?\s*$', re.IGNORECASE)

Row = tuple[int, list[str]]  # the line of the file on which the row begins, and its cells


def read_table(source: Path | bytes, name: str) -> pd.DataFrame:
    """Return the table with every column as text; an empty cell is "".

    Parameters
    ----------
    source : the file, or its bytes.
    name : what a person calls the file; stands in every message.

    Raises
    ------
    FileError : the file is missing or may not be read.
    AnalysisError : empty, binary or huge; no rows; a heading missing or standing twice; a row with
        more cells than headings; a quotation mark that never ends.

    Examples
    --------
    >>> table = read_table(b"tea;y\\nA;0,52\\nB;\\n", "class.csv")
    >>> table.to_dict("list"), table.attrs["separator"], table.attrs["lines"]
    ({'tea': ['A', 'B'], 'y': ['0,52', '']}, ';', (2, 3))
    """
    import pandas as pd

    raw = read_bytes(source, MAX_BYTES) if isinstance(source, Path) else source
    text, encoding = decode(raw, name)
    separator, rows = _split(text, name)
    if not rows:
        _refuse_empty("The file has nothing in it.", name)
    header, body = rows[0], [row for row in rows[1:] if any(row[1])]
    width = _width(header, body)
    names = _column_names(header, width, name)
    if not body:
        _refuse(
            "The table has headings but no rows.",
            "table.no_rows",
            name,
            found="one row",
            allowed="a row of headings and rows of values",
            do="Add one row for each item below the headings.",
        )
    cells = [_padded(row, width, name, separator) for row in body]
    frame = pd.DataFrame(cells, columns=pd.Index(names), dtype="str")
    frame.attrs.update(
        encoding=encoding, separator=separator, lines=tuple(line for line, _ in body)
    )
    return frame


def decode(raw: bytes, name: str) -> tuple[str, str]:
    """Return the text of a file and the encoding it was read with.

    Raises
    ------
    AnalysisError : empty, too big, or not text.
    """
    if not raw.strip():
        _refuse_empty("The file is empty.", name)
    if len(raw) > MAX_BYTES:
        _refuse(
            "The file is too big for one table.",
            "table.too_big",
            name,
            found=f"more than {MAX_BYTES:,} bytes",
            allowed=f"up to {MAX_BYTES:,} bytes",
            do="Keep only the columns that are needed, or split the file.",
        )
    what = kind_of(raw)
    text = encoding = ""
    if not what:
        try:
            text, encoding = letters(raw)
        except UnicodeError:
            what = "bytes that are no letters"
    stray = next((c for c in text if unicodedata.category(c) == "Cc" and c not in "\t\r\n\f"), None)
    if stray is not None:
        what = f"the control character U+{ord(stray):04X}"
    if what:
        _refuse(
            "The file isn't a text table.",
            "table.binary",
            name,
            found=what,
            allowed=f"text with {_SEPARATOR_NAMES} between the cells",
            do=_SAVE_AS_CSV,
        )
    if not text.strip(" \r\n\f" + "".join(SEPARATORS)):
        _refuse_empty("The file has nothing in it.", name)
    return unicodedata.normalize("NFC", text), encoding


def _split(text: str, name: str) -> tuple[str, list[Row]]:
    """Return the separator and the rows: the one that gives every row as many cells as headings."""
    first, _, rest = text.partition("\n")
    said = _SEP_LINE.match(first)
    if said:
        return said[1], list(_rows(rest, said[1], name, skipped=1))
    best: tuple[float, str, list[Row]] | None = None
    problems: list[AnalysisError] = []
    for separator in SEPARATORS:
        try:
            rows = list(_rows(text, separator, name))
        except AnalysisError as error:
            problems.append(error)
            continue
        cells = len(rows[0][1]) if rows else 0
        full = sum(len(row) == cells for _, row in rows) / len(rows) if cells > 1 else 0.0
        if best is None or full > best[0]:
            best = (full, separator, rows)
    if best is None or (problems and not best[0]):
        raise problems[-1]
    return best[1], best[2]


def _rows(text: str, separator: str, name: str, skipped: int = 0) -> Iterator[Row]:
    """Yield the rows from the first that isn't blank, cells without the blanks around them."""
    started = False
    try:
        for line, row in lines_of(text, separator, strict=True):
            cells = [cell.strip() for cell in row]
            started = started or any(cells)
            if started and cells not in ([], [""]):
                yield line + skipped, cells
    except TornTableError as problem:
        _refuse(
            "A quotation mark opens a cell and isn't closed as it should be."
            if not isinstance(problem, LongCellError)
            else "A cell is far too long; a quotation mark is probably missing.",
            "table.quotes",
            f"{name}, line {problem.line + skipped}",
            found=str(problem),
            allowed="cells without quotation marks, or with one at both ends",
            do='Put a quotation mark at both ends of the cell, and write "" for one inside it.',
        )


def _width(header: Row, body: list[Row]) -> int:
    """Return how many columns there are once blank ones at the right edge are left off."""
    most = len(header[1])
    return max(_filled(cells[:most]) for _, cells in (header, *body))


def _filled(cells: Sequence[str]) -> int:
    """Return how many cells there are up to the last that isn't blank."""
    blank = next((n for n, cell in enumerate(reversed(cells)) if cell), len(cells))
    return len(cells) - blank


def _column_names(header: Row, width: int, name: str) -> list[str]:
    line, names = header[0], header[1][:width]
    where = f"{name}, line {line}"
    if width > MAX_COLUMNS:
        _refuse(
            "The table has too many columns.",
            "table.too_big",
            where,
            found=f"{width} columns",
            allowed=f"up to {MAX_COLUMNS}",
            do="Keep only the columns that are needed.",
        )
    for position, title in enumerate(names, start=1):
        if not title:
            _refuse(
                "A column has no heading.",
                "table.heading_empty",
                f"{where}, column {position}",
                allowed="a different heading over every column",
                do="Write a heading over that column, or take the column out.",
            )
        if title in names[: position - 1]:
            _refuse(
                "Two columns have the same heading.",
                "table.heading_twice",
                f"{where}, columns {names.index(title) + 1} and {position}",
                found=title,
                allowed="a different heading over every column",
                do="Rename one of the two.",
            )
    return names


def _padded(row: Row, width: int, name: str, separator: str) -> list[str]:
    line, cells = row
    if any(cells[width:]):
        commas = separator == ","
        _refuse(
            "A row has more cells than there are headings.",
            "table.row_too_long",
            f"{name}, line {line}",
            found=f"{len(cells)} cells",
            allowed=f"{width} cells",
            do="If numbers are written with decimal commas, put semicolons between the cells."
            if commas
            else "Give every column a heading, and put quotation marks round text that holds "
            f"the sign between the cells ({_SEPARATOR_NAMES}).",
        )
    return cells[:width] + [""] * (width - len(cells))


def _refuse_empty(what: str, name: str) -> NoReturn:
    allowed = f"text with {_SEPARATOR_NAMES} between the cells"
    _refuse(what, "table.empty", name, allowed=allowed, do="Save the table again.")


def _refuse(
    what: str, code: str, where: str, *, found: str = "", allowed: str = "", do: str
) -> NoReturn:
    raise AnalysisError(what, code=code, where=where, found=found, allowed=allowed, do=do)
