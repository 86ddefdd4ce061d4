"""Finding the heading row of a sheet and what each column is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from trials.errors import IngestError
from trials.ingest.grid import Line, Raw, Sheet
from trials.quantities import convertible, headings, nice, same
from trials.reduction import Column, columns_of
from trials.reduction.table import same_name

if TYPE_CHECKING:
    from trials.design.values import Plan
    from trials.study.values import Study

_NUMBERED = re.compile(r"[\s_#.-]*\d{1,2}\Z")
_SEARCHED = 60  # lines in which the heading row must stand

ITEM_NAMES = ("item", "item code", "code", "item no", "item number")
READING_NAMES = ("reading", "reading number", "reading no", "repeat", "repetition")
TIME_NAMES = ("time", "time (hour:minute)", "clock", "time of day")
WORKED_NAMES = ("did it work?", "did it work", "worked", "works")
NOTE_NAMES = ("note", "notes", "comment", "comments", "remark", "remarks")


@dataclass(frozen=True)
class Vocabulary:
    """The headings that a study and its plan understand."""

    columns: tuple[Column, ...]
    items: frozenset[str]
    groups: tuple[tuple[str, str], ...]  # normalised heading -> group name

    @classmethod
    def of(cls, study: Study, plan: Plan) -> Vocabulary:
        """Return the vocabulary of a study."""
        name = study.item_name
        items = (*ITEM_NAMES, name, f"{name} code", f"{name} number")
        groups = {}
        for group in plan.groups:
            groups[same_name(group.name)] = group.name
        for declared in study.groups:
            if declared.label and any(group.name == declared.name for group in plan.groups):
                groups.setdefault(same_name(declared.label), declared.name)
        return cls(
            columns_of(study.responses),
            frozenset(same_name(i) for i in items),
            tuple(groups.items()),
        )


@dataclass(frozen=True)
class Heading:
    """One raw quantity's column in a file: where it stands and the unit that its heading gives."""

    index: int
    column: Column
    unit: str  # the unit to read its numbers in
    stated: bool  # whether the heading gave it
    fits: bool  # whether it is of the kind of the column's unit
    text: str


@dataclass(frozen=True)
class Layout:
    """What each column of a sheet is."""

    line: Line  # the heading row
    item: int
    reading: int | None = None
    time: int | None = None
    worked: int | None = None
    note: int | None = None
    raw: tuple[Heading, ...] = ()
    groups: tuple[tuple[int, str], ...] = ()
    above: tuple[tuple[str, str], ...] = ()  # what the rows above it say of the groups
    unknown: tuple[str, ...] = field(default=())  # headings that mean nothing here

    @property
    def understood(self) -> int:
        """How many headings are understood, the raw quantities counting most."""
        others = (self.reading, self.time, self.worked, self.note)
        return (
            1 + sum(i is not None for i in others) + len(self.groups) + 3 * len(self.raw)
        )  # the item's own column is always there


def layout_of(sheet: Sheet, words: Vocabulary) -> Layout | None:
    """Return what the columns of a sheet are, or None where it has no heading row.

    The heading row is the first that names the item and at least one other thing.
    """
    above: list[tuple[str, str]] = []
    groups = dict(words.groups)
    for line in sheet.lines[:_SEARCHED]:
        names = [same_name(cell.text) for cell in line.cells]
        at = next((i for i, name in enumerate(names) if name in words.items), None)
        if at is not None and sum(bool(name) for name in names) > 1:
            layout = _mapped(line, at, words)
            if layout.understood > 1:
                return Layout(**{**layout.__dict__, "above": tuple(above)})
        if names and names[0] in groups and line.at(1).text:
            above.append((groups[names[0]], line.at(1).text))
    return None


def with_item(sheet: Sheet, code: str, words: Vocabulary) -> Sheet:
    """Return a sheet whose lines all belong to one item, with a column that says so.

    For a file that is named after its item. As it is where no line names one of the raw quantities.
    """
    for place, line in enumerate(sheet.lines[:_SEARCHED]):
        if any(heading_of(c.text, i, words.columns) for i, c in enumerate(line.cells) if c.text):
            head = replace(line, cells=(Raw(ITEM_NAMES[0]), *line.cells))
            below = [
                line if line.empty else replace(line, cells=(Raw(code), *line.cells))
                for line in sheet.lines[place + 1 :]
            ]
            return replace(sheet, lines=(*sheet.lines[:place], head, *below))
    return sheet


