"""The text of a PDF's pages as pypdf tells it, from operators that are found by a pattern.

Taking the drawing of a page apart is most of pypdf's work, letter by letter in Python; qpdf (by way
of pikepdf) unpacks it in compiled code, and one pattern finds an operator with its operands (ISO
32000-1, 7.8.2 and 7.3). So pypdf gets the operators that text hangs on, and says what text they
make. tests/test_page_text.py holds it against pypdf alone.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import pikepdf
from pypdf import PageObject, PdfReader
from pypdf.generic import ArrayObject, ContentStream, NameObject

_ALONE = frozenset(b"q Q BT ET T*".split())
_PLACING = frozenset(b"cm Tm Td TD".split())
_OF_TEXT = frozenset(b"Tf TL Tc Tw Tz Tj TJ ' \" Do".split())
# brackets that close each other may stand in a string as they are, here up to eight deep
_PLAIN = rb"[^()\\]++|\\."
_STRING = rb"\((?:" + _PLAIN + rb")*+\)"
for _ in range(7):
    _STRING = rb"\((?:" + _PLAIN + rb"|" + _STRING + rb")*+\)"
_STRING += rb"|<[0-9A-Fa-f\s]*+>"
_NAME = rb"/[^\s()<>\[\]{}/%]*+"
_BESIDE = rb"[^A-Za-z'\"()/<>%]++|<<|>>"  # numbers, and what holds lists and dictionaries together
_OPERATION = re.compile(
    rb"((?:" + _BESIDE + rb"|" + _STRING + rb"|" + _NAME + rb")*+)([A-Za-z'\"]++\*?+)", re.DOTALL
)
_OPERAND = re.compile(_STRING + rb"|" + _NAME + rb"|[-+.\d]++", re.DOTALL)
# these three as numbers of their letters, and \n, \t and the like, are read alike in Python and PDF
_ESCAPED = re.compile(rb"\\[\\()]")


def read_pages(content: bytes) -> list[PageObject]:
    """Return the pages of a PDF; what draws lines and areas is left out of them."""
    told = PdfReader(io.BytesIO(content))
    pages = list(told.pages)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        for page, read in zip(pages, pdf.pages, strict=True):
            read.contents_coalesce()
            stream = ContentStream(None, told)
            stream.operations = list(_operations(read.Contents.read_bytes()))
            page[NameObject("/Contents")] = stream
    return pages


def page_text(page: PageObject) -> str:
    """Return the text of a page from :func:`read_pages`."""
    # with a visitor pypdf doesn't write the operators down again, to look for text in them first
    return page.extract_text(visitor_operand_before=lambda *_: None)


def _operations(drawing: bytes) -> Iterator[tuple[list[Any], bytes]]:
    """Yield the operators of a page's drawing that text hangs on, each after its operands."""
    end = 0
    for found in _OPERATION.finditer(drawing):
        if found.start() != end:
            break
        end = found.end()
        operands, operator = found.groups()
        if operator in _ALONE:
            yield [], operator
        elif operator in _PLACING:
            yield [*map(float, operands.split())], operator
        elif operator in _OF_TEXT:
            read = [*map(_operand, _OPERAND.findall(operands))]
            yield ([ArrayObject(read)] if operator == b"TJ" else read), operator
    if drawing[end:].strip():
        raise ValueError(f"no operator with its operands: {drawing[end : end + 80]!r}")


def _operand(text: bytes) -> bytes | float | NameObject:
    """Return a string, a number or a name of a page's drawing."""
    if text.startswith(b"("):
        plain = text[1:-1]
        if b"\\" not in plain:
            return plain
        return _ESCAPED.sub(_by_number, plain).decode("unicode_escape").encode("latin-1")
    if text.startswith(b"<"):
        return bytes.fromhex(str(text[1:-1], "ascii"))
    return NameObject(str(text, "ascii")) if text.startswith(b"/") else float(text)


def _by_number(escaped: re.Match[bytes]) -> bytes:
    return b"\\%03o" % escaped[0][1]
