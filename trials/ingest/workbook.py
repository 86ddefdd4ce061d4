"""Typed adapter of the spreadsheet library: the sheets of an XLSX file as lines of cells.

Formulas are never worked out: the result that the spreadsheet program left in the file is read.
"""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
from collections.abc import Iterable
from typing import Any

from trials.errors import IngestError
from trials.ingest.grid import MOST_COLUMNS, MOST_ROWS, Line, Raw, Sheet
from trials.quantities import shown

MOST_BYTES = 20_000_000  # of the file
MOST_UNPACKED = 200_000_000  # of what it unfolds to
MOST_PARTS = 2_000
MOST_SHEETS = 200


def is_workbook(content: bytes) -> bool:
    """Return whether the bytes are those of a zip file, as every XLSX is."""
    return content.startswith(b"PK\x03\x04")


def sheets_of(content: bytes, name: str) -> tuple[Sheet, ...]:
    """Return all sheets of an XLSX file.

    Raises
    ------
    IngestError : no workbook, a damaged or encrypted one, or one that unfolds to a monstrous size.
    """
    _refuse_monsters(content, name)
    try:
        with warnings.catch_warnings():
            # what the library says about parts of a workbook that it doesn't keep
            warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\..*")
            return _sheets(content, name)
    except IngestError:
        raise
    except Exception as problem:  # noqa: BLE001 - a damaged file makes the library raise anything
        raise _refused("The workbook can't be read.", "ingest.broken_workbook", name,
                       f"{type(problem).__name__}: {problem}"[:200]) from None  # fmt: skip


def _refuse_monsters(content: bytes, name: str) -> None:
    if len(content) > MOST_BYTES:
        raise _refused("The workbook is too large.", "ingest.too_large", name,
                       f"more than {MOST_BYTES / 1e6:.0f} MB")  # fmt: skip
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            size = sum(part.file_size for part in parts)
            if len(parts) > MOST_PARTS or size > MOST_UNPACKED:
                raise _refused("The workbook unfolds to something far too large.",
                               "ingest.too_large", name,
                               f"{len(parts)} parts, {size / 1e6:.0f} MB")  # fmt: skip
            names = {part.filename for part in parts}
            if "[Content_Types].xml" not in names:
                raise _refused("This is no workbook.", "ingest.not_a_workbook", name,
                               "another kind of packed file")  # fmt: skip
    except zipfile.BadZipFile as problem:
        raise _refused("The workbook is damaged.", "ingest.broken_workbook", name,
                       str(problem)) from None  # fmt: skip


def _sheets(content: bytes, name: str) -> tuple[Sheet, ...]:
    as_written, formulas = _cells(content, name, results=False)
    if not formulas:
        return as_written
    results, _ = _cells(content, name, results=True)
    return tuple(_joined(one, other) for one, other in zip(as_written, results, strict=True))


def _cells(content: bytes, name: str, *, results: bool) -> tuple[tuple[Sheet, ...], bool]:
    """Return the sheets and whether any cell holds a formula."""
    from openpyxl import load_workbook

    book: Any = load_workbook(io.BytesIO(content), read_only=True, data_only=results)
    try:
        sheets = []
        formulas = False
        if len(book.worksheets) > MOST_SHEETS:
            raise _refused("The workbook has too many sheets.", "ingest.too_large", name,
                           f"{len(book.worksheets)} sheets")  # fmt: skip
        for sheet in book.worksheets:
            lines = []
            rows: Iterable[tuple[Any, ...]] = sheet.iter_rows(
                max_row=MOST_ROWS, max_col=MOST_COLUMNS
            )
            for number, row in enumerate(rows, start=1):
                cells = [_raw(cell) for cell in row]
                formulas = formulas or any(cell.kind == "formula" for cell in cells)
                while cells and not cells[-1].text:
                    cells.pop()
                if cells:
                    lines.append(Line(number, tuple(cells)))
            sheets.append(Sheet(str(sheet.title), tuple(lines)))
        return tuple(sheets), formulas
    finally:
        book.close()


def _raw(cell: Any) -> Raw:
    value = cell.value
    if value is None or isinstance(value, str):
        text = "" if value is None else value.replace("\u00a0", " ").strip()
        return Raw(text, "formula" if cell.data_type == "f" else "text")
    if isinstance(value, bool):
        return Raw("yes" if value else "no")
    if isinstance(value, int | float):
        return Raw(_number_text(value), "number")
    if isinstance(value, datetime.time):
        return Raw(value.strftime("%H:%M"), "date")
    timed = isinstance(value, datetime.date | datetime.timedelta)
    return Raw(str(value).strip(), "date" if timed else "text")


def _number_text(value: float) -> str:
    """Return the shortest text of the number, without powers of ten where it is short."""
    from decimal import Decimal

    if isinstance(value, int):
        return str(value)
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    text = repr(value)
    plain = shown(Decimal(text))
    return plain if len(plain) <= 20 else text


def _joined(written: Sheet, results: Sheet) -> Sheet:
    """Put the results that the file holds in the place of its formulas."""
    known = {line.number: line for line in results.lines}
    lines = []
    for line in written.lines:
        other = known.get(line.number, Line(line.number, ()))
        cells = tuple(
            _result(cell, other.at(index)) if cell.kind == "formula" else cell
            for index, cell in enumerate(line.cells)
        )
        lines.append(Line(line.number, cells))
    return Sheet(written.name, tuple(lines))


def _result(formula: Raw, result: Raw) -> Raw:
    return result if result.kind == "number" else formula


def _refused(what: str, code: str, name: str, found: str) -> IngestError:
    return IngestError(
        what,
        code=code,
        where=name,
        found=found,
        allowed="the filled entry workbook (XLSX), or a table of readings as CSV or TSV text",
        do="Open it in a spreadsheet program, save it as XLSX once more, and collect that file.",
    )
