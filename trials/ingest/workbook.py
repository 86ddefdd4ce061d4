"""The sheets of a workbook as lines of cells; typed adapter of the library that reads XLSX.

Formulas are never worked out: the result that the spreadsheet program left in the file is read.
"""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from trials.errors import IngestError
from trials.ingest.grid import MOST_COLUMNS, MOST_ROWS, TAKEN, Line, Raw, Sheet, number_text, tidy
from trials.ingest.opendocument import is_opendocument, locked, opendocument_sheets

MOST_BYTES = 20_000_000  # of the file
MOST_UNPACKED = 200_000_000  # of what it unfolds to
MOST_PARTS = 2_000
_LARGE = 10_000_000  # bytes of one part, unpacked
_MOST_SHRUNK = 200  # sheets full of numbers shrink to a tenth or a fiftieth
MOST_SHEETS = 200
MOST_TAGS = 1_200_000  # in all parts; a filled cell takes four
# an XLSX with a password is a compound file with a stream of this name ([MS-OFFCRYPTO] 2.3.4.4)
_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage\0".encode("utf-16-le")


def is_workbook(content: bytes) -> bool:
    """Return whether the bytes are a zip file, as XLSX and ODS are, or a locked XLSX."""
    return content.startswith(b"PK\x03\x04") or _is_locked(content)


def _is_locked(content: bytes) -> bool:
    return content.startswith(_COMPOUND) and _ENCRYPTED in content


def sheets_of(content: bytes, name: str) -> tuple[Sheet, ...]:
    """Return all sheets of an XLSX or ODS file.

    Raises
    ------
    IngestError : no workbook, a damaged or encrypted one, or one that unfolds to a monstrous size.
    """
    if _is_locked(content):
        raise locked(name)
    try:
        if _refuse_monsters(content, name):
            return opendocument_sheets(content, name)
        with warnings.catch_warnings():
            # what the library says about parts of a workbook that it doesn't keep
            warnings.filterwarnings("ignore", category=UserWarning, module=r"openpyxl\..*")
            return _sheets(content, name)
    except IngestError:
        raise
    except Exception as problem:  # noqa: BLE001 - a damaged file makes the library raise anything
        raise _refused("The workbook can't be read.", "ingest.broken_workbook", name,
                       f"{type(problem).__name__}: {problem}"[:200]) from None  # fmt: skip


def _refuse_monsters(content: bytes, name: str) -> bool:
    """Refuse what is damaged or unfolds to far too much; return whether the rest is ODS."""
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
            if any(_is_bomb(part) for part in parts):
                raise _refused("The workbook unfolds to something far too large.",
                               "ingest.too_large", name,
                               f"{size / 1e6:.0f} MB out of {len(content) / 1e6:.1f} MB"
                               )  # fmt: skip
            if sum(_tags(packed, part) for part in parts) > MOST_TAGS:
                raise _refused("The workbook holds too much for a table of readings.",
                               "ingest.too_large", name,
                               f"more than {MOST_TAGS} parts")  # fmt: skip
            if is_opendocument(packed):
                return True
            names = {part.filename for part in parts}
            if "[Content_Types].xml" not in names:
                raise _refused("This is no workbook.", "ingest.not_a_workbook", name,
                               "another kind of packed file")  # fmt: skip
    except zipfile.BadZipFile as problem:
        raise _refused("The workbook is damaged.", "ingest.broken_workbook", name,
                       str(problem)) from None  # fmt: skip
    return False


def _is_bomb(part: zipfile.ZipInfo) -> bool:
    """Tell whether a part is large and shrinks as only what is the same all over does."""
    return part.file_size > _LARGE and part.file_size > _MOST_SHRUNK * part.compress_size


def _tags(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> int:
    """Return how many tags a part of XML has, at least roughly; short ones aren't looked into."""
    if part.file_size < MOST_TAGS or not part.filename.endswith((".xml", ".rels")):
        return 0
    return packed.read(part).count(b"<")


def _sheets(content: bytes, name: str) -> tuple[Sheet, ...]:
    as_written, formulas = _cells(content, name, results=False)
    if not formulas:
        return as_written
    results, _ = _cells(content, name, results=True)
    return tuple(_joined(one, other) for one, other in zip(as_written, results, strict=True))


def _cells(content: bytes, name: str, *, results: bool) -> tuple[tuple[Sheet, ...], bool]:
    """Return the sheets and whether any cell holds a formula."""
    from openpyxl import load_workbook
    from openpyxl.cell.read_only import EMPTY_CELL

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
                max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS + 1
            )
            for number, row in enumerate(rows, start=1):
                filled = len(row)
                while filled and row[filled - 1] is EMPTY_CELL:
                    filled -= 1
                cells = [_raw(cell) for cell in row[:filled]]
                formulas = formulas or any(cell.kind == "formula" for cell in cells)
                while cells and not cells[-1].text:
                    cells.pop()
                if cells:
                    _refuse_beyond(number, len(cells), f"{name}, sheet '{sheet.title}'")
                    lines.append(Line(number, tuple(cells)))
            sheets.append(Sheet(str(sheet.title), tuple(lines), note=_note(sheet)))
        return tuple(sheets), formulas
    finally:
        book.close()


def _note(sheet: Any) -> str:
    """Return what is to be told of a sheet: that it is hidden, or goes on beyond what is read."""
    told = []
    if sheet.sheet_state != "visible":
        told.append("this sheet is hidden, and was looked into all the same.")
    if (sheet.max_column or 0) > MOST_COLUMNS or (sheet.max_row or 0) > MOST_ROWS:
        told.append(
            f"if anything stands beyond column {MOST_COLUMNS} or row {MOST_ROWS}, it was not read."
        )
    return " ".join(told)


def _refuse_beyond(row: int, cells: int, where: str) -> None:
    if row > MOST_ROWS:
        raise _refused("The sheet has too many rows for a table of readings.", "ingest.too_long",
                       where, f"more than {MOST_ROWS} rows")  # fmt: skip
    if cells > MOST_COLUMNS:
        raise _refused("A row has too many cells for a table of readings.", "ingest.too_wide",
                       f"{where}, row {row}", f"more than {MOST_COLUMNS} cells")  # fmt: skip


def _raw(cell: Any) -> Raw:
    value = cell.value
    if value is None or isinstance(value, str):
        text = "" if value is None else tidy(value)
        return Raw(text, "formula" if cell.data_type == "f" else "text")
    if isinstance(value, bool):
        return Raw("yes" if value else "no")
    if isinstance(value, int | float):
        return Raw(number_text(repr(value)), "number")
    if isinstance(value, datetime.time):
        return Raw(value.strftime("%H:%M"), "date")
    timed = isinstance(value, datetime.date | datetime.timedelta)
    return Raw(str(value).strip(), "date" if timed else "text")


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
    return replace(written, lines=tuple(lines))


def _result(formula: Raw, result: Raw) -> Raw:
    """Return the result of a formula; the formula where there is none, or an error such as #REF!"""
    return formula if result.text[:1] in ("", "#") else result


def _refused(what: str, code: str, name: str, found: str) -> IngestError:
    return IngestError(
        what,
        code=code,
        where=name,
        found=found,
        allowed=TAKEN,
        do="Open it in a spreadsheet program, save it as XLSX once more, and collect that file.",
    )
