"""Sheets of an OpenDocument spreadsheet (ODS) as lines of cells.

The format is OASIS Open Document Format 1.2, part 1, chapters 8 and 9 (ISO/IEC 26300-1:2015). The
file is gone through once from front to back, so that a cell or a row that is said to be repeated a
million times costs nothing until it holds something. Entities are refused, formulas never worked
out: the result that the spreadsheet program left in the file is read.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from xml.parsers import expat

from trials.errors import IngestError
from trials.ingest.grid import MOST_COLUMNS, MOST_ROWS, TAKEN, Line, Raw, Sheet, number_text, tidy

MIMETYPE = b"application/vnd.oasis.opendocument.spreadsheet"
CONTENT = "content.xml"
MOST_SHEETS = 200
MOST_CELLS = 200_000  # that hold something
MOST_ELEMENTS = 600_000
MOST_CONTENT = 60_000_000  # bytes of content.xml
_DEEPEST = 60  # elements inside each other
_LONGEST = 32_767  # letters of one cell, as many as spreadsheet programs take
_DURATION = re.compile(r"PT(\d{1,6})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S\Z")
_NUMBERS = frozenset(["float", "percentage", "currency"])
_RESULTS = frozenset(["string", "boolean", "date", "time"])  # of formulas, beside numbers
_CELLS = frozenset(["table:table-cell", "table:covered-table-cell"])
# what a sheet may hold beside its cells: notes pinned to them, drawings, the history of changes
_BESIDE = frozenset(
    ["office:annotation", "table:shapes", "draw:frame", "table:tracked-changes", "table:dde-links",
     "office:forms", "table:database-ranges", "table:data-pilot-tables"]
)  # fmt: skip


def is_opendocument(packed: zipfile.ZipFile) -> bool:
    """Return whether a packed file says of itself that it is an OpenDocument file."""
    return "mimetype" in packed.namelist() and b"opendocument" in _start(packed, "mimetype")


def opendocument_sheets(content: bytes, name: str) -> tuple[Sheet, ...]:
    """Return all sheets of an ODS file; its size was looked at before.

    Raises
    ------
    IngestError : no spreadsheet, an encrypted one, or one that unfolds without end.
    Exception : what the libraries raise of a damaged file.
    """
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        _refuse_others(packed, name)
        reader = _Reader(name)
        reader.read(packed.read(CONTENT))  # whole: in pieces a part without end is read again often
    return tuple(reader.sheets)


def locked(name: str) -> IngestError:
    """Return the error for a workbook of any kind that only a password opens."""
    return _refused(
        "The workbook is locked with a password.",
        "ingest.encrypted",
        name,
        "an encrypted file",
        do="Open it in a spreadsheet program, save it without a password, and collect that file.",
    )


def _start(packed: zipfile.ZipFile, part: str) -> bytes:
    try:
        with packed.open(part) as stream:
            return stream.read(200)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError):
        return b""


def _refuse_others(packed: zipfile.ZipFile, name: str) -> None:
    parts = set(packed.namelist())
    kind = _start(packed, "mimetype").strip()
    if not kind.startswith(MIMETYPE):
        raise _refused("This is no workbook.", "ingest.not_a_workbook", name,
                       kind.decode("latin-1")[:80])  # fmt: skip
    manifest = b""
    if "META-INF/manifest.xml" in parts:
        with packed.open("META-INF/manifest.xml") as stream:
            manifest = stream.read(1_000_000)
    if "encrypted-package" in parts or b"encryption-data" in manifest:
        raise locked(name)
    if CONTENT in parts and packed.getinfo(CONTENT).file_size > MOST_CONTENT:
        raise _refused("The workbook unfolds to something far too large.", "ingest.too_large",
                       name, f"more than {MOST_CONTENT / 1e6:.0f} MB")  # fmt: skip
    if CONTENT not in parts:
        raise _refused("The workbook is damaged.", "ingest.broken_workbook", name,
                       f"no {CONTENT} in it")  # fmt: skip


@dataclass
class _Table:
    """One sheet while it is read."""

    name: str
    lines: list[Line] = field(default_factory=list)
    row: int = 0  # rows gone through
    repeated: int = 1  # of the row at hand
    cells: list[Raw] = field(default_factory=list)
    column: int = 0  # columns gone through in the row at hand
    elsewhere: bool = False  # a copy of a sheet of another file


class _Reader:
    """Goes through content.xml; what is open is kept as a path of names."""

    def __init__(self, name: str) -> None:
        self.sheets: list[Sheet] = []
        self._name = name
        self._open: list[str] = []
        self._aside = 0  # elements open since one that is passed over
        self._table: _Table | None = None
        self._cell: Mapping[str, str] | None = None
        self._paragraphs: list[list[str]] = []
        self._letters = 0
        self._filled = 0
        self._elements = 0
        self._parser = expat.ParserCreate()
        self._parser.buffer_text = True
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._text
        self._parser.EntityDeclHandler = self._entity

    def read(self, content: bytes) -> None:
        """Go through the whole of content.xml."""
        self._parser.Parse(content, True)

    def _entity(self, *_: object) -> None:
        raise _refused("The workbook holds something that no spreadsheet program writes.",
                       "ingest.broken_workbook", self._name, "entities of its own")  # fmt: skip

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        self._open.append(tag)
        self._elements += 1
        if self._elements > MOST_ELEMENTS:
            raise _refused("The workbook has too many parts for a table of readings.",
                           "ingest.too_large", self._name,
                           f"more than {MOST_ELEMENTS} parts")  # fmt: skip
        if len(self._open) > _DEEPEST:
            raise _refused("The workbook is nested far too deep.", "ingest.broken_workbook",
                           self._name, f"more than {_DEEPEST} parts inside each other")  # fmt: skip
        if self._aside or tag in _BESIDE:
            self._aside += 1
        elif tag == "table:table":
            self._start_table(attributes)
        elif self._table is None:
            return
        elif tag == "table:table-source":
            self._table.elsewhere = True
        elif tag == "table:table-row":
            self._table.repeated = _repeats(attributes.get("table:number-rows-repeated"))
            self._table.cells, self._table.column = [], 0
        elif tag in _CELLS:
            self._cell, self._paragraphs, self._letters = attributes, [], 0
        elif self._cell is not None:
            self._start_text(tag, attributes)

    def _start_table(self, attributes: Mapping[str, str]) -> None:
        if self._table is not None:  # a table inside a cell; the format allows it, nobody does it
            self._aside += 1
            return
        if len(self.sheets) >= MOST_SHEETS:
            raise _refused("The workbook has too many sheets.", "ingest.too_large", self._name,
                           f"more than {MOST_SHEETS} sheets")  # fmt: skip
        self._table = _Table(attributes.get("table:name", "").strip())

    def _start_text(self, tag: str, attributes: Mapping[str, str]) -> None:
        if tag == "text:p":
            self._paragraphs.append([])
            self._letters += 1
            if self._letters > _LONGEST:
                raise _refused("A cell is far too long for a table of readings.",
                               "ingest.too_large", self._name,
                               f"more than {_LONGEST} letters or lines")  # fmt: skip
        elif tag == "text:s":
            self._add("\x00" * min(_repeats(attributes.get("text:c")), _LONGEST))
        elif tag in ("text:tab", "text:line-break"):
            self._add("\x00")

    def _text(self, text: str) -> None:
        if not self._aside and self._cell is not None:
            self._add(text)

    def _add(self, text: str) -> None:
        if self._paragraphs and self._letters < _LONGEST:
            self._paragraphs[-1].append(text)
            self._letters += len(text)

    def _end(self, tag: str) -> None:
        self._open.pop()
        if self._aside:
            self._aside -= 1
        elif self._table is None:
            return
        elif tag in _CELLS and self._cell is not None:
            self._end_cell(self._table, self._cell)
            self._cell = None
        elif tag == "table:table-row":
            self._end_row(self._table)
        elif tag == "table:table":
            if not self._table.elsewhere:
                self.sheets.append(Sheet(self._table.name, tuple(self._table.lines)))
            self._table = None

    def _end_cell(self, table: _Table, attributes: Mapping[str, str]) -> None:
        times = _repeats(attributes.get("table:number-columns-repeated"))
        raw = _raw(attributes, "\n".join(_collapsed("".join(part)) for part in self._paragraphs))
        if raw.text and table.column + times > MOST_COLUMNS:
            raise _refused("A row has too many cells for a table of readings.", "ingest.too_wide",
                           f"{self._name}, sheet '{table.name}', row {table.row + 1}",
                           f"{table.column + times} cells",
                           allowed=f"at most {MOST_COLUMNS} columns")  # fmt: skip
        table.column += times
        if raw.text:
            self._fill(times)
            table.cells.extend([Raw("")] * (table.column - times - len(table.cells)))
            table.cells.extend([raw] * times)

    def _fill(self, cells: int) -> None:
        """Count cells that hold something, repeated ones as often as they are."""
        self._filled += cells
        if self._filled > MOST_CELLS:
            raise _refused("The workbook holds too many cells for a table of readings.",
                           "ingest.too_large", self._name,
                           f"more than {MOST_CELLS} cells")  # fmt: skip

    def _end_row(self, table: _Table) -> None:
        first = table.row + 1
        table.row += table.repeated
        if not table.cells:
            return
        if table.row > MOST_ROWS:
            raise _refused("The sheet has too many rows for a table of readings.",
                           "ingest.too_long", f"{self._name}, sheet '{table.name}'",
                           f"row {table.row}", allowed=f"at most {MOST_ROWS} rows")  # fmt: skip
        self._fill((table.repeated - 1) * sum(bool(cell.text) for cell in table.cells))
        cells = tuple(table.cells)
        table.lines.extend(Line(number, cells) for number in range(first, table.row + 1))


def _repeats(text: str | None) -> int:
    if text is None:
        return 1
    if not (text.isascii() and text.isdigit() and len(text) < 10):
        raise ValueError(f"a part that is repeated {text[:20]!r} times")
    return max(1, int(text))


def _collapsed(text: str) -> str:
    """Return a paragraph without the line breaks that only lay out the XML.

    The format would join blanks too (ODF 1.2, part 1, 6.1.2), but LibreOffice writes some of them
    as they were typed.
    """
    text = re.sub(r" *[\t\r\n]+ *", " ", text)
    return tidy(text.replace("\x00", " "))


def _raw(attributes: Mapping[str, str], text: str) -> Raw:
    kind = attributes.get("office:value-type", "")
    if kind in _NUMBERS and "office:value" in attributes:
        return Raw(number_text(attributes["office:value"]), "number")
    formula = attributes.get("table:formula", "")
    shown = attributes.get("office:string-value") or text
    if formula and (kind not in _RESULTS or shown[:1] in ("", "#") or _is_error(attributes)):
        return Raw(formula.partition(":")[2] or formula, "formula")
    if kind == "boolean":
        return Raw("yes" if attributes.get("office:boolean-value") == "true" else "no")
    if kind == "date":
        return Raw(_date(attributes.get("office:date-value", text)), "date")
    if kind == "time":
        return Raw(_time(attributes.get("office:time-value", text)), "date")
    return Raw(tidy(attributes.get("office:string-value", text)) if kind else text)


def _is_error(attributes: Mapping[str, str]) -> bool:
    """Return whether LibreOffice says of a cell that its formula went wrong."""
    return attributes.get("calcext:value-type") == "error"


def _date(value: str) -> str:
    """Return a date as it is told for workbooks of the other kind too."""
    try:
        return str(datetime.datetime.fromisoformat(value))
    except ValueError:
        return value.strip()


def _time(value: str) -> str:
    """Return a time of day, or how long something took.

    Examples
    --------
    >>> _time("PT14H05M00S"), _time("PT26H00M00S"), _time("PT0S")
    ('14:05', '1 day, 2:00:00', 'PT0S')
    """
    found = _DURATION.match(value.strip())
    if found is None:
        return value.strip()
    hours, minutes, seconds = map(int, found.groups())
    if hours < 24:
        return f"{hours:02}:{minutes:02}"
    return str(datetime.timedelta(hours=hours, minutes=minutes, seconds=seconds))


def _refused(
    what: str, code: str, where: str, found: str, *, allowed: str = "", do: str = ""
) -> IngestError:
    return IngestError(
        what,
        code=code,
        where=where,
        found=found,
        allowed=allowed or TAKEN,
        do=do
        or "Open it in a spreadsheet program, save it as XLSX once more, and collect that file.",
    )
