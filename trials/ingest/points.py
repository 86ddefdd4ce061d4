"""Reading a file of points that belong to one item: a table of quantities, nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from trials.errors import IngestError
from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.headings import ITEM_NAMES, Heading, heading_of
from trials.ingest.missing import is_missing
from trials.ingest.numbers import comma_note, mark_of, read_cell
from trials.ingest.text import decoded, table_of
from trials.ingest.workbook import is_workbook, sheets_of
from trials.quantities import nice
from trials.reduction import Column
from trials.reduction.table import same_name
from trials.tables import kind_of

_SEARCHED = 30  # lines among which the heading row is looked for


@dataclass(frozen=True)
class PointTable:
    """The points of one item, in the order of the file.

    ``rows`` hold numbers by column name, those that are missing left out; ``lines`` the line that
    each came from. ``item`` is what the file calls the item, if it does.
    """

    rows: tuple[dict[str, Decimal], ...]
    lines: tuple[int, ...]
    item: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Head:
    line: Line
    headings: tuple[Heading, ...]
    item: int | None


def read_points(
    content: bytes, name: str, columns: Sequence[Column], *, item: str = ""
) -> PointTable:
    """Read a file of points.

    Parameters
    ----------
    columns : the quantities that are understood.
    item : which item, where the file holds several.

    Raises
    ------
    IngestError : no heading row, a text where a number is expected, or several items.
    """
    sheet, notes = _sheet(content, name, columns)
    head = _head(sheet, columns)
    if head is None:
        raise IngestError(
            "No heading row was found.",
            code="ingest.no_headings",
            where=name,
            allowed=", ".join(f"'{column.header}'" for column in columns),
            do="Put headings with units above the numbers, for instance: "
            + ", ".join(column.header for column in columns[:2]),
        )
    lines = [line for line in sheet.lines if line.number > head.line.number and not line.empty]
    lines, found_item = _of_item(lines, head, name, item)
    rows: list[dict[str, Decimal]] = [{} for _ in lines]
    for heading in head.headings:
        notes.extend(_read_column(heading, lines, rows, name))
        if not heading.stated and heading.column.unit:
            unit = nice(heading.column.unit)
            notes.append(f"'{heading.text}' gives no unit: its numbers are taken as {unit}.")
    kept = [(row, line.number) for row, line in zip(rows, lines, strict=True) if row]
    return PointTable(
        tuple(row for row, _ in kept), tuple(at for _, at in kept), found_item, tuple(notes)
    )


def _sheet(content: bytes, name: str, columns: Sequence[Column]) -> tuple[Sheet, list[str]]:
    """Return the lines of the file, and what was understood of it."""

    def understood(sheet: Sheet) -> int:
        head = _head(sheet, columns)
        return 0 if head is None else len(head.headings)

    if is_workbook(content):
        return max(sheets_of(content, name), key=understood, default=Sheet("", ())), []
    if what := kind_of(content):
        raise IngestError(
            "This kind of file can't be read.",
            code="ingest.kind",
            where=name,
            found=what,
            allowed="a table as CSV, TSV, XLSX or ODS",
            do="Save the table as CSV.",
        )
    text, note = decoded(content, name)
    return table_of(text, name, understood), [f"{name}: {note}."] if note else []


def _head(sheet: Sheet, columns: Sequence[Column]) -> _Head | None:
    """Return the first line that names at least two of the quantities."""
    items = {same_name(known) for known in ITEM_NAMES}
    for line in sheet.lines[:_SEARCHED]:
        found: dict[str, Heading] = {}
        for index, cell in enumerate(line.cells):
            heading = heading_of(cell.text, index, columns) if cell.text else None
            if heading is not None and heading.fits:
                found.setdefault(heading.column.name, heading)
        if len(found) > 1:
            at = next((i for i, c in enumerate(line.cells) if same_name(c.text) in items), None)
            return _Head(line, tuple(found.values()), at)
    return None


def _of_item(lines: Sequence[Line], head: _Head, name: str, wanted: str) -> tuple[list[Line], str]:
    """Return the lines of one item and what it is called."""
    if head.item is None:
        return list(lines), ""
    codes = list(dict.fromkeys(code for line in lines if (code := line.at(head.item).text)))
    same = (code for code in codes if code.casefold() == wanted.casefold())
    chosen = next(same, "") if wanted else codes[0] if len(codes) == 1 else ""
    if codes and not chosen:
        raise IngestError(
            "The file holds no points of that item."
            if wanted
            else "The file holds the points of several items.",
            code="ingest.no_such_item" if wanted else "ingest.several_items",
            where=name,
            found=wanted or ", ".join(codes[:12]),
            allowed=", ".join(codes[:12]) if wanted else "one item, or its code with --item",
            do=f"Add for instance: --item {codes[0]}",
        )
    return [line for line in lines if line.at(head.item).text in (chosen, "")], chosen


def _read_column(
    heading: Heading,
    lines: Sequence[Line],
    rows: Sequence[dict[str, Decimal]],
    name: str,
) -> list[str]:
    """Put the numbers of one column into the rows; return what was understood."""
    cells = [line.at(heading.index) for line in lines]
    mark = mark_of(cells)
    reads = []
    for cell, line, row in zip(cells, lines, rows, strict=True):
        if not is_missing(cell.text):
            read = read_cell(cell, heading, mark)
            if read.cell.value is None:
                raise _no_number(heading, cell, f"{name}, line {line.number}")
            row[heading.column.name] = read.cell.value
            reads.append(read)
    note = comma_note(heading, reads)
    return [note] if note else []


def _no_number(heading: Heading, cell: Raw, where: str) -> IngestError:
    open_ = "'open', " if heading.column.endless else ""
    return IngestError(
        "A number can't be read.",
        code="ingest.number",
        where=f"{where}, column '{heading.text}'",
        found=cell.text,
        allowed=f"a number in {nice(heading.column.unit)}, {open_}or an empty cell",
        do="Mend that cell, or leave it empty.",
    )
