"""Text files of readings: finding the letters, the separator and the lines."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from trials.errors import IngestError
from trials.ingest.grid import MOST_COLUMNS, TAKEN, Line, Raw, Sheet, new_line, tidy
from trials.tables import LongCellError, TornTableError, letters, lines_of

MOST_BYTES = 10_000_000
# of what a logger writes: one short line a reading, a million and more of them
MOST_LOGGED = 60_000_000
MOST_LINES = 1_500_000
_LONGEST_LINE = 1000  # bytes
_MOST_KNOWN = 200_000  # texts that are kept once
DELIMITERS = (";", "\t", ",", "|")
_FEWEST_COLUMNS = 3  # in a table narrower than that, a line in a cell proves nothing
_CONTROL = {chr(n) for n in range(32)} - set("\t\r\n\f\v")
_OLD = ("cp1252", "latin-1")


def decoded(content: bytes, name: str) -> tuple[str, str]:
    """Return the text of a file and a note on its letters (empty for plain UTF-8).

    Raises
    ------
    IngestError : empty, too large, or no text at all.

    Examples
    --------
    >>> decoded("µ".encode("utf-16"), "a.csv"), decoded(b"\\xb5", "a.csv")[0]
    (('µ', 'the file is written in UTF-16'), 'µ')
    """
    if not content.strip(b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise _refused("The file is empty.", "ingest.empty", name, "nothing")
    if len(content) > (MOST_LOGGED if _is_logged(content) else MOST_BYTES):
        raise _refused("The file is too large for a table of readings.", "ingest.too_large", name,
                       f"more than {MOST_BYTES / 1e6:.0f} MB")  # fmt: skip
    if content.count(b"\n") > MOST_LINES:
        raise _too_long(name)
    try:
        text, coding = letters(content)
    except UnicodeDecodeError as problem:
        raise _refused("The letters of the file can't be read.", "ingest.letters", name,
                       f"broken {problem.encoding}") from None  # fmt: skip
    except UnicodeError:
        text, coding = "", ""
    strange = sum(letter in _CONTROL for letter in text[:20_000])
    if not text or strange > len(text[:20_000]) / 100:
        raise _refused("This is not a table of text.", "ingest.binary", name,
                       "bytes that are no letters")  # fmt: skip
    if coding in _OLD:
        return text, "the file is written in an old coding of letters (Latin-1)"
    if coding == "utf-8":
        return text, ""
    return text.replace("\x00", ""), f"the file is written in {coding[:6].upper()}"


def _is_logged(content: bytes) -> bool:
    """Whether a large file is plain enough to be taken: short lines, each a row of its own."""
    if len(content) <= MOST_BYTES or b"\x00" in content:
        return False
    if re.search(rb"[^\n]{%d}" % (_LONGEST_LINE + 1), content):
        return False
    return b'"' not in content or not any(line.count(b'"') % 2 for line in content.split(b"\n"))


def table_of(text: str, name: str, fits: Callable[[Sheet], int]) -> Sheet:
    """Return the lines of a table.

    Parameters
    ----------
    fits : says how many headings of a sheet are understood; the separator that gives the most is
        taken, of ``;``, tab, ``,`` and ``|`` the first among equals.

    Raises
    ------
    IngestError : too many lines or columns, or the quotation marks don't match.
    """
    best: Sheet | None = None
    score = 0
    for sheet in tables_of(text, name):
        if (understood := fits(sheet)) > score:
            best, score = sheet, understood
    return best if best is not None else Sheet("", _lines(text, ",", name), ",")


def tables_of(text: str, name: str) -> Iterator[Sheet]:
    """Yield the lines of a table taken apart at each separator that occurs in it.

    Raises
    ------
    IngestError : as :func:`table_of`.
    """
    for delimiter in DELIMITERS:
        if delimiter in text:
            yield Sheet("", _lines(text, delimiter, name), delimiter)


def _lines(text: str, delimiter: str, name: str) -> tuple[Line, ...]:
    lines: list[Line] = []
    known: dict[str, Raw] = {}  # a logger writes the same texts over and over
    try:
        for start, cells in lines_of(text, delimiter, strict=False):
            if len(cells) > MOST_COLUMNS:
                raise _refused("A line has too many parts for a table of readings.",
                               "ingest.too_wide", f"{name}, line {start}",
                               f"{len(cells)} parts")  # fmt: skip
            lines.append(
                new_line(start, tuple([known.get(cell) or _raw(cell, known) for cell in cells]))
            )
            if len(lines) > MOST_LINES:
                raise _too_long(name)
    except LongCellError as problem:
        raise IngestError(
            "A cell is far too long for a table of readings.",
            code="ingest.long_cell",
            where=f"{name}, row {problem.line}",
            found=str(problem),
            allowed=f"cells of up to {problem.most} letters",
            do="Shorten that cell, or look for a quotation mark that is missing before it, and "
            "collect the file again.",
        ) from None
    except TornTableError as problem:
        raise _refused("The table can't be taken apart.", "ingest.broken",
                       f"{name}, line {problem.line}", str(problem)) from None  # fmt: skip
    if '"' in text:
        _refuse_swallowed(lines, delimiter, name)
    return tuple(lines)


def _raw(cell: str, known: dict[str, Raw]) -> Raw:
    raw = Raw(tidy(cell))
    if len(known) < _MOST_KNOWN:
        known[cell] = raw
    return raw


def _refuse_swallowed(lines: Sequence[Line], delimiter: str, name: str) -> None:
    """Refuse a table in which a stray quotation mark has made whole lines into one cell."""
    widths = Counter(len(line.cells) for line in lines)
    usual = widths.most_common(1)[0][0] if widths else 0
    for line in lines:
        for cell in line.cells:
            if usual >= _FEWEST_COLUMNS and any(
                inner.count(delimiter) >= usual - 1 for inner in cell.text.splitlines()[1:]
            ):
                raise IngestError(
                    "A quotation mark is missing, or one too many: several lines became one cell.",
                    code="ingest.broken",
                    where=f"{name}, line {line.number}",
                    found=" ".join(cell.text.split())[:60],
                    allowed='quotation marks in pairs, "so"',
                    do="Delete the stray quotation mark and collect the file again.",
                )


def _too_long(name: str) -> IngestError:
    return _refused("The file has too many lines for a table of readings.", "ingest.too_long",
                    name, f"more than {MOST_LINES}")  # fmt: skip


def _refused(what: str, code: str, where: str, found: str) -> IngestError:
    return IngestError(
        what,
        code=code,
        where=where,
        found=found,
        allowed=TAKEN,
        do="Save the table as CSV or XLSX and give that file.",
    )