def _mapped(line: Line, item: int, words: Vocabulary) -> Layout:
    taken: dict[str, int] = {}
    raw: list[Heading] = []
    groups: list[tuple[int, str]] = []
    unknown: list[str] = []
    by_name = dict(words.groups)
    kinds = {
        "reading": READING_NAMES,
        "time": TIME_NAMES,
        "worked": WORKED_NAMES,
        "note": NOTE_NAMES,
    }
    for index, cell in enumerate(line.cells):
        if index == item or not cell.text:
            continue
        name = same_name(cell.text)
        kind = next((k for k, names in kinds.items() if name in map(same_name, names)), None)
        heading = None if kind == "reading" else heading_of(cell.text, index, words.columns)
        if heading is not None:
            raw.append(heading)
        elif kind is not None:
            taken.setdefault(kind, index)
        elif name in by_name:
            groups.append((index, by_name[name]))
        else:
            unknown.append(cell.text)
    return Layout(
        line,
        item,
        taken.get("reading"),
        taken.get("time"),
        taken.get("worked"),
        taken.get("note"),
        tuple(raw),
        tuple(groups),
        (),
        tuple(unknown),
    )


def heading_of(text: str, index: int, columns: Sequence[Column]) -> Heading | None:
    """Return the raw quantity that a heading names, with its unit; None if it names none.

    Examples
    --------
    >>> columns = (Column("light", "W/m^2"), Column("current", "mA", aliases=("I",)))
    >>> heading_of("i_uA", 2, columns)
    Heading(index=2, column=Column(name='current', ...), unit='uA', stated=True, fits=True, ...)
    >>> heading_of("current 2 (mA)", 3, columns).column.name
    'current'
    """
    ways = list(headings(text))
    ways = [way for way in ways if not (way[1] or "").isdigit()]  # a number of a reading, no unit
    ways += [(plain, unit) for name, unit in ways if (plain := _NUMBERED.sub("", name)) != name]
    for name, unit in ways:
        for column in columns:
            names = {same_name(known) for known in (column.name, *column.aliases)}
            if same_name(name) not in names:
                continue
            if unit is None or (not unit and not column.unit):
                return Heading(index, column, column.unit, False, True, text)
            fits = same(unit, column.unit) or convertible(unit, column.unit)
            return Heading(index, column, unit, True, fits, text)
    return None


def refuse_without_headings(found: str, words: Vocabulary, where: str) -> IngestError:
    """Return the error for a file without a heading row."""
    raw = ", ".join(f"'{column.header}'" for column in words.columns)
    return IngestError(
        "No heading row was found.",
        code="ingest.no_headings",
        where=where,
        found=found[:200] or "no text",
        allowed=f"a row of headings with 'item' and at least one of {raw}",
        do="Put the headings above the numbers, one column for each, and collect it again.",
    )


def refuse_columns(layout: Layout, words: Vocabulary, where: str) -> None:
    """Refuse a table in which no raw quantity, or one of them twice, has a column.

    Raises
    ------
    IngestError : it is so.
    """
    raw = ", ".join(f"'{column.header}'" for column in words.columns)
    if not layout.raw and layout.worked is None and layout.note is None:
        raise IngestError(
            "None of the columns is one of this study.",
            code="ingest.no_columns",
            where=where,
            found=", ".join(f"'{name}'" for name in layout.unknown) or "only items",
            allowed=raw,
            do="Give the columns these headings, with the unit in brackets.",
        )
    seen: dict[str, str] = {}
    for heading in layout.raw:
        if heading.column.name in seen:
            raise IngestError(
                "Two columns are the same quantity.",
                code="ingest.column_twice",
                where=where,
                found=f"'{seen[heading.column.name]}' and '{heading.text}'",
                allowed="one column for each quantity, one row for each reading",
                do="Put each reading into a row of its own, with its number under 'reading'.",
            )
        seen[heading.column.name] = heading.text


def unit_notes(layout: Layout) -> list[str]:
    """Return what was understood about units, one sentence a column where something was done."""
    notes = []
    for heading in layout.raw:
        column = heading.column
        if not heading.stated and column.unit:
            notes.append(
                f"'{heading.text}' gives no unit: its numbers are taken as {nice(column.unit)}."
            )
        elif heading.fits and not same(heading.unit, column.unit):
            notes.append(
                f"'{heading.text}' was turned from {nice(heading.unit)} into {nice(column.unit)}."
            )
    if layout.unknown:
        names = ", ".join(f"'{name}'" for name in layout.unknown)
        notes.append(f"Not needed here, and kept only in the file itself: {names}.")
    return notes
