"""The text of a PDF's pages as pypdf tells it, from operators that qpdf has read.

Taking the drawing of a page apart is most of pypdf's work, letter by letter in Python; qpdf does
the same in compiled code. So pypdf gets the operators that text hangs on as qpdf (through pikepdf)
has read them, and says what text they make. tests/test_page_text.py holds it against pypdf alone.
"""

from __future__ import annotations

import io
from typing import Any

import pikepdf
from pypdf import PageObject, PdfReader
from pypdf.generic import (
    ArrayObject,
    ByteStringObject,
    ContentStream,
    FloatObject,
    NameObject,
    NumberObject,
)

_OF_TEXT = "q Q cm BT ET Tf Td TD Tm T* TL Tc Tw Tz Tj TJ ' \" Do"


def read_pages(content: bytes) -> list[PageObject]:
    """Return the pages of a PDF; what draws lines and areas is left out of them."""
    told = PdfReader(io.BytesIO(content))
    pages = list(told.pages)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        for page, read in zip(pages, pdf.pages, strict=True):
            stream = ContentStream(None, told)
            stream.operations = [
                ([_operand(value) for value in one.operands], bytes(str(one.operator), "ascii"))
                for one in pikepdf.parse_content_stream(read, _OF_TEXT)
            ]
            page[NameObject("/Contents")] = stream
    return pages


def page_text(page: PageObject) -> str:
    """Return the text of a page from :func:`read_pages`."""
    # with a visitor pypdf doesn't write the operators down again, to look for text in them first
    return page.extract_text(visitor_operand_before=lambda *_: None)


def _operand(value: Any) -> Any:
    """Return an operand as pypdf's own reading gives it."""
    if isinstance(value, pikepdf.Array):
        return ArrayObject(map(_operand, value))
    if isinstance(value, pikepdf.String):
        return ByteStringObject(bytes(value))
    if isinstance(value, pikepdf.Name):
        return NameObject(str(value))
    return NumberObject(value) if isinstance(value, int) else FloatObject(value)
