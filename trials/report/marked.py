"""Markdown as people write it, taken apart into headings and blocks; results in braces are kept.

Only what a board needs is known: headings, paragraphs with a bold beginning, and lists. Anything
else is printed as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from trials.errors import TextError
from trials.render.blocks import Bullets, Paragraph
from trials.report.edited import BRACES, without_notes
from trials.words.edited import ALLOWED_HEADING, DO_HEADING, WHAT_HEADING
from trials.words.language import say

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
    """A heading with what stands below it: plain blocks, and results that stand alone.

    ``line`` is where the heading stands, 0 for what comes before the first one.
    """

    title: str
    blocks: tuple[Paragraph | Bullets | Braces, ...]
    line: int = 0


def taken_apart(text: str, inline: Callable[[Braces], str | None]) -> tuple[Marked, ...]:
    """Return a text by its headings of the first and second level.

    ``inline`` gives the words of what stands within a sentence, None for what stands alone; in a
    heading that comes first below it. What comes before the first heading has the title "".

    Examples
    --------
    >>> taken_apart("# Tea\\n**So:** strong {{care}}.", lambda braces: "1 mW")
    (Marked(title='Tea', blocks=(Paragraph(text='strong 1 mW.', lead='So'),), line=1),)
    """
    kept: list[Braces] = []
    breaks: list[int] = []

    def keep(match: re.Match[str]) -> str:
        kept.append(Braces(match[1], " ".join((match[2] or "").split())))
        breaks.append(match[0].count("\n"))
        return f"\x00{len(kept) - 1}\x00"

    bare = BRACES.sub(keep, without_notes(text).replace("\x00", "").replace("\r\n", "\n"))
    title, at, gone = "", 0, 0
    first, lines = list[Braces](), list[str]()
    out: list[Marked] = []
    for place, line in enumerate([*bare.split("\n"), "# "], start=1):
        heading = _HEADING.match(line)
        if heading:
            blocks = (*first, *_blocks(lines, kept, inline))
            if title or blocks:
                out.append(Marked(title, blocks, at))
            pieces = list(_pieces(heading[1] or "", kept, inline))
            first = [one for one in pieces if isinstance(one, Braces)]
            title, at, lines = _said(pieces), place + gone, []
        else:
            lines.append(line)
        gone += sum(breaks[int(mark)] for mark in _KEPT.findall(line))
    return tuple(out)


def refuse_empty_headings(name: str, parts: Sequence[Marked]) -> None:
    """Refuse a heading without words, which can't be the beginning of anything.

    Raises
    ------
    TextError : there is one.
    """
    for part in parts:
        if part.line and not part.title:
            raise TextError(
                say(WHAT_HEADING, name=name),
                code="report.heading",
                where=say("{name}, line {line}", name=name, line=part.line),
                allowed=say(ALLOWED_HEADING),
                do=say(DO_HEADING),
            )


def _blocks(
    lines: Sequence[str], kept: Sequence[Braces], inline: Callable[[Braces], str | None]
) -> Iterator[Paragraph | Bullets | Braces]:
    for kind, texts in _runs(lines):
        if kind == "text":
            yield from _paragraph(" ".join(texts), kept, inline)
            continue
        pieces = [list(_pieces(text, kept, inline)) for text in texts]
        items = tuple(filter(str.strip, map(_said, pieces)))
        if items:
            yield Bullets(items, numbered=kind == "ordered")
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
    rest, opening = text, ""
    lead = _LEAD.match(text)
    if lead:
        pieces = list(_pieces(lead[1] or "", kept, inline))
        rest, opening = text[lead.end() :], _said(pieces)
        if opening.endswith((".", "!")) or any(isinstance(one, Braces) for one in pieces):
            rest, opening = f"{lead[1]} {rest}", ""  # a sentence of its own is no lead-in
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


def _said(pieces: Sequence[str | Braces]) -> str:
    """Return the words of the pieces; stars and lines that stood around a result alone go."""
    words = _plain("".join(one for one in pieces if isinstance(one, str)))
    return words if words.strip("*_ ") else ""


def _plain(text: str) -> str:
    """Return words without the stars of bold and slanted letters."""
    return re.sub(r"(?<!\w)(\*\*|__|\*|_)(?=\S)(.+?)(?<=\S)\1(?!\w)", r"\2", text.strip())
