"""What is read off pages the quick way is what pypdf reads by itself."""

from __future__ import annotations

import io
from typing import Any

import pytest
from pypdf import PageObject, PdfReader

from tests.kept import REPORTS
from tests.page_text import page_text, read_pages
from trials.render.typeset import pdf


def places(page: PageObject) -> list[tuple[Any, ...]]:
    """Return each piece of text with where it stands and how large it is."""
    found: list[tuple[Any, ...]] = []
    page.extract_text(
        visitor_text=lambda text, cm, tm, _, size: found.append((text, [*cm], [*tm], size))
    )
    return found


@pytest.mark.parametrize("name", ["board", "judge", "teacher"])
def test_the_pages_of_a_report_say_the_same(name: str) -> None:
    content = (REPORTS / "cells" / "report" / f"{name}.pdf").read_bytes()
    alone = PdfReader(io.BytesIO(content)).pages
    pages = read_pages(content)
    assert len(pages) == len(alone)
    for page, own in zip(pages, alone, strict=True):
        assert page_text(page) == own.extract_text()
        assert places(page) == places(own)


def test_a_page_without_text_says_nothing() -> None:
    (page,) = read_pages(pdf("#show: sheet\n#rect()", {}, title="Nothing"))
    (alone,) = PdfReader(io.BytesIO(pdf("#show: sheet\n#rect()", {}, title="Nothing"))).pages
    assert page_text(page) == alone.extract_text()
