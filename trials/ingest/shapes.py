"""Tables of another shape, turned into one row a reading: items side by side, and long tables.

What is turned keeps the row that each number stands in, so that a question can name it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.headings import (
    ITEM_NAMES,
    READING_NAMES,
    SEARCHED,
    UNIT_NAMES,
    Layout,
    Vocabulary,
    heading_of,
    item_column,
    layout_of,
)
from trials.ingest.storeys import joined
from trials.reduction.meanings import Meaning
from trials.reduction.table import same_name

QUANTITY_NAMES = ("quantity", "measured quantity", "measurand", "variable", "parameter", "what",
                  "Größe", "Messgröße", "grandeur")  # fmt: skip
VALUE_NAMES = ("value", "measured value", "number", "result", "Wert", "Messwert", "valeur")
_FEWEST = 2  # item codes beside each other that make a heading row of items


@dataclass(frozen=True)
class Shaped:
    """A sheet with one row a reading, what its columns are, and how it was turned.

    ``width`` counts the headings of the sheet as it stood, ``head`` is their row and ``before`` its
    lines, where it was turned. ``storeys`` tells of headings in two rows, and ``heads`` are the two
    as they stood.
    """

    sheet: Sheet
    layout: Layout
    note: str = ""
    head: int = 0
    width: int = 0
    storeys: str = ""
    before: tuple[Line, ...] = ()
    heads: tuple[Line, ...] = ()


def shaped(sheet: Sheet, words: Vocabulary) -> Shaped | None:
    """Return a sheet with one row a reading; None where it has no heading row of any shape."""
    sheet, storeys, heads = joined(sheet, words)
    layout = layout_of(sheet, words, guess=bool(storeys))  # all names may be joined
    if layout is not None and (layout.raw or storeys):
        return Shaped(sheet, layout, storeys=storeys, heads=heads)
    for turned in (_long(sheet, words), _across(sheet, words)):
        if turned is not None:
            made, note, head = turned
            found = layout_of(made, words)
            if found is not None and (found.raw or layout is None):
                return Shaped(made, found, note, head.number, len(head.cells), before=sheet.lines)
    layout = layout or layout_of(sheet, words, guess=True)
    return None if layout is None else Shaped(sheet, layout)


# ---- one number a row ------------------------------------------------------------------------


def _named(line: Line, names: Sequence[str]) -> int | None:
    wanted = {same_name(name) for name in names}
    return next((i for i, cell in enumerate(line.cells) if same_name(cell.text) in wanted), None)


def _long(sheet: Sheet, words: Vocabulary) -> tuple[Sheet, str, Line] | None:
    """Return a table of item, quantity and value with one row a reading."""
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        item = item_column(line, words)
        quantity, value = _named(line, QUANTITY_NAMES), _named(line, VALUE_NAMES)
        if item is None or quantity is None or value is None:
            continue
        unit = _named(line, UNIT_NAMES)
        table = _LongTable(line, (item, quantity, value, unit), words)
        for below in sheet.lines[place + 1 :]:
            if not below.empty and below.cells != line.cells:
                table.add(below)
        note = (
            f"Each number has a row of its own ('{line.at(quantity).text}', "
            f"'{line.at(value).text}'): rows of the same item were put together into readings."
        )
        return Sheet(sheet.name, (*sheet.lines[:place], *table.lines())), note, line
    return None


class _LongTable:
    """Puts the rows of a long table together, in the order in which readings begin."""

    def __init__(self, head: Line, at: tuple[int, int, int, int | None], words: Vocabulary) -> None:
        self._head = head
        self._item, self._quantity, self._value, self._unit = at
        self._words = words
        self._reading = _named(head, READING_NAMES)
        self._others = [
            index
            for index, cell in enumerate(head.cells)
            if cell.text and index not in (*at, self._reading)
        ]
        self._names: dict[str, str] = {}  # quantity -> heading
        self._stated: dict[str, list[bool]] = {}  # heading -> whether each number had a unit
        self._readings: dict[tuple[str, str, int], tuple[Line, dict[str, Raw]]] = {}
        self._rows: dict[tuple[str, str, int], list[Line]] = {}
        self._seen: Counter[tuple[str, str, str]] = Counter()  # item, reading, quantity

    def add(self, line: Line) -> None:
        """Take in one row; the n-th number of a quantity belongs to the n-th reading."""
        said, value = line.at(self._quantity).text, line.at(self._value)
        code = line.at(self._item).text
        heading = (
            heading_of(said, 0, self._words.columns, _quantity(said, self._words)) if said else None
        )
        unit = line.at(self._unit).text.strip("()[] ")
        unit = unit or (heading.unit if heading is not None and heading.stated else "")
        name = heading.column.name if heading is not None else said
        number = line.at(self._reading).text
        count = self._seen[code, number, name] if name else 0
        self._seen[code, number, name] += 1
        key = (code, number, count)
        _, cells = self._readings.setdefault(key, (line, {}))
        self._rows.setdefault(key, []).append(line)
        if name:
            shown = heading.column.header if heading is not None else said
            self._names.setdefault(name, shown)
            self._stated.setdefault(name, []).append(bool(unit))
            cells[name] = replace(value, unit=unit, row=line.number)

    def lines(self) -> list[Line]:
        """Return the heading row and one line a reading."""
        names = list(self._names)
        heads = [self._names[name] if all(self._stated[name]) else name for name in names]
        kept = [self._item, *([] if self._reading is None else [self._reading]), *self._others]
        first = [self._head.at(index) for index in kept]
        lines = [replace(self._head, cells=(*first, *map(Raw, heads)))]
        for key, (line, cells) in self._readings.items():
            beside = [self._joined(self._rows[key], index) for index in kept]
            numbers = [cells.get(name, Raw("")) for name in names]
            lines.append(replace(line, cells=(*beside, *numbers)))
        return lines

    def _joined(self, rows: Sequence[Line], index: int) -> Raw:
        """Return what the rows of a reading say in a column; different words one after another."""
        said = list(dict.fromkeys(row.at(index).text for row in rows if row.at(index).text))
        return (
            rows[0].at(index) if len(said) < 2 and rows[0].at(index).text else Raw("; ".join(said))
        )


# ---- items side by side ----------------------------------------------------------------------


def _across(sheet: Sheet, words: Vocabulary) -> tuple[Sheet, str, Line] | None:
    """Return a table whose columns are items with rows and columns exchanged."""
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        items = [
            index
            for index, cell in enumerate(line.cells)
            if index and cell.text.casefold() in words.codes
        ]
        if len(items) < _FEWEST:
            continue
        unit = _named(line, UNIT_NAMES)
        last = max(items)
        below = [one for one in sheet.lines[place + 1 :] if not one.empty]
        columns = [
            index
            for index in range(1, max(len(one.cells) for one in (line, *below)))
            if index != unit
            and (index <= last or any(one.at(index).text for one in (line, *below)))
        ]
        heads = [_with_unit(one, unit) for one in below]
        if not any(heading_of(head, 0, words.columns, _quantity(head, words)) for head in heads):
            continue
        top = replace(line, cells=(Raw(ITEM_NAMES[0]), *map(Raw, heads)))
        made = [
            replace(
                line,
                cells=(line.at(index), *(replace(one.at(index), row=one.number) for one in below)),
            )
            for index in columns
        ]
        note = (
            f"The items stand side by side in row {line.number}: each column was read as one "
            "reading of its item."
        )
        return Sheet(sheet.name, (*sheet.lines[:place], top, *made)), note, line
    return None


def _quantity(text: str, words: Vocabulary) -> Meaning | None:
    meaning = words.meaning(text) if text else None
    return meaning if meaning is not None and meaning.kind == "quantity" else None


def _with_unit(line: Line, unit: int | None) -> str:
    name, said = line.at(0).text, line.at(unit).text.strip("()[] ")
    return f"{name} ({said})" if name and said else name
