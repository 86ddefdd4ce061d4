"""A document drawn as plain lines, for a terminal or a mail."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

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
)
from trials.render.table import Table, to_text
from trials.words.language import say


def plain_lines(document: Document, width: int = 88) -> list[str]:
    """Return the document as lines no longer than ``width``, but for wide tables."""
    lines = [*_wrapped(document.title, width), "=" * min(len(document.title), width)]
    for text in (document.subtitle, document.note):
        lines += _wrapped(text, width)
    for part in document.parts:
        lines += ["", "", *_wrapped(part.title.upper(), width)]
        lines += _wrapped(part.intro, width)
        for section in part.sections:
            lines += _section(section, width, "-")
    return [*lines, "", *_wrapped(" · ".join(document.foot), width)]


def _wrapped(text: str, width: int, first: str = "", then: str = "") -> list[str]:
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then)


def _section(section: Section, width: int, rule: str) -> Iterator[str]:
    yield ""
    yield from _wrapped(section.title, width)
    yield rule * min(len(section.title), width)
    for index, block in enumerate(section.blocks):
        if index:
            yield ""
        yield from _block(block, width)
    for inner in section.sections:
        yield from _section(inner, width, ".")


def _block(block: Block, width: int) -> list[str]:
    match block:
        case Paragraph():
            return _wrapped(f"{block.opening} {block.text}".strip(), width)
        case Bullets():
            lines = []
            for index, item in enumerate(block.items, start=1):
                sign = f"{index}. " if block.numbered else "- "
                lines += _wrapped(item, width, sign, " " * len(sign))
            return lines
        case Remark():
            inner = [line for part in block.body for line in _block(part, width - 2)]
            return [*_wrapped(block.title, width), *(f"| {line}" for line in inner)]
        case Terms():
            return [
                line
                for word, gloss in block.entries
                for line in _wrapped(f"{word}: {gloss}", width, "", "  ")
            ]
        case Table():
            return to_text(block, width)
        case Lines() | Figure():
            if isinstance(block, Lines):
                text, rules = f"{block.label}:", block.count
            else:
                text, rules = (
                    say(
                        "[Figure {name}] {caption} {alt}",
                        name=block.name,
                        caption=block.caption,
                        alt=block.alt,
                    ),
                    0,
                )
            return [*_wrapped(text, width), *["_" * width] * rules]
