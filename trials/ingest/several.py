"""Several tables on one sheet, beside or below each other, each with headings of its own."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.headings import Vocabulary, item_column
from trials.ingest.shapes import Shaped, shaped
from trials.ingest.storeys import joined, quantities_in
from trials.reduction.table import same_name


def tables_on(sheet: Sheet, words: Vocabulary, codes: Collection[str]) -> list[Shaped]:
    """Return the tables of a sheet with one row a reading; none where it has no heading row.

    Parameters
    ----------
    codes : of the plan, in small letters.
    """
    first = shaped(sheet, words)
    if first is None:
        return []
    if first.note:
        return [first]
    beside = _beside(first, words)
    if len(beside) > 1:
        found = [shaped(part, words) for part in beside]
        tables = [one for one in found if one is not None and one.layout.raw]
        if len(tables) == len(beside):
            return [below for one in tables for below in _below(one, words, codes)]
    return _below(first, words, codes)


def _beside(first: Shaped, words: Vocabulary) -> list[Sheet]:
    """Return the parts of a sheet that begin with a column of items each, where names are doubled.

    A second column of items over the same readings is not the beginning of another table.
    """
    head = first.layout.line
    items = [
        index
        for index, cell in enumerate(head.cells)
        if cell.text and item_column(Line(head.number, (cell,)), words) is not None
    ]
    names = [(one.column.name, one.number) for one in first.layout.raw]
    if len(items) < 2 or len(set(names)) == len(names):
        return [first.sheet]
    ends = [*items[1:], max(len(line.cells) for line in first.sheet.lines)]
    starts = [0, *items[1:]]
    return [
        replace(
            first.sheet,
            lines=tuple(
                replace(line, cells=(*[Raw("")] * start, *line.cells[start:end]))
                for line in first.sheet.lines
                if len(line.cells) > start
            ),
        )
        for start, end in zip(starts, ends, strict=True)
    ]


def _below(table: Shaped, words: Vocabulary, codes: Collection[str]) -> list[Shaped]:
    """Return a table as far as other headings follow, and what stands below them likewise."""
    found: list[Shaped] = []
    while True:
        lines = table.sheet.lines
        start = lines.index(table.layout.line) + 1
        at = _other_headings(table, start, words, codes)
        next_table = None if at is None else _from(table.sheet, at, start, words)
        if next_table is None:
            return [*found, table]
        end, below = next_table
        found.append(replace(table, sheet=replace(table.sheet, lines=lines[:end])))
        table = below


def _from(sheet: Sheet, at: int, start: int, words: Vocabulary) -> tuple[int, Shaped] | None:
    """Return where a table with headings in one line begins, and the table.

    It begins in the line above, where that belongs to the headings and stands below the headings of
    the table before, which end at ``start``.
    """
    both = shaped(replace(sheet, lines=sheet.lines[at - 1 :]), words) if at > start else None
    if both is not None and both.storeys and both.layout.line.number == sheet.lines[at].number:
        return at - 1, both
    below = shaped(replace(sheet, lines=sheet.lines[at:]), words)
    return None if below is None or below.note or not below.layout.raw else (at, below)


def _other_headings(
    table: Shaped, start: int, words: Vocabulary, codes: Collection[str]
) -> int | None:
    """Return the place of the first line that names items and quantities otherwise.

    Of headings in two rows the lower one may come again below others.
    """
    layout, lines = table.layout, table.sheet.lines
    head, *heads = [_words(line) for line in (layout.line, *table.heads)]
    for place in range(start, len(lines)):
        line = lines[place]
        if (
            line.at(layout.item).text.casefold() not in codes
            and not any(cell.text[:1].isdecimal() for cell in line.cells)
            and item_column(line, words) is not None
            and quantities_in(line, words)
            and (said := _words(line)) != head
        ):
            before = lines[place - 1]
            if said not in heads or (
                place > start
                and _words(before) not in heads
                and joined(Sheet("", (before, line)), words)[1]
            ):
                return place
    return None


def _words(line: Line) -> list[str]:
    return [same_name(cell.text) for cell in line.cells]
