"""Reports on hand-made findings, made once for all tests of a file, and their text."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any
from unittest.mock import patch

from trials.render.blocks import Section, texts, walk
from trials.render.table import Table
from trials.report import Document, report_files
from trials.words.numbers import NBSP

from .made import Made, make

Scale = Any


@cache
def made(scale: Scale, **more: Any) -> Made:
    return make(scale, **more)


@cache
def told(scale: Scale, **more: Any) -> Document:
    return made(scale, **more).document()


@cache
def worded(scale: Scale, **more: Any) -> Document:
    """The report without its pictures, where only the words are looked at."""
    with without_pictures():
        return make(scale, **more).document()


@contextmanager
def without_pictures() -> Iterator[None]:
    with (
        patch("trials.render.drawing.finished", return_value=b"<svg/>"),
        patch("trials.render.dots._drawn"),
    ):
        yield


@cache
def files(scale: Scale) -> dict[str, bytes]:
    return report_files(told(scale))


def student_text(document: Document) -> str:
    return "\n".join(texts(document.parts[0].sections)).replace(NBSP, " ")


def section(document: Document, key: str) -> Section:
    return next(s for part in document.parts for s in walk(part.sections) if s.key == key)


def tables_in(document: Document, key: str) -> dict[str, Table]:
    """The tables of one section by their name."""
    blocks = section(document, key).blocks
    return {block.name: block for block in blocks if isinstance(block, Table)}


def text_of(found: Section) -> str:
    return "\n".join(texts((found,))).replace(NBSP, " ")
