"""Text tables as people save them: the letters and the lines, before anything is understood.

Readings that are handed in and a table to analyse come through here alike; what each of the two
takes, and how it says no, is its own.
"""

from __future__ import annotations

import contextlib
import csv
import io
import itertools
from collections.abc import Iterator

_STARTS = (
    (b"PK\x03\x04", "a workbook or another packed file"),
    (b"\xd0\xcf\x11\xe0", "an old or a protected workbook (XLS)"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"<html", "a web page"),
    (b"<!DOCTYPE html", "a web page"),
)
_MARKS = (  # byte-order marks, the longest first
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)


class TornTableError(Exception):
    """The quotation marks of a table don't match; ``line`` is where the row begins, from 1."""

    def __init__(self, line: int, problem: str) -> None:
        super().__init__(problem)
        self.line = line


class LongCellError(TornTableError):
    """A cell is monstrous; ``most`` letters are read."""

    def __init__(self, line: int, most: int) -> None:
        super().__init__(line, f"a cell of more than {most} letters")
        self.most = most


def kind_of(content: bytes) -> str:
    """Return what a file is that begins like none of text; empty where it may be text.

    Examples
    --------
    >>> kind_of(b"%PDF-1.7"), kind_of(b"item;height")
    ('a PDF document', '')
    """
    return next((what for start, what in _STARTS if content.startswith(start)), "")


def letters(content: bytes) -> tuple[str, str]:
    """Return the text of a file and the encoding it was read with, its mark left out.

    UTF-8 and UTF-16, with or without a byte-order mark, UTF-32 with it, else Western European: in
    that old coding nearly every byte is some letter.

    Raises
    ------
    UnicodeDecodeError : it doesn't hold what its byte-order mark promises.
    UnicodeError : it holds zero bytes and is not UTF-16, so it is no text.

    Examples
    --------
    >>> letters("µ".encode("utf-16")), letters(b"\\xb5")
    (('µ', 'utf-16'), ('µ', 'cp1252'))
    """
    for mark, coding in _MARKS:
        if content.startswith(mark):
            return content.decode(coding), coding.removesuffix("-sig")
    guesses = ["utf-8", "cp1252", "latin-1"]
    if b"\x00" in content:
        even, odd = content[0::2].count(0), content[1::2].count(0)
        likely = max(even, odd) > len(content) / 8  # of plain letters every second byte is zero
        guesses = ["utf-16-le" if odd > even else "utf-16-be"] if likely else []
    for coding in guesses:
        with contextlib.suppress(UnicodeDecodeError):
            return content.decode(coding), coding
    raise UnicodeError("zero bytes")


def lines_of(text: str, separator: str, *, strict: bool) -> Iterator[tuple[int, list[str]]]:
    """Yield each row as the line on which it begins, from 1, and its cells (RFC 4180).

    Parameters
    ----------
    strict : refuse what comes behind a closing quotation mark, and one that never closes.

    Raises
    ------
    LongCellError : a cell is monstrous.
    TornTableError : the quotation marks don't match. Without ``strict``
        that is told where the last cell never closes.

    Examples
    --------
    >>> list(lines_of('a;b\\n"1\\n2";3\\n4', ";", strict=True))
    [(1, ['a', 'b']), (2, ['1\\n2', '3']), (4, ['4'])]
    """
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=strict)
    start = 1
    last = 1
    try:
        for cells in reader:
            yield start, cells
            last, start = start, reader.line_num + 1
        if start - last > 1 and not strict:  # does its last cell ever close?
            rest = itertools.islice(io.StringIO(text, newline=""), last - 1, None)
            last_row = csv.reader(rest, delimiter=separator, strict=True)
            if _never_closes(last_row):
                raise TornTableError(last, "a quotation mark that is never closed")
    except csv.Error as problem:
        if "field limit" in str(problem):
            raise LongCellError(start, csv.field_size_limit()) from None
        raise TornTableError(start, str(problem)) from None


def _never_closes(rows: Iterator[list[str]]) -> bool:
    """Tell whether strict reading comes to the end of the text inside quotation marks."""
    try:
        for _ in rows:
            pass
    except csv.Error as problem:
        return "unexpected end" in str(problem)
    return False
