"""A document drawn as a tagged PDF: the blocks become data for one page pattern."""

from __future__ import annotations

from typing import Any

from trials.render import typeset
from trials.render.blocks import (
    Block,
    Bullets,
    Document,
    Figure,
    Lines,
    Paragraph,
    Remark,
    Section,
    Terms,
    figures,
)
from trials.render.table import Table, to_data
from trials.words.language import language


def document_pdf(document: Document, paper: typeset.Paper = "a4") -> bytes:
    """Return the document as a PDF (PDF/UA-1); the same document gives the same bytes."""
    return typeset.pdf(
        typeset.template("document.typ"),
        _data(document),
        title=document.title,
        files={figure_file(figure): figure.svg for figure in figures(document)},
        paper=paper,
        lang=language(),
    )


def _data(document: Document) -> dict[str, Any]:
    note = (document.note,) if document.note else ()
    return {
        "title": document.title,
        "subtitle": document.subtitle,
        "note": document.note,
        "foot": [*note, *document.foot],
        "parts": [
            {
                "title": part.title,
                "intro": part.intro,
                "sections": [_section(section) for section in part.sections],
            }
            for part in document.parts
        ],
    }


def _section(section: Section) -> dict[str, Any]:
    return {
        "title": section.title,
        "together": section.together,
        "page": section.page,
        "blocks": [block_data(block) for block in section.blocks],
        "sections": [_section(inner) for inner in section.sections],
    }


def figure_file(figure: Figure) -> str:
    """Return the name by which a page's pattern finds a figure."""
    return f"{figure.name}.svg"


def block_data(block: Block) -> dict[str, Any]:
    """Return a block as plain values for a page's pattern."""
    match block:
        case Paragraph():
            return {"kind": "paragraph", "lead": block.opening, "text": block.text}
        case Bullets():
            return {"kind": "list", "items": list(block.items), "numbered": block.numbered}
        case Remark():
            return {
                "kind": "remark",
                "title": block.title,
                "warn": block.kind == "caution",
                "body": [block_data(inner) for inner in block.body],
            }
        case Terms():
            return {"kind": "terms", "entries": [list(entry) for entry in block.entries]}
        case Table() | Lines():
            return _laid_out(block)
        case Figure():
            return {
                "kind": "figure",
                "file": figure_file(block),
                "alt": block.alt,
                "share": block.share,
                "caption": block.caption,
            }


def _laid_out(block: Table | Lines) -> dict[str, Any]:
    if isinstance(block, Lines):
        return {"kind": "lines", "count": block.count, "label": block.label}
    return {"kind": "table", "table": to_data(block)}
