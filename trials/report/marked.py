"""Markdown as people write it, taken apart into headings and blocks; results in braces are kept.

Only what a board needs is known: headings, paragraphs with a bold beginning, and lists. Anything
else is printed as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from trials.render.blocks import Bullets, Paragraph
from trials.report.edited import BRACES, without_notes

_HEADING: Final = re.compile(r"^##?(?!#)\s*(.*?)\s*$")
_LEAD: Final = re.compile(r"^\*\*([^*]+?):?\*\*:?\s*")
_ITEM: Final = re.compile(r"^\s{0,3}[-*+]\s+")
_ORDERED: Final = re.compile(r"^\s{0,3}\d+[.)]\s+")
_KEPT: Final = re.compile(r"\x00(\d+)\x00")


@dataclass(frozen=True)
class Braces:
    """A result or a picture by its key, with what a person wrote after it."""

    key: str
    said: str


@dataclass(frozen=True)
class Marked:
    """A heading with what stands below it: plain blocks, and results that stand alone."""

    title: str
    blocks: tuple[Paragraph | Bullets | Braces, ...]


def taken_apart(text: str, inline: Callable[[Braces], str | None]) -> tuple[Marked, ...]:
    """Return a text by its headings of the first and second level.

    ``inline`` gives the words of what stands within a sentence, None for what stands alone. What
    comes before the first heading has the title "".

    Examples
    --------
    >>> taken_apart("# Tea\\n**So:** strong {{care}}.", lambda braces: "1 mW")
    (Marked(title='Tea', blocks=(Paragraph(text='strong 1 mW.', lead='So'),)),)
    """
    kept: list[Braces] = []

    def keep(match: re.Match[str]) -> str:
        kept.append(Braces(match[1], " ".join((match[2] or "").split())))
        return f"\x00{len(kept) - 1}\x00"

    bare = BRACES.sub(keep, without_notes(text).replace("\x00", "").replace("\r\n", "\n"))
    title, lines = "", list[str]()
    out: list[Marked] = []
    for line in [*bare.split("\n"), "# "]:
        heading = _HEADING.match(line)
        if not heading:
            lines.append(line)
            continue
        blocks = tuple(_blocks(lines, kept, inline))
        if title or blocks:
            out.append(Marked(title, blocks))
        said = [one for one in _pieces(heading[1] or "", kept, inline) if isinstance(one, str)]
        title, lines = _plain("".join(said)), []
    return tuple(out)


def _blocks(
    lines: Sequence[str], kept: Sequence[Braces], inline: Callable[[Braces], str | None]
) -> Iterator[Paragraph | Bullets | Braces]:
    for kind, texts in _runs(lines):
        if kind == "text":
            yield from _paragraph(" ".join(texts), kept, inline)
            continue
        pieces = [list(_pieces(text, kept, inline)) for text in texts]
        items = ["".join(one for one in item if isinstance(one, str)) for item in pieces]
        yield Bullets(tuple(map(_plain, filter(str.strip, items))), numbered=kind == "ordered")
        for item in pieces:  # what stands alone can't stand within a list: it comes after
            yield from (one for one in item if isinstance(one, Braces))


def _runs(lines: Sequence[str]) -> Iterator[tuple[str, list[str]]]:
    """Give paragraphs and lists as their kind and their lines, those that go on joined."""
    kind, run = "", list[str]()
    for line in [*lines, ""]:
        item = "list" if _ITEM.match(line) else "ordered" if _ORDERED.match(line) else ""
        heading = line.startswith("###")
        if not line.strip() or heading or (item and kind != item):
            if run:
                yield kind, run
            kind, run = "", []
        if heading:
            yield "text", [f"**{line.lstrip('#').strip()}**"]
        elif item:
            kind = item
            run.append((_ITEM if item == "list" else _ORDERED).sub("", line).strip())
        elif line.strip() and run and kind != "text":
            run[-1] += f" {line.strip()}"
        elif line.strip():
            kind = "text"
            run.append(line.strip())


def _paragraph(
    text: str, kept: Sequence[Braces], inline: Callable[[Braces], str | None]
) -> Iterator[Paragraph | Braces]:
    lead = _LEAD.match(text)
    rest, opening = (text[lead.end() :], lead[1]) if lead else (text, "")
    said = ""
    for piece in [*_pieces(rest, kept, inline), None]:
        if isinstance(piece, str):
            said += piece
            continue
        if said.strip() or opening:
            yield Paragraph(_plain(said), opening)
        said, opening = "", ""
        if piece is not None:
            yield piece


def _pieces(
    text: str, kept: Sequence[Braces], inline: Callable[[Braces], str | None]
) -> Iterator[str | Braces]:
    """Give the words of a text, results within a sentence filled in, and what stands alone."""
    at = 0
    for match in _KEPT.finditer(text):
        yield text[at : match.start()]
        braces = kept[int(match[1])]
        words = inline(braces)
        yield braces if words is None else words
        at = match.end()
    yield text[at:]


def _plain(text: str) -> str:
    """Return words without the stars of bold and slanted letters."""
    return re.sub(r"(?<!\w)(\*\*|__|\*|_)(?=\S)(.+?)(?<=\S)\1(?!\w)", r"\2", text.strip())
