"""What a written document is made of, apart from how it is drawn.

A document has parts, a part has sections, a section has blocks and further sections. HTML, typeset
pages and plain text draw the same value.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from trials.render.later import Drawing
from trials.render.table import Table, shown
from trials.render.typeset import picture_png

DPI: Final = 200  # of a picture as PNG
_SMALLER: Final = 0.86  # letters of 8 points are then about as large as those of the foot


@dataclass(frozen=True)
class Figure:
    """A finished picture with everything that must go with it.

    Parameters
    ----------
    name : short name, also of its files.
    picture : as SVG, or what to draw; letters in it are shapes, so it needs no font.
    alt : what the picture shows, in words and numbers, for those who can't see it.
    caption : the text below it.
    data : the numbers behind it.
    share : how much of the page's width it takes on paper.
    """

    name: str
    picture: bytes | Drawing
    alt: str
    caption: str
    data: Table
    share: float = 1.0

    def smaller(self) -> Figure:
        """Return the same, smaller on paper: one that stands beside the main thing."""
        return replace(self, share=_SMALLER)

    @property
    def svg(self) -> bytes:
        """The picture as SVG: the same bytes for the same picture."""
        return self.picture if isinstance(self.picture, bytes) else self.picture.svg()

    @property
    def png(self) -> bytes:
        """The picture as PNG, made when it is asked for: the same bytes for the same picture."""
        return picture_png(self.svg, DPI)


@dataclass(frozen=True)
class Paragraph:
    """Running text, with a lead-in that stands out ("What mattered")."""

    text: str
    lead: str = ""

    @property
    def opening(self) -> str:
        """The lead-in with the sign that parts it from the text; "" without one."""
        if not self.lead or self.lead.endswith("?"):
            return self.lead
        return f"{self.lead}:"


@dataclass(frozen=True)
class Bullets:
    """A list; ``numbered`` where the order counts."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True)
class Remark:
    """A framed remark: the answer, a note, or a caution."""

    kind: Literal["answer", "note", "caution"]
    title: str
    body: tuple[Paragraph | Bullets, ...]


@dataclass(frozen=True)
class Terms:
    """Words with their meaning."""

    entries: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Lines:
    """Ruled room for a person to write on paper: so many lines, with a label above them."""

    count: int
    label: str


Block = Paragraph | Bullets | Remark | Terms | Table | Figure | Lines


@dataclass(frozen=True)
class Section:
    """A heading with what stands below it. ``key`` is its anchor.

    ``together``: on paper its own blocks stay on one page, where they fit.
    ``page``: on paper it begins a page of its own.
    """

    key: str
    title: str
    blocks: tuple[Block, ...]
    sections: tuple[Section, ...] = ()
    together: bool = False
    page: bool = False


@dataclass(frozen=True)
class Part:
    """A part of a document for one kind of reader."""

    key: str
    title: str
    intro: str
    sections: tuple[Section, ...]


@dataclass(frozen=True)
class Document:
    """A whole document.

    Parameters
    ----------
    title, subtitle : heading, and the line below it.
    note : printed on every page ("invented school and data"); "" if there is none.
    foot : short facts for the foot of every page (version, date, check code).
    parts : in the order of reading.
    data : tables that belong to the document as files but are not all shown in it.
    """

    title: str
    subtitle: str
    note: str
    foot: tuple[str, ...]
    parts: tuple[Part, ...]
    data: tuple[Table, ...] = ()


def walk(sections: tuple[Section, ...]) -> Iterator[Section]:
    """Give every section and the sections within it, in the order of reading."""
    for section in sections:
        yield section
        yield from walk(section.sections)


def figures(document: Document) -> tuple[Figure, ...]:
    """Return the figures of a document in the order of reading."""
    return tuple(
        block
        for part in document.parts
        for section in walk(part.sections)
        for block in section.blocks
        if isinstance(block, Figure)
    )


def tables_of(document: Document, part: str) -> tuple[Table, ...]:
    """Return the tables of a part, by its key, in the order of reading; none without that part."""
    return tuple(
        block
        for one in document.parts
        if one.key == part
        for section in walk(one.sections)
        for block in section.blocks
        if isinstance(block, Table)
    )


def texts(sections: tuple[Section, ...]) -> Iterator[str]:
    """Give every piece of text that a reader meets in these sections, tables and captions too."""
    for section in walk(sections):
        yield section.title
        for block in section.blocks:
            yield from filter(None, _texts_of(block))


def _texts_of(block: Block) -> Iterator[str]:
    match block:
        case Paragraph():
            yield from (block.lead, block.text)
        case Bullets():
            yield from block.items
        case Remark():
            yield block.title
            for inner in block.body:
                yield from _texts_of(inner)
        case Terms():
            yield from (text for entry in block.entries for text in entry)
        case Figure():
            yield from (block.caption, block.alt)
        case Lines():
            yield block.label
        case Table():
            yield block.caption
            yield from (column.heading for column in block.columns)
            yield from (cell for row in shown(block) for cell in row)
            yield from block.notes
