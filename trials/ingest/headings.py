"""Finding the heading row of a sheet and what each column is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from trials.errors import IngestError
from trials.ingest.grid import Line, Raw, Sheet
from trials.ingest.heading_text import likely_quantities, numbered_heading, unit_at_end
from trials.ingest.missing import is_missing
from trials.quantities import convertible, headings, known, nice, numeral, same
from trials.record.clock import moment
from trials.reduction import Column, columns_of
from trials.reduction.meanings import Kind, Meaning, heading_key
from trials.reduction.table import same_name
from trials.words.quantity_names import quantity_names

if TYPE_CHECKING:
    from trials.design.values import Plan
    from trials.study.values import Study

SEARCHED = 60  # lines in which the heading row must stand

ITEM_NAMES = ("item", "item code", "code", "item no", "item number", "código")
READING_NAMES = ("reading", "reading number", "reading no", "repeat", "repetition", "Messung",
                 "Messung Nr", "Wiederholung", "mesure", "mesure no", "répétition",
                 "lectura n.º")  # fmt: skip
TIME_NAMES = ("time", "time (hour:minute)", "clock", "time of day", "Uhrzeit", "heure",
              "hora (hora:minuto)")  # fmt: skip
# what may also be called so, if what stands below is the time, or counts the readings of each item
CHECKED_READINGS = ("#", "no", "nr", "n°", "nº", "num", "núm", "number", "measurement",
                    "measurement number", "measurement no", "trial", "trial number", "trial no",
                    "Nummer", "Ablesung", "Ablesung Nr", "Versuch", "lectura", "lectura no",
                    "número", "número de lectura", "medición", "medida", "repetición", "ensayo",
                    "lecture", "relevé", "numéro", "essai")  # fmt: skip
CHECKED_TIMES = ("when", "hour", "clock time", "Zeit", "Zeitpunkt", "wann", "hora", "hora del día",
                 "tiempo", "cuándo", "horaire", "quand")  # fmt: skip
WORKED_NAMES = ("did it work?", "did it work", "worked", "works", "¿funcionó?")
NOTE_NAMES = ("note", "notes", "comment", "comments", "remark", "remarks", "Bemerkung",
              "Bemerkungen", "remarque", "remarques", "nota", "notas")  # fmt: skip
UNIT_NAMES = ("unit", "units", "Einheit", "Einheiten", "unité", "unités")


@dataclass(frozen=True)
class Vocabulary:
    """The headings that a study and its plan understand."""

    columns: tuple[Column, ...]
    items: frozenset[str]
    groups: tuple[tuple[str, str], ...]  # normalised heading -> group name
    declared: Mapping[str, Meaning] = field(default_factory=dict)  # [columns], by heading key
    codes: frozenset[str] = frozenset()  # of the plan, in small letters

    def meaning(self, text: str) -> Meaning | None:
        """Return what [columns] says of a heading; unit and number behind it are let be."""
        if not self.declared:
            return None
        numbered = numbered_heading(text)
        for way in (text, *([numbered[0]] if numbered else [])):
            names = (way, *(name for name, unit in headings(way) if unit and known(unit)))
            for name in names:
                if (said := self.declared.get(heading_key(name))) is not None:
                    return said
        return None

    @classmethod
    def of(cls, study: Study, plan: Plan) -> Vocabulary:
        """Return the vocabulary of a study."""
        from trials.study import declared_columns  # a file of points needs no study

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
            declared_columns(study),
            frozenset(row.item.casefold() for row in plan.rows),
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
    number: int | None = None  # of the reading, where the heading ends with one
    clash: str = ""  # another unit that heading or units row gives than the one that is said of it


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
    unknown: tuple[tuple[int, str], ...] = ()  # headings that mean nothing here
    units: int | None = None  # row below or above the headings that gives their units
    no_units: Line | None = None  # row above them that might, but its units don't fit the columns
    again: tuple[tuple[int, int], ...] = ()  # a column, and a later one of the same: not read

    @property
    def understood(self) -> int:
        """How many headings are understood, the raw quantities counting most."""
        others = (self.reading, self.time, self.worked, self.note)
        return (
            1 + sum(i is not None for i in others) + len(self.groups) + 3 * len(self.raw)
        )  # the item's own column is always there


def layout_of(sheet: Sheet, words: Vocabulary, *, guess: bool = False) -> Layout | None:
    """Return what the columns of a sheet are, or None where it has no heading row.

    The heading row is the first that names the item and at least one other thing; with ``guess``
    also one that only looks like a raw quantity.
    """
    above: list[tuple[str, str]] = []
    groups = dict(words.groups)
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        names = [same_name(cell.text) for cell in line.cells]
        at = item_column(line, words)
        if at is not None and sum(bool(cell.text) for cell in line.cells) > 1:
            layout = _with_checked(_mapped(line, at, words), sheet.lines[place + 1 :], words)
            likely = guess and any(
                likely_quantities(text, words.columns)[0] for _, text in layout.unknown
            )
            if layout.understood > 1 or likely:
                return _with_units_beside(replace(layout, above=tuple(above)), sheet, place)
        if names and names[0] in groups and line.at(1).text:
            above.append((groups[names[0]], line.at(1).text))
    return None


def with_item(sheet: Sheet, code: str, words: Vocabulary) -> Sheet:
    """Return a sheet whose lines all belong to one item, with a column that says so.

    For a file that is named after its item. As it is where no line names one of the raw quantities.
    """
    for place, line in enumerate(sheet.lines[:SEARCHED]):
        if any(heading_of(c.text, i, words.columns) for i, c in enumerate(line.cells) if c.text):
            head = replace(line, cells=(Raw(ITEM_NAMES[0]), *line.cells))
            below = [
                line if line.empty else replace(line, cells=(Raw(code), *line.cells))
                for line in sheet.lines[place + 1 :]
            ]
            return replace(sheet, lines=(*sheet.lines[:place], head, *below))
    return sheet


def item_column(line: Line, words: Vocabulary) -> int | None:
    """Return which cell of a row heads the items; what [columns] says comes first."""
    said = [words.meaning(cell.text) if cell.text else None for cell in line.cells]
    for index, meaning in enumerate(said):
        if meaning is not None and meaning.kind == "item":
            return index
    return next(
        (
            index
            for index, cell in enumerate(line.cells)
            if same_name(cell.text) in words.items and said[index] is None
        ),
        None,
    )


def _mapped(line: Line, item: int, words: Vocabulary) -> Layout:
    taken: dict[str, int] = {"item": item}
    again: list[tuple[int, int]] = []
    raw: list[Heading] = []
    groups: list[tuple[int, str]] = []
    unknown: list[tuple[int, str]] = []
    for index, cell in enumerate(line.cells):
        if index == item or not cell.text:
            continue
        meaning = words.meaning(cell.text) or _usual(cell.text, words)
        heading = None
        if meaning is None or meaning.kind == "quantity":
            heading = heading_of(cell.text, index, words.columns, meaning)
        if heading is not None:
            raw.append(heading)
        elif meaning is None:
            unknown.append((index, cell.text))
        elif meaning.kind == "group":
            groups.append((index, meaning.name))
        elif meaning.kind in taken:
            again.append((taken[meaning.kind], index))
        elif meaning.kind != "nothing":
            taken[meaning.kind] = index
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
        again=tuple(again),
    )


def _with_checked(layout: Layout, lines: Sequence[Line], words: Vocabulary) -> Layout:
    """Take headings for the number of the reading or the time, if what is below them agrees."""
    for index, text in layout.unknown:
        kind = _CHECKED.get(heading_key(text))
        if kind is None or getattr(layout, kind) is not None:
            continue
        below = [line for line in lines if not is_missing(line.at(index).text)]
        if kind == "reading":
            agrees = all(h.number is None for h in layout.raw)
            agrees = agrees and _count_readings(below, layout.item, index, words.codes)
        else:
            times = sum(moment(line.at(index).text).minutes is not None for line in below)
            agrees = 2 * times > len(below)
        if agrees:
            rest = tuple(one for one in layout.unknown if one[0] != index)
            layout = (
                replace(layout, unknown=rest, reading=index)
                if kind == "reading"
                else replace(layout, unknown=rest, time=index)
            )
    return layout


def _count_readings(lines: Sequence[Line], item: int, index: int, codes: frozenset[str]) -> bool:
    """Return whether numbers begin anew with each item: no team, no number of the line."""
    counted: dict[str, list[str]] = {}
    mine = ""
    for line in lines:
        mine = line.at(item).text.casefold() or mine
        if mine in codes:
            counted.setdefault(mine, []).append(line.at(index).text)
    most = max(map(len, counted.values()), default=0)
    known_numbers = {str(number) for number in range(1, most + 1)}
    return bool(counted) and all(
        len(set(said)) == len(said) and known_numbers.issuperset(said) for said in counted.values()
    )


def kind_notes(layout: Layout) -> list[str]:
    """Return a sentence on each heading that was taken for what stands below it."""
    kinds = ((layout.reading, "the number of the reading"), (layout.time, "the time"))
    return [
        f"'{text}' was read as {what}."
        for index, what in kinds
        if index is not None and heading_key(text := layout.line.at(index).text) in _CHECKED
    ]


def _usual(text: str, words: Vocabulary) -> Meaning | None:
    """Return what a heading means everywhere; a raw quantity goes before all but 'reading'."""
    name = same_name(text)
    if name in _USUAL and (_USUAL[name] == "reading" or heading_of(text, 0, words.columns) is None):
        return Meaning(_USUAL[name])
    group = dict(words.groups).get(name)
    if group is not None and heading_of(text, 0, words.columns) is None:
        return Meaning("group", group)
    return None


_KINDS: Mapping[Kind, tuple[str, ...]] = {
    "reading": READING_NAMES,
    "time": TIME_NAMES,
    "worked": WORKED_NAMES,
    "note": NOTE_NAMES,
}
_USUAL: Mapping[str, Kind] = {
    same_name(name): kind for kind, names in _KINDS.items() for name in names
}
_CHECKED: Mapping[str, Literal["reading", "time"]] = {
    **{heading_key(name): "reading" for name in CHECKED_READINGS},
    **{heading_key(name): "time" for name in CHECKED_TIMES},
}


def heading_of(
    text: str, index: int, columns: Sequence[Column], meaning: Meaning | None = None
) -> Heading | None:
    """Return the raw quantity that a heading names, with its unit; None if it names none.

    Parameters
    ----------
    meaning : the quantity that study.toml says it is, if it does.

    Examples
    --------
    >>> columns = (Column("light", "W/m^2"), Column("current", "mA", aliases=("I",)))
    >>> heading_of("i_uA", 2, columns)
    Heading(index=2, column=Column(name='current', ...), unit='uA', stated=True, fits=True, ...)
    >>> heading_of("current 2 (mA)", 3, columns).number
    2
    """
    numbered = numbered_heading(text)
    if meaning is not None:
        column = next(column for column in columns if column.name == meaning.name)
        own = unit_at_end(text) or ""
        given = meaning.unit or own or None
        heading = _heading(index, column, given, text, numbered[1] if numbered else None)
        return _with_clash(heading, own)
    for way, number in ((text, None), *([numbered] if numbered else [])):
        for name, unit in headings(way):
            if (unit or "").isdigit():  # a number of a reading, no unit
                continue
            for column in columns:
                known_as = (*quantity_names(column.name), *column.aliases)
                names = {same_name(known) for known in known_as}
                if same_name(name) in names:
                    return _heading(index, column, unit, text, number)
    return None


def _heading(
    index: int, column: Column, unit: str | None, text: str, number: int | None
) -> Heading:
    if unit is None or (not unit and not column.unit):
        return Heading(index, column, column.unit, False, True, text, number)
    fits = same(unit, column.unit) or convertible(unit, column.unit)
    return Heading(index, column, unit, True, fits, text, number)


def _with_clash(heading: Heading, unit: str) -> Heading:
    """Return a heading that is known to be given two units, if these are not the same."""
    differs = heading.stated and not same(unit, "") and not same(unit, heading.unit)
    return replace(heading, clash=unit) if differs else heading


def _with_units_beside(layout: Layout, sheet: Sheet, place: int) -> Layout:
    """Take the units from the row below or above the headings, where it holds nothing else."""
    below = next((line for line in sheet.lines[place + 1 :] if not line.empty), None)
    above = next((line for line in reversed(sheet.lines[:place]) if not line.empty), None)
    for line in (below, above):
        found = None if line is None else _with_units(layout, line)
        if found is None:
            continue
        pairs = zip(found.raw, layout.raw, strict=True)
        if line is above and not all(one.fits for one, before in pairs if one is not before):
            return replace(layout, no_units=above)  # letters of teams stand there as well
        return found
    return layout


def _with_units(layout: Layout, line: Line) -> Layout | None:
    """Return the columns with the units of a row; None where it is no row of units."""
    units = {same_name(name) for name in UNIT_NAMES}
    said = line.at(layout.item).text
    if same_name(said) not in ("", *units) and said[:1] not in "([":
        return None
    units_of = {h.index: line.at(h.index).text.strip("()[] ") for h in layout.raw}
    raw = [
        _heading(h.index, h.column, units_of[h.index], h.text, h.number)
        if units_of[h.index] and not h.stated
        else h
        for h in layout.raw
    ]
    told = [one.unit for one, before in zip(raw, layout.raw, strict=True) if one is not before]
    if not told or not all(unit and known(unit) for unit in told):
        return None
    if all(numeral(unit) is not None for unit in told):
        return None  # 1 is a unit too, but a row of nothing else is a reading without its code
    clashing = [
        _with_clash(one, units_of[one.index]) if one.stated and known(units_of[one.index]) else one
        for one in raw
    ]
    return replace(layout, raw=tuple(clashing), units=line.number)


def refuse_without_headings(
    found: str, words: Vocabulary, where: str, hint: tuple[str, str] = ("", "")
) -> IngestError:
    """Return the error for a file without a heading row.

    Parameters
    ----------
    hint : the column that likely holds the items, and what to do about it.
    """
    raw = ", ".join(f"'{column.header}'" for column in words.columns)
    return IngestError(
        "It isn't said which column holds the items." if hint[0] else "No heading row was found.",
        code="ingest.no_item_column" if hint[0] else "ingest.no_headings",
        where=where,
        found=hint[0] or found[:200] or "no text",
        allowed=f"a row of headings with 'item' and at least one of {raw}",
        do=hint[1]
        or "Put the headings above the numbers, one column for each, and collect it again.",
    )


def refuse_columns(layout: Layout, words: Vocabulary, where: str, *, asked: bool) -> None:
    """Refuse a table in which no raw quantity, or one of them twice, has a column.

    Parameters
    ----------
    asked : whether one of the other headings may be a raw quantity.

    Raises
    ------
    IngestError : it is so.
    """
    raw = ", ".join(f"'{column.header}'" for column in words.columns)
    if not layout.raw and not asked and layout.worked is None and layout.note is None:
        raise IngestError(
            "None of the columns is one of this study.",
            code="ingest.no_columns",
            where=where,
            found=", ".join(f"'{name}'" for _, name in layout.unknown) or "only items",
            allowed=raw,
            do="Give the columns these headings, with the unit in brackets.",
        )
    _refuse_clash(layout, where)
    seen: dict[tuple[str, int], str] = {}
    for part in side_by_side(layout):
        for heading in part.raw:
            key = (heading.column.name, part.number)
            if layout.reading is not None and part.number and heading.number is not None:
                raise IngestError(
                    "The readings are numbered twice: in a column, and behind the headings.",
                    code="ingest.column_twice",
                    where=where,
                    found=f"'{layout.line.at(layout.reading).text}' and '{heading.text}'",
                    allowed="a column with the number of the reading, or numbers behind headings",
                    do="Keep one of the two and collect it again.",
                )
            if key in seen:
                raise IngestError(
                    "Two columns are the same quantity.",
                    code="ingest.column_twice",
                    where=where,
                    found=f"'{seen[key]}' and '{heading.text}'",
                    allowed="one column for each quantity and one row for each reading; or several "
                    "readings side by side, with a number behind each heading",
                    do="If they are several readings, number the headings, such as "
                    f"'{heading.column.name} 1' and '{heading.column.name} 2'; else delete one.",
                )
            seen[key] = heading.text


def _refuse_clash(layout: Layout, where: str) -> None:
    """Refuse a heading whose numbers are said to be in two units."""
    for heading in layout.raw:
        if not heading.clash:
            continue
        meant = f"{heading.column.name} ({nice(heading.clash)})"
        raise IngestError(
            "Two units are given for the numbers of one column.",
            code="ingest.two_units",
            where=where,
            found=f"{nice(heading.unit)} and {nice(heading.clash)}, for '{heading.text}'",
            allowed="one unit for each column",
            do="See which one is right. Where the line under [columns] in study.toml is wrong, "
            f"correct it to '{meant}', or leave the unit out of it; else correct the unit in the "
            "file. Then collect it again.",
        )


@dataclass(frozen=True)
class Part:
    """The raw quantities of one reading in a row; ``number`` 0: the row is one reading."""

    raw: tuple[Heading, ...]
    number: int = 0


def side_by_side(layout: Layout) -> tuple[Part, ...]:
    """Return the readings that stand side by side in one row, by their numbers.

    A heading without a number belongs to the first of them.
    """
    names = [heading.column.name for heading in layout.raw]
    if len(set(names)) == len(names):
        return (Part(layout.raw),)
    numbers = sorted({heading.number or 1 for heading in layout.raw})
    return tuple(
        Part(tuple(h for h in layout.raw if (h.number or 1) == number), number)
        for number in numbers
    )


def side_note(layout: Layout) -> str:
    """Return a sentence on readings side by side, empty where there are none."""
    parts = side_by_side(layout)
    if len(parts) < 2:
        return ""
    name = next(h.column.name for h in parts[-1].raw)
    told = [h.text for part in parts for h in part.raw if h.column.name == name]
    numbers = [str(part.number) for part in parts if any(h.column.name == name for h in part.raw)]
    return (
        f"Several readings stand side by side in each row: {_listed(told)} were read as readings "
        f"{', '.join(numbers)}."
    )


def _listed(texts: Sequence[str]) -> str:
    return ", ".join(f"'{text}'" for text in texts)


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
    if layout.units is not None:
        where = "below" if layout.units > layout.line.number else "above"
        notes.append(f"The units stand in row {layout.units}, {where} the headings.")
    if layout.no_units is not None:
        texts = [cell.text for cell in layout.no_units.cells if cell.text]
        notes.append(
            f"Row {layout.no_units.number}, above the headings, was not taken for units, as not "
            f"all of {_listed(texts)} are units of the columns below. If they are meant so, write "
            "each unit in brackets behind its heading."
        )
    return notes
