"""A document drawn as one self-contained HTML page.

The page needs no network: pictures are inside it, letters are those of the reader's machine. It is
made for WCAG 2.2 AA: one heading of each kind in order, landmarks, a way past the contents, tables
with captions and row and column headings, pictures with words, text that reflows. On a phone each
row of a wide table becomes a list of its own, every cell with its heading beside it.
"""

from __future__ import annotations

import base64
import importlib.resources
from collections.abc import Iterable
from functools import lru_cache

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup, escape

from trials.render.blocks import (
    Block,
    Bullets,
    Document,
    Figure,
    Lines,
    Paragraph,
    Part,
    Remark,
    Section,
    Terms,
)
from trials.render.table import Table, right_aligned, shown
from trials.words.language import language, say

NARROW = 3  # columns that a phone has room for side by side


def html_page(document: Document) -> str:
    """Return the document as the text of an HTML file."""
    body = _lines(_under_heading(part, 2, _part(part)) for part in document.parts)
    return _shell().render(
        lang=language(),
        title=document.title,
        subtitle=document.subtitle,
        note=document.note,
        parts=document.parts,
        foot=document.foot,
        body=body,
        skip=say("Skip to the text"),
        contents=say("Contents"),
    )


@lru_cache(maxsize=1)
def _shell() -> Template:
    text = importlib.resources.files("trials.render").joinpath("page.html").read_text("utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined).from_string(text)


def _lines(parts: Iterable[Markup]) -> Markup:
    return Markup("\n").join(parts)


def _part(part: Part) -> Markup:
    intro = Markup("<p>{}</p>").format(part.intro) if part.intro else Markup("")
    return _lines((intro, *(_section(section, 3) for section in part.sections)))


def _section(section: Section, level: int) -> Markup:
    inner = (_section(below, level + 1) for below in section.sections)
    return _under_heading(section, level, _lines((*map(_block, section.blocks), *inner)))


def _under_heading(named: Part | Section, level: int, inner: Markup) -> Markup:
    # parts are places that a screen reader lists; sections, of which many are named alike, are not
    more = Markup(' aria-labelledby="{}-title"').format(named.key) if level == 2 else Markup("")
    if isinstance(named, Section) and named.page:
        more = Markup(' class="page"')
    return Markup('<section id="{0}"{1}>\n<h{2} id="{0}-title">{3}</h{2}>\n{4}\n</section>').format(
        named.key, more, level, named.title, inner
    )


def _block(block: Block) -> Markup:
    match block:
        case Paragraph():
            return _paragraph(block)
        case Bullets():
            return _bullets(block)
        case Remark():
            inner = _lines(map(_block, block.body))
            return Markup('<div class="remark {}">\n<p>{}</p>\n{}\n</div>').format(
                block.kind, block.title, inner
            )
        case Terms():
            entries = Markup("\n").join(
                Markup("<dt>{}</dt><dd>{}</dd>").format(word, gloss)
                for word, gloss in block.entries
            )
            return Markup("<dl>\n{}\n</dl>").format(entries)
        case Table():
            return _table(block)
        case Figure() | Lines():
            return _figure(block) if isinstance(block, Figure) else _room(block)


def _room(block: Lines) -> Markup:
    rule = Markup('<div class="rule" aria-hidden="true"></div>\n')
    return Markup("<div>\n<p>{}:</p>\n{}</div>").format(block.label, rule * block.count)


def _paragraph(block: Paragraph) -> Markup:
    if block.lead:
        return Markup("<p><strong>{}</strong> {}</p>").format(block.opening, block.text)
    return Markup("<p>{}</p>").format(block.text)


def _bullets(block: Bullets) -> Markup:
    items = Markup("\n").join(Markup("<li>{}</li>").format(item) for item in block.items)
    tag = Markup("ol") if block.numbered else Markup("ul")
    return Markup("<{0}>\n{1}\n</{0}>").format(tag, items)


def _figure(figure: Figure) -> Markup:
    picture = base64.b64encode(figure.svg).decode("ascii")
    return Markup(
        '<figure id="figure-{name}">\n'
        '<img src="data:image/svg+xml;base64,{picture}" alt="{alt}">\n'
        "<figcaption>{caption}</figcaption>\n</figure>\n"
        "<details><summary>{behind}</summary>\n{data}\n</details>"
    ).format(
        name=figure.name,
        picture=picture,
        alt=figure.alt,
        caption=figure.caption,
        behind=say("The numbers behind this figure"),
        data=_table(figure.data, within=f"figure-{figure.name}"),
    )


def _table(table: Table, within: str = "table") -> Markup:
    key = f"{within}-{table.name}"
    head = Markup("").join(
        Markup('<th scope="col"{}>{}</th>').format(_side(right_aligned(column)), column.heading)
        for column in table.columns
    )
    rows = _rows(table)
    notes = Markup("").join(
        Markup('\n<p class="table-note">{}</p>').format(note) for note in table.notes
    )
    return Markup(
        '<div class="scroll{stack}" role="group" aria-labelledby="{key}" tabindex="0">\n'
        '<table>\n<caption id="{key}">{caption}</caption>\n'
        "<thead><tr>{head}</tr></thead>\n"
        "<tbody>\n{rows}</tbody>\n</table>\n</div>{notes}"
    ).format(
        stack=" stack" if len(table.columns) > NARROW else "",
        key=key,
        caption=table.caption,
        head=head,
        rows=rows,
        notes=notes,
    )


def _rows(table: Table) -> Markup:
    """Return the rows of a table's body; marks are made once a column: rows may be thousands."""
    wide = len(table.columns) > NARROW
    marks = []
    for column in table.columns:
        side = _side(right_aligned(column))
        told = Markup(' data-heading="{}"').format(column.heading) if wide else Markup("")
        head = f'<th scope="row"{side}{told}>', "</th>"
        marks.append((head, (f"<td{side}{told}>", "</td>")))
    cells: list[str] = []  # not joined as marked text: that would go through every cell again
    for row in shown(table):
        cells.append("<tr>")
        for index, ((head, plain), text) in enumerate(zip(marks, row, strict=True)):
            start, end = head if index < table.heads and text != "" else plain
            cells += (start, escape(text), end)
        cells.append("</tr>\n")
    return Markup("".join(cells))  # noqa: S704  # every cell is escaped above


def _side(right: bool) -> Markup:
    return Markup(' class="right"') if right else Markup("")
